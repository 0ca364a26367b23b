import { parentPort, workerData } from "node:worker_threads";
import type { TargetRun } from "./target.ts";
import { allTargets } from "./targets.ts";

export interface WorkerOrder {
  readonly cases: number;
  readonly seed: number;
  readonly target: string | null;
  readonly path: string | null;
  /** The input that is being read, as JSON. */
  readonly shown: SharedArrayBuffer;
  /** Cases begun so far, and how many bytes the input has. */
  readonly beat: SharedArrayBuffer;
}

export interface FromWorker {
  readonly text: string;
  readonly exitCode?: number;
}

export const SHOWN_BYTES = 200_000;

async function run(order: WorkerOrder, tell: (message: FromWorker) => void): Promise<void> {
  const shown = new Uint8Array(order.shown);
  const beat = new Int32Array(order.beat);
  const encoder = new TextEncoder();
  const targets = (await allTargets()).filter(({ name }) => order.target === null || name === order.target);
  if (targets.length === 0) {
    const names = (await allTargets()).map(({ name }) => `"${name}"`).join(", ");
    return tell({ text: `There is no such target; there are: ${names}.`, exitCode: 2 });
  }
  const shares = targets.reduce((sum, { share }) => sum + share, 0);
  let cases = 0;
  let failed = 0;
  for (const { name, share, run } of targets) {
    let slowest_ms = 0;
    let begun = 0;
    const settle = () => {
      if (begun > 0) slowest_ms = Math.max(slowest_ms, performance.now() - begun);
    };
    const seen = (input: unknown) => {
      settle();
      const { written } = encoder.encodeInto(JSON.stringify(input), shown);
      Atomics.store(beat, 1, written);
      Atomics.add(beat, 0, 1);
      begun = performance.now();
    };
    const numRuns = Math.max(1, Math.round((order.cases * share) / shares));
    const options = { seed: order.seed, numRuns, ...(order.path !== null && { path: order.path }) };
    const ran = await run(options, seen);
    settle();
    cases += ran.details.numRuns;
    if (ran.details.failed || isShallow(ran)) failed++;
    tell({ text: reported(name, ran, slowest_ms) });
  }
  const text = `${cases} cases over ${targets.length} readers, seed ${order.seed}: ${failed === 0 ? "all well" : `${failed} readers failed`}`;
  tell({ text, exitCode: failed === 0 ? 0 : 1 });
}

const MANY = 300;

/** Of many inputs made of valid ones not one was taken: then they were not valid. */
function isShallow({ details, taken }: TargetRun): boolean {
  return !details.failed && details.numRuns >= MANY && taken === 0;
}

function reported(name: string, ran: TargetRun, slowest_ms: number): string {
  const { details, taken } = ran;
  const { numRuns, failed, seed, counterexamplePath, counterexample, errorInstance, numShrinks } = details;
  const counts = `${String(numRuns).padStart(8)} cases, ${String(taken).padStart(7)} taken as good`;
  const line = `${name.padEnd(26)} ${counts}, slowest ${slowest_ms.toFixed(1)} ms`;
  if (isShallow(ran)) return `${line}  FAILED: the texts it starts from are no good ones any more`;
  if (!failed) return line;
  const why = errorInstance instanceof Error ? errorInstance.message : String(errorInstance);
  return [
    `${line}  FAILED`,
    `  again: npm run fuzz -- --target "${name}" --seed ${seed} --path "${counterexamplePath}" --cases 1`,
    `  shrunk ${numShrinks} times to ${JSON.stringify(counterexample).slice(0, 4000)}`,
    `  ${why.slice(0, 4000)}`,
  ].join("\n");
}

if (parentPort) {
  const port = parentPort;
  await run(workerData as WorkerOrder, (message) => port.postMessage(message));
}
