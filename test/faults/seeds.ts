import { CampaignStations } from "./campaign-station.ts";
import type { Stress } from "./fault-plan.ts";
import { runShift } from "./run-shift.ts";
import type { ShiftResult } from "./shift.ts";

export interface SeedRange {
  readonly first: number;
  readonly seeds: number;
  /** From one to the next; others run those between. */
  readonly step?: number;
  readonly stress?: Stress | undefined;
}

/** Runs one seed after the other in this process; what no promise caught while one ran is a violation of that seed. */
export async function runSeeds(
  { first, seeds, step = 1, stress }: SeedRange,
  took: (result: ShiftResult) => "go on" | "enough",
): Promise<void> {
  const stations = new CampaignStations();
  let uncaught: unknown[] = [];
  const keep = (error: unknown) => {
    uncaught.push(error);
  };
  process.on("unhandledRejection", keep);
  process.on("uncaughtException", keep);
  try {
    for (let seed = first; seed < first + seeds; seed += step) {
      uncaught = [];
      const result = await runShift(seed, stations, stress);
      const faults = uncaught.map((error) => ({ invariant: "program fault" as const, text: textOf(error) }));
      const all = { ...result, violations: [...result.violations, ...faults] };
      if (took(all) === "enough") return;
    }
  } finally {
    process.off("unhandledRejection", keep);
    process.off("uncaughtException", keep);
    stations.remove();
  }
}

function textOf(error: unknown): string {
  return error instanceof Error ? (error.stack ?? error.message) : String(error);
}
