import type { GaugeReading } from "../../quality/measurement-system/crossed-study.ts";
import { referenceReadings } from "../../study-data/reference-readings.ts";
import { type RecordsArguments, recordsQueryOf } from "./records-options.ts";

export interface RecordedReadings {
  readonly readings: readonly GaugeReading[];
  readonly unit: string;
  readonly subject: string;
  readonly source: string;
  readonly notes: readonly string[];
}

/**
 * A crossed study out of reference checks: pieces by inspectors by repeats. Where some inspectors checked a piece more often
 * than others did, each one's newest checks are taken, as many as everybody has.
 * @throws UsageError, RecordError with what to do
 */
export async function gaugeReadingsFromRecords(args: RecordsArguments): Promise<RecordedReadings> {
  const found = await referenceReadings(await recordsQueryOf(args));
  const cells = new Map<string, (typeof found.readings)[number][]>();
  for (const reading of found.readings) {
    const key = JSON.stringify([reading.piece, reading.inspector]);
    cells.set(key, [...(cells.get(key) ?? []), reading]);
  }
  const trials = Math.min(...[...cells.values()].map((cell) => cell.length));
  const kept = [...cells.values()].flatMap((cell) =>
    cell.slice(-trials).map(({ piece, inspector, value, at }, k) => ({
      part: piece,
      appraiser: inspector,
      trial: String(k + 1),
      value,
      place: `the check of ${piece} at ${at}`,
    })),
  );
  const left = found.readings.length - kept.length;
  return {
    ...found,
    readings: kept,
    notes: [
      ...found.notes,
      ...(left > 0
        ? [
            `${left} older checks were left out: each inspector's newest ${trials} of each piece are taken, as many as everybody has.`,
          ]
        : []),
      "Reference checks are not a planned study: nobody chose their order at random, and inspectors saw the values.",
    ],
  };
}
