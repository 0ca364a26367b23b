import { DIMENSION_OF } from "../../limits/measurand.ts";
import { convert, quoted } from "../../limits/quantity.ts";
import { UsageError } from "../explain.ts";
import { travellersOf } from "../records/model-travellers.ts";
import { measuredIn, type RecordsQuery, shiftOf } from "./record-asked.ts";

/** What the station has measured on a reference piece; values in the unit of the first one's certificate. */
export interface ReferenceReading {
  readonly piece: string;
  readonly value: number;
  readonly certified: number;
  /** Half width: the piece conforms within certified +- tolerance. */
  readonly tolerance: number;
  /** Who was signed in; "nobody" where sign-in was off. */
  readonly inspector: string;
  /** When the attempt began, ISO 8601. */
  readonly at: string;
}

export interface ReferenceReadings {
  /** In the order of recording. */
  readonly readings: readonly ReferenceReading[];
  readonly unit: string;
  readonly subject: string;
  readonly source: string;
  readonly notes: readonly string[];
}

export type ReferenceQuery = Pick<
  RecordsQuery,
  "folder" | "model" | "characteristic" | "from" | "to" | "shift" | "shifts"
> & {
  /** Only this one. */
  readonly piece?: string | undefined;
};

/**
 * Valid attempts on reference pieces, from travellers that are as they were recorded.
 * @throws UsageError where there is none; RecordError where the folder can't be read
 */
export async function referenceReadings(query: ReferenceQuery): Promise<ReferenceReadings> {
  const { folder, model, characteristic, from, to, shift, shifts, piece } = query;
  const readings: ReferenceReading[] = [];
  const pieces = new Set<string>();
  let unit: string | undefined;
  let [withoutValue, broken, simulated] = [0, 0, 0];
  const days = { ...(from === undefined ? {} : { from }), ...(to === undefined ? {} : { to }) };
  for await (const found of travellersOf(folder, { model, ...days })) {
    if (found.kind === "broken") {
      broken++;
      continue;
    }
    const { reference, started_at, who, station, verdict } = found.traveller;
    const measured = measuredIn(found.traveller, characteristic);
    if (!reference || !measured) continue;
    if (shift !== undefined && shiftOf(started_at, shifts) !== shift) continue;
    pieces.add(reference.piece);
    if (piece !== undefined && reference.piece !== piece) continue;
    if (reference.measured === null || verdict === "void") {
      withoutValue++;
      continue;
    }
    unit ??= reference.unit;
    const first = unit;
    const inUnit = (value: number) =>
      reference.unit === first
        ? value
        : convert(value, reference.unit, first, DIMENSION_OF[measured.measurand]);
    if (station.simulated) simulated++;
    readings.push({
      piece: reference.piece,
      value: inUnit(reference.measured),
      certified: inUnit(reference.certified_value),
      tolerance: inUnit(reference.tolerance),
      inspector: who.inspector ?? "nobody",
      at: started_at,
    });
  }
  if (unit === undefined) {
    const known = pieces.size === 0 ? "" : ` It has ${[...pieces].sort().join(", ")}.`;
    throw new UsageError(
      `No valid attempt on a reference piece for ${quoted(characteristic)} of ${quoted(model)} in ${folder}: check folder, model, days and piece.${known}`,
    );
  }
  return {
    readings,
    unit,
    subject: `${characteristic.replaceAll("_", " ")} of ${model} on reference pieces`,
    source: [
      `reference checks in ${folder}`,
      ...(from === undefined ? [] : [`from ${from}`]),
      ...(to === undefined ? [] : [`to ${to}`]),
      ...(shift === undefined ? [] : [`shift ${shift}`]),
    ].join(", "),
    notes: [
      ...(withoutValue > 0
        ? [`${withoutValue} attempts on reference pieces have no valid value and were left out.`]
        : []),
      ...(broken > 0
        ? [`${broken} travellers are not as they were recorded and were left out. Tell the quality engineer.`]
        : []),
      ...(simulated > 0
        ? [`SIMULATED: ${simulated} of ${readings.length} values are of simulated stations.`]
        : []),
    ],
  };
}
