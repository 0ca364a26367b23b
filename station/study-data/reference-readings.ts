import { DIMENSION_OF } from "../../limits/measurand.ts";
import { convert, quoted } from "../../limits/quantity.ts";
import { UsageError } from "../explain.ts";
import { travellersOf } from "../records/model-travellers.ts";
import type { Traveller } from "../records/traveller.ts";
import { Provenance } from "./provenance.ts";
import { Calendar, placeIn, type RecordsQuery } from "./record-asked.ts";

/** What the station has measured on a reference piece; all in the unit that the first one's limits have. */
export interface ReferenceReading {
  readonly piece: string;
  readonly value: number;
  readonly certified: number;
  /** Half width: the piece conforms within certified +- tolerance. */
  readonly tolerance: number;
  /** Who was signed in; "nobody" where sign-in was off. */
  readonly inspector: string;
  readonly station: string;
  /** When the attempt began, ISO 8601. */
  readonly at: string;
}

export interface ReferenceReadings {
  /** In the order of recording. */
  readonly readings: readonly ReferenceReading[];
  readonly unit: string;
  /** The characteristic's name in the limit file. */
  readonly name: string;
  readonly isLeakRate: boolean;
  readonly subject: string;
  readonly source: string;
  readonly notes: readonly string[];
}

export type ReferenceQuery = Pick<
  RecordsQuery,
  "folder" | "model" | "characteristic" | "from" | "to" | "shift" | "shifts"
> &
  Partial<Pick<RecordsQuery, "at" | "withDrafts">> & {
    /** Only this one. */
    readonly piece?: string | undefined;
  };

/**
 * Valid attempts on reference pieces, from travellers that are as they were recorded.
 * @throws UsageError where there is none; RecordError where the folder can't be read
 */
export async function referenceReadings(query: ReferenceQuery): Promise<ReferenceReadings> {
  const { folder, model, characteristic, from, to, shift, at, piece } = query;
  const calendar = new Calendar(query.shifts);
  const readings: ReferenceReading[] = [];
  const pieces = new Set<string>();
  const provenance = new Provenance();
  let told: { readonly name: string; readonly unit: string; readonly isLeakRate: boolean } | undefined;
  let [withoutValue, drafts, studied, broken, simulated] = [0, 0, 0, 0, 0];
  const days = { ...(from === undefined ? {} : { from }), ...(to === undefined ? {} : { to }) };
  for await (const found of travellersOf(folder, { model, recordKind: "reference", ...days })) {
    if (found.kind === "broken") {
      broken++;
      continue;
    }
    const { reference, started_at, station, verdict, draft, study } = found.traveller;
    const measured = measuredIn(found.traveller, characteristic);
    if (!reference || !measured) continue;
    if (at !== undefined && station.name !== at) continue;
    if (shift !== undefined && calendar.shiftOf(Date.parse(started_at)) !== shift) continue;
    pieces.add(reference.piece);
    if (piece !== undefined && reference.piece !== piece) continue;
    if (study) {
      studied++;
      continue;
    }
    if (draft && query.withDrafts !== true) {
      drafts++;
      continue;
    }
    if (reference.measured === null || verdict === "void") {
      withoutValue++;
      continue;
    }
    told ??= {
      name: measured.name,
      unit: measured.unit,
      isLeakRate: measured.measurand === "leak_rate",
    };
    const { unit } = told;
    const inUnit = (value: number) =>
      reference.unit === unit
        ? value
        : convert(value, reference.unit, unit, DIMENSION_OF[measured.measurand]);
    if (station.simulated) simulated++;
    provenance.take({
      started_ms: Date.parse(started_at),
      station: station.name,
      revision: found.traveller.limit_file.revision,
    });
    readings.push(readingOf(found.traveller, reference, inUnit));
  }
  if (told === undefined) {
    const known = pieces.size === 0 ? "" : ` It has ${[...pieces].sort().join(", ")}.`;
    const left = drafts > 0 ? ` ${drafts} were on draft limits (--drafts takes them, too).` : "";
    throw new UsageError(
      `No valid attempt on ${piece === undefined ? "a reference piece" : quoted(piece)} for ${quoted(characteristic)} of ${quoted(model)} in ${folder}: check folder, model, days and piece.${known}${left}`,
    );
  }
  return {
    readings,
    ...told,
    subject: `${told.name} of ${model} on ${piece ?? "reference pieces"}`,
    source: [
      `reference checks in ${folder}${from === undefined ? "" : ` from ${from}`}${to === undefined ? "" : ` to ${to}`}`,
      ...provenance.words(),
      ...(shift === undefined ? [] : [`shift ${shift}`]),
    ].join(", "),
    notes: [
      ...(withoutValue > 0
        ? [`${withoutValue} attempts on reference pieces have no valid value and were left out.`]
        : []),
      ...(studied > 0
        ? [`${studied} attempts on reference pieces were for planned studies and were left out.`]
        : []),
      ...(drafts > 0
        ? [
            `${drafts} attempts on reference pieces were on draft limits and were left out (--drafts takes them, too).`,
          ]
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

type Measured = Traveller["characteristics"][number];

function measuredIn({ characteristics }: Traveller, asked: string): Measured | undefined {
  return characteristics[placeIn(characteristics, asked)];
}

function readingOf(
  { started_at, who, station }: Traveller,
  reference: NonNullable<Traveller["reference"]>,
  inUnit: (value: number) => number,
): ReferenceReading {
  return {
    piece: reference.piece,
    value: inUnit(reference.measured ?? Number.NaN),
    certified: inUnit(reference.certified_value),
    tolerance: inUnit(reference.tolerance),
    inspector: who.inspector ?? "nobody",
    station: station.name,
    at: started_at,
  };
}
