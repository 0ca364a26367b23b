import { spawnSync } from "node:child_process";
import { performance } from "node:perf_hooks";
import { type Figure, median } from "./figure.ts";

const RUNS = 15;

/** `drumtight --help` against `node -e 0`: whole processes, in turn, medians. */
export async function startUpBench(): Promise<Figure[]> {
  const help_ms: number[] = [];
  const bare_ms: number[] = [];
  for (let run = 0; run < RUNS; run++) {
    bare_ms.push(timed(["-e", "0"]));
    help_ms.push(timed(["dist/station/main.js", "--help"]));
  }
  const value = median(help_ms);
  const ratio = value / median(bare_ms);
  return [
    {
      bench: "start-up",
      figure: "drumtight --help, median",
      value,
      unit: "ms",
      against: "node -e 0",
      ratio,
      reach: "<= 3",
      met: ratio <= 3,
    },
  ];
}

function timed(args: readonly string[]): number {
  const start_ms = performance.now();
  const { status } = spawnSync(process.execPath, args, { stdio: "ignore" });
  if (status !== 0) throw new Error(`node ${args.join(" ")} ended with ${status}.`);
  return performance.now() - start_ms;
}
