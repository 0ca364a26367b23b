import type { Reason } from "./cycle/reason.ts";
import type { DecayBench, DecayOrder, DecayRun } from "./watch-decay.ts";

export interface RunsOrder extends DecayOrder {
  readonly runs: number;
  /** The body rests this long before each run, vented: the gas must be at the wall's temperature again. */
  readonly rest_s: number;
}

export type RunsWatched =
  | { readonly kind: "watched"; readonly runs: readonly DecayRun[] }
  | { readonly kind: "stopped"; readonly reasons: readonly Reason[] };

/**
 * Several runs on the body that is mounted. The first that can't be trusted ends them all.
 * @param ran told of each run as it ends, counted from 1
 */
export async function watchRuns(
  bench: DecayBench,
  order: RunsOrder,
  ran: (run: DecayRun, number: number) => void,
): Promise<RunsWatched> {
  const runs: DecayRun[] = [];
  while (runs.length < order.runs) {
    await bench.rest(order.rest_s);
    const watched = await bench.watch(order);
    if (watched.kind === "stopped") return watched;
    runs.push(watched.run);
    ran(watched.run, runs.length);
  }
  return { kind: "watched", runs };
}
