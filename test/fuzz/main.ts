import { Worker } from "node:worker_threads";
import { type FromWorker, SHOWN_BYTES, type WorkerOrder } from "./worker.ts";

const USAGE =
  "npm run fuzz -- [--cases N] [--seed N] [--target NAME] [--path PATH]   (PATH: as a failure prints it)\n";
/** A case that takes longer hangs, as far as a person at a station is concerned. */
const LONGEST_CASE_s = 60;

interface Order {
  readonly cases: number;
  readonly seed: number;
  readonly target: string | null;
  readonly path: string | null;
}

function ordered(args: readonly string[]): Order | null {
  const given = new Map<string, string>();
  for (let i = 0; i < args.length; i += 2) {
    const [name, value] = [args[i] ?? "", args[i + 1]];
    if (!["--cases", "--seed", "--target", "--path"].includes(name) || value === undefined) return null;
    given.set(name, value);
  }
  const cases = Number(given.get("--cases") ?? 1_000_000);
  const seed = Number(given.get("--seed") ?? 1);
  if (!Number.isSafeInteger(cases) || cases < 1 || !Number.isSafeInteger(seed)) return null;
  return { cases, seed, target: given.get("--target") ?? null, path: given.get("--path") ?? null };
}

/** Cases run in a thread of their own: one that hangs can still be named from here. */
function campaign(order: WorkerOrder): Promise<number> {
  return new Promise((resolve) => {
    const shown = new Uint8Array(order.shown);
    const beat = new Int32Array(order.beat);
    const worker = new Worker(new URL(import.meta.resolve("./worker.js")), { workerData: order });
    let last = -1;
    const watchdog = setInterval(() => {
      const now = Atomics.load(beat, 0);
      if (now === last) {
        const text = new TextDecoder().decode(shown.slice(0, Atomics.load(beat, 1)));
        process.stdout.write(`HANGS for more than ${LONGEST_CASE_s} s on ${text}\n`);
        void worker.terminate();
        resolve(1);
      }
      last = now;
    }, LONGEST_CASE_s * 1000);
    const end = (code: number) => {
      clearInterval(watchdog);
      resolve(code);
    };
    worker.on("message", (message: FromWorker) => {
      process.stdout.write(`${message.text}\n`);
      if (message.exitCode !== undefined) end(message.exitCode);
    });
    worker.on("error", (error) => {
      process.stdout.write(`${error instanceof Error ? error.stack : String(error)}\n`);
      end(1);
    });
  });
}

const given = process.argv.slice(2);
const order = ordered(given);
if (given.includes("--help") || given.includes("-h")) process.stdout.write(USAGE);
else if (order) {
  process.exitCode = await campaign({
    ...order,
    shown: new SharedArrayBuffer(SHOWN_BYTES),
    beat: new SharedArrayBuffer(8),
  });
} else {
  process.stderr.write(USAGE);
  process.exitCode = 2;
}
