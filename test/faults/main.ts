import { fork } from "node:child_process";
import { once } from "node:events";
import { fileURLToPath } from "node:url";
import { Command, InvalidArgumentError } from "@commander-js/extra-typings";
import { runMutants } from "./mutation.ts";
import { runSeeds } from "./seeds.ts";
import { addShift, addTally, emptyTally, failedText, riskOf, summaryText, type Tally } from "./tally.ts";

/** Failed seeds are printed up to so many. */
const PRINTED = 20;

interface Asked {
  readonly first: number;
  readonly seeds: number;
  readonly jobs: number;
  readonly verbose?: true | undefined;
}

async function runCampaign(asked: Asked): Promise<number> {
  const start_ms = performance.now();
  const tally = asked.jobs > 1 ? await inProcesses(asked) : await here(asked);
  const took_s = (performance.now() - start_ms) / 1000;
  tally.failed.sort((a, b) => a.seed - b.seed);
  for (const failed of tally.failed.slice(0, PRINTED)) process.stdout.write(failedText(failed));
  process.stdout.write(summaryText(tally, took_s));
  return tally.failed.length === 0 && riskOf(tally).isKept ? 0 : 1;
}

async function here({ first, seeds, verbose }: Asked): Promise<Tally> {
  const tally = emptyTally();
  await runSeeds({ first, seeds }, (result) => {
    if (verbose) process.stdout.write(`seed ${result.seed}\n${result.story.join("\n")}\n`);
    addShift(tally, result);
    return "go on";
  });
  return tally;
}

/** The seeds dealt out to processes of their own, one each for so many at a time. */
async function inProcesses({ first, seeds, jobs }: Asked): Promise<Tally> {
  const tally = emptyTally();
  const dealt = Array.from({ length: Math.min(jobs, seeds) }, (_, k) => k);
  await Promise.all(
    dealt.map(async (k) => {
      const child = fork(fileURLToPath(import.meta.url), [
        "--worker",
        `${first + k}`,
        `${seeds - k}`,
        `${jobs}`,
      ]);
      const gone = once(child, "exit");
      const said: Tally[] = [];
      child.on("message", (message) => said.push(message as Tally));
      const [code] = await gone;
      const [part] = said;
      if (code !== 0 || !part) throw new Error(`A process of the campaign ended with ${code} and no result.`);
      addTally(tally, part);
    }),
  );
  return tally;
}

async function worker(first: number, seeds: number, step: number): Promise<void> {
  const tally = emptyTally();
  await runSeeds({ first, seeds, step }, (result) => {
    addShift(tally, result);
    return "go on";
  });
  process.send?.(tally);
}

function positive(text: string): number {
  const value = Number(text);
  if (!Number.isSafeInteger(value) || value < 1)
    throw new InvalidArgumentError("expected a whole number from 1 on.");
  return value;
}

async function main(args: readonly string[]): Promise<void> {
  if (args[0] === "--worker") {
    const [first = 1, seeds = 1, step = 1] = args.slice(1).map(Number);
    return worker(first, seeds, step);
  }
  const asked = new Command("faults")
    .description(
      "Runs whole shifts on virtual time with random faults of wires, instruments, I/O, plant, clock, disk and program, and checks after each what must always hold.",
    )
    .option("--seeds <number>", "how many shifts; of a mutant, how many at most", positive, 200)
    .option("--first <seed>", "the first one's seed", positive, 1)
    .option("--jobs <number>", "processes at a time", positive, 1)
    .option("--verbose", "print each shift's story, line by line")
    .option(
      "--mutants [names...]",
      "take the station's own safety checks away, one at a time: the campaign must notice",
    )
    .addHelpText(
      "after",
      "\nExample:\n  npm run faults -- --seeds 10000 --jobs 2\n  npm run faults -- --first 4711 --seeds 1 --verbose",
    )
    .parse([...args], { from: "user" })
    .opts();
  const { mutants } = asked;
  process.exitCode =
    mutants === undefined
      ? await runCampaign(asked)
      : await runMutants(mutants === true ? [] : mutants, asked);
}

await main(process.argv.slice(2));
