import type { StudyReport } from "../study-report.ts";
import type { Signal } from "./run-rules.ts";

/** One line of a table of signals. */
export interface SignalRow {
  readonly signal: Signal;
  /** How many signals it stands for. */
  readonly count: number;
  /** "55", or "29 to 46" where it stands for several. */
  readonly points: string;
  readonly sentence: string;
}

/**
 * Signals as somebody reads them: points that follow each other beyond the same side of the same chart are one line.
 * @param signals in the order of their points
 * @param noun what a point is: "point", "subgroup"
 * @example signalRows(eighteenAboveTheLimit, "point")[0].points // "29 to 46"
 */
export function signalRows(signals: readonly Signal[], noun: string): readonly SignalRow[] {
  const runs: Signal[][] = [];
  const open = new Map<string, Signal[]>();
  for (const signal of signals) {
    const { chart, beyond, index } = signal;
    const key = `${chart} ${beyond}`;
    const run = open.get(key);
    if (beyond !== undefined && run?.at(-1)?.index === index - 1) {
      run.push(signal);
      continue;
    }
    const begun = [signal];
    runs.push(begun);
    open.set(key, begun);
  }
  return runs.flatMap((run) => {
    const [signal] = run;
    const last = run.at(-1);
    if (!signal || !last) return [];
    if (run.length === 1)
      return [{ signal, count: 1, points: String(signal.index), sentence: signal.sentence }];
    const { chart, beyond, index } = signal;
    return [
      {
        signal,
        count: run.length,
        points: `${index} to ${last.index}`,
        sentence: `${noun.charAt(0).toUpperCase()}${noun.slice(1)}s ${index} to ${last.index} of the ${chart}, ${run.length} in a row, are ${beyond} their control limit.`,
      },
    ];
  });
}

/** How many signals a report has in its figures. */
export function signalsOf({ figures: { signals } }: StudyReport): number {
  return Array.isArray(signals) ? signals.length : 0;
}
