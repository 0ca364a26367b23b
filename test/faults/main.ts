import { fork } from "node:child_process";
import { once } from "node:events";
import { fileURLToPath } from "node:url";
import { Command, InvalidArgumentError } from "@commander-js/extra-typings";
import { CampaignReport } from "./campaign-report.ts";
import { runMutants } from "./mutation.ts";
import { runSeeds } from "./seeds.ts";
import { type Tally, tallyOf } from "./tally.ts";

interface Asked {
  readonly first: number;
  readonly seeds: number;
  readonly jobs: number;
  readonly verbose?: true | undefined;
}

async function runCampaign(asked: Asked): Promise<number> {
  const report = new CampaignReport(asked.seeds);
  const isWhole = await (asked.jobs > 1 ? inProcesses(asked, report) : here(asked, report));
  report.end();
  return isWhole && report.isGood ? 0 : 1;
}

async function here({ first, seeds, verbose }: Asked, report: CampaignReport): Promise<boolean> {
  await runSeeds({ first, seeds }, (result) => {
    if (verbose) process.stdout.write(`seed ${result.seed}\n${result.story.join("\n")}\n`);
    report.add(tallyOf(result));
    return "go on";
  });
  return true;
}

/**
 * The seeds dealt out to processes of their own, one each for so many at a time.
 * @returns whether all have run theirs
 */
async function inProcesses({ first, seeds, jobs }: Asked, report: CampaignReport): Promise<boolean> {
  const dealt = Array.from({ length: Math.min(jobs, seeds) }, (_, k) => k);
  const ended = await Promise.all(
    dealt.map(async (k) => {
      const child = fork(
        fileURLToPath(import.meta.url),
        ["--worker", `${first + k}`, `${seeds - k}`, `${jobs}`],
        { execArgv: [...process.execArgv, "--max-semi-space-size=32"] },
      );
      // The last messages may come after the exit.
      const gone = Promise.all([once(child, "exit"), once(child, "disconnect")]);
      child.on("message", (tally) => report.add(tally as Tally));
      const [[code, signal]] = await gone;
      if (code === 0) return true;
      process.stderr.write(
        `A process of the campaign ended with ${signal ?? code}: its other seeds were not run.\n`,
      );
      return false;
    }),
  );
  return ended.every(Boolean);
}

/** Each shift is told at once: what a run that is broken off has found is not lost. */
async function worker(first: number, seeds: number, step: number): Promise<void> {
  await runSeeds({ first, seeds, step }, (result) => {
    process.send?.(tallyOf(result));
    return "go on";
  });
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
