import { spawnSync } from "node:child_process";

export interface ProcessCost {
  readonly wall_s: number;
  /** Of the processor, user and system. */
  readonly cpu_s: number;
  readonly peak_MB: number;
}

/** What the system says of a child that has ended, which Node does not ask it for. Where python3 is a script, that had children of its own. */
const ASK = `
import json, resource, subprocess, sys, time
before = resource.getrusage(resource.RUSAGE_CHILDREN)
begin = time.perf_counter()
status = subprocess.run(sys.argv[1:], stdin=sys.stdin, stdout=subprocess.DEVNULL).returncode
wall = time.perf_counter() - begin
used = resource.getrusage(resource.RUSAGE_CHILDREN)
cpu = used.ru_utime + used.ru_stime - before.ru_utime - before.ru_stime
print(json.dumps([status, wall, cpu, used.ru_maxrss / 1024]))
`;

/** Runs a program to its end; what it prints is thrown away. @throws Error where it does not end with 0 */
export function costOf(command: readonly string[], input = ""): ProcessCost {
  const { stdout, stderr } = spawnSync("python3", ["-c", ASK, ...command], { encoding: "utf8", input });
  const [status, wall_s, cpu_s, peak_MB] = JSON.parse(stdout || "[null]") as number[];
  if (status !== 0 || wall_s === undefined || cpu_s === undefined || peak_MB === undefined) {
    throw new Error(`${command.join(" ")} ended with ${status}: ${stderr}`);
  }
  return { wall_s, cpu_s, peak_MB };
}

/** Programs run in turns; @returns of each the least of each cost, which is nearest to what it costs by itself */
export function leastCosts<Name extends string>(
  times: number,
  runs: Readonly<Record<Name, () => ProcessCost>>,
): Readonly<Record<Name, ProcessCost>> {
  const least = new Map<string, ProcessCost>();
  for (let k = 0; k < times; k++) {
    for (const [name, run] of Object.entries<() => ProcessCost>(runs)) {
      const cost = run();
      const before = least.get(name) ?? cost;
      least.set(name, {
        wall_s: Math.min(before.wall_s, cost.wall_s),
        cpu_s: Math.min(before.cpu_s, cost.cpu_s),
        peak_MB: Math.max(before.peak_MB, cost.peak_MB),
      });
    }
  }
  return Object.fromEntries(least) as Record<Name, ProcessCost>;
}
