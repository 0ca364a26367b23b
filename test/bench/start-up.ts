import { spawnSync } from "node:child_process";
import { PROGRAM } from "../program.ts";
import { atMost, type Bench, median } from "./figure.ts";

const RUNS = 21;

/**
 * How long a person waits for `drumtight --help`, against the bare Node that any program of it must start. Whole
 * processes, from spawn to end, the two taking turns; one of each first, for the disk's cache.
 */
export const startUp: Bench = async () => {
  const help = [PROGRAM, "--help"];
  const bare = ["-e", "0"];
  const help_ms: number[] = [];
  const bare_ms: number[] = [];
  wholeProcess_ms(help);
  wholeProcess_ms(bare);
  for (let k = 0; k < RUNS; k++) {
    help_ms.push(wholeProcess_ms(help));
    bare_ms.push(wholeProcess_ms(bare));
  }
  const [ours_ms, nodes_ms] = [median(help_ms), median(bare_ms)];
  return [
    atMost(3, {
      figure: `drumtight --help, median of ${RUNS}`,
      value: ours_ms,
      unit: "ms",
      against: `node -e 0, ${nodes_ms.toFixed(0)} ms`,
      ratio: ours_ms / nodes_ms,
    }),
  ];
};

function wholeProcess_ms(args: readonly string[]): number {
  const start_ms = performance.now();
  const { status, stderr } = spawnSync(process.execPath, args, { encoding: "utf8" });
  const took_ms = performance.now() - start_ms;
  if (status !== 0) throw new Error(`node ${args.join(" ")} ended with ${status}: ${stderr}`);
  return took_ms;
}
