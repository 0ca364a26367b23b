import { quoted } from "../../limits/quantity.ts";
import { UsageError } from "../explain.ts";
import type { Rating } from "../quality/measurement-system/rated-units.ts";
import { DecidedUnits, knownDecisions } from "../records/known-decisions.ts";
import { travellersOf } from "../records/model-travellers.ts";
import type { Traveller } from "../records/traveller.ts";
import { FirstTests } from "./first-tests.ts";
import { PartAsked } from "./part-asked.ts";
import { Provenance } from "./provenance.ts";
import { Calendar, placeIn } from "./record-asked.ts";
import type { TestsQuery } from "./recorded-tests.ts";

/** Verdicts on units that were tested more than once. */
export interface RecordedRatings {
  readonly ratings: readonly Rating[];
  readonly subject: string;
  readonly source: string;
  readonly notes: readonly string[];
}

export type RatingsQuery = Omit<TestsQuery, "attempts" | "by" | "per"> & {
  /** Verdicts on this one; on the whole unit where it is not given. */
  readonly characteristic?: string | undefined;
  readonly appraiser: "inspector" | "station";
};

/**
 * Every valid, trusted verdict on units of a model that were tested twice or more. A reworked unit is another one.
 * @throws UsageError where no unit was; RecordError where the folder can't be read
 */
export async function recordedRatings(query: RatingsQuery): Promise<RecordedRatings> {
  const { folder, model, from, to, characteristic, appraiser } = query;
  const decisions = await knownDecisions(folder);
  const decided = new DecidedUnits(decisions);
  const first = new FirstTests(decisions.held.untrusted);
  const isAsked = asker(query);
  const units = new Map<string, Rating[]>();
  const reworks = new Map<string, number>();
  const provenance = new Provenance();
  let [voids, held, drafts, studied, broken, simulated, tests] = [0, 0, 0, 0, 0, 0, 0];
  const days = { ...(from === undefined ? {} : { from }), ...(to === undefined ? {} : { to }) };
  for await (const found of travellersOf(folder, { model, ...days })) {
    if (found.kind === "broken") {
      broken++;
      continue;
    }
    const { traveller } = found;
    if (traveller.kind !== "unit") continue;
    const { serial, attempt, station, started_at, who } = traveller;
    if (attempt.kind === "after_rework" && !traveller.study)
      reworks.set(serial, (reworks.get(serial) ?? 0) + 1);
    if (!isAsked(traveller)) continue;
    decided.meet(serial);
    const verdict = verdictOf(traveller, characteristic);
    if (traveller.study) studied++;
    else if (traveller.draft && !query.withDrafts) drafts++;
    else if (first.isHeld({ serial, attempt: attempt.number })) held++;
    else if (verdict === "void") voids++;
    else {
      tests++;
      if (station.simulated) simulated++;
      provenance.take({
        started_ms: Date.parse(started_at),
        station: station.name,
        revision: traveller.limit_file.revision,
      });
      const rework = reworks.get(serial) ?? 0;
      const unit = rework === 0 ? serial : `${serial} reworked${rework > 1 ? ` ${rework} times` : ""}`;
      const name = appraiser === "station" ? station.name : (who.inspector ?? "nobody");
      const known = units.get(unit) ?? [];
      units.set(unit, known);
      const trial = known.filter((it) => it.appraiser === name).length + 1;
      known.push({
        unit,
        appraiser: name,
        trial: String(trial),
        rating: verdict,
        place: `attempt ${attempt.number} of ${serial}`,
      });
    }
  }
  await decided.requireFiles();
  const repeated = [...units.values()].filter(({ length }) => length > 1);
  if (tests === 0)
    throw new UsageError(
      `No valid test of ${quoted(model)} in ${folder}: check folder, model, days and parts.${drafts > 0 ? ` ${drafts} were on draft limits (--drafts takes them, too).` : ""}`,
    );
  if (repeated.length < 2)
    throw new UsageError(
      `${repeated.length === 0 ? "No unit" : "One unit only"} of ${model} in ${folder} was tested more than once, of ${units.size}: agreement shows on units tested repeatedly. Plan a study at the station, or give ratings as CSV.`,
    );
  const left = [
    ...(studied > 0 ? [`${studied} for studies`] : []),
    ...(drafts > 0 ? [`${drafts} on draft limits (--drafts takes them, too)`] : []),
    ...(held > 0 ? [`${held} in doubt, since a hold takes the trust from them`] : []),
    ...(voids > 0 ? [`${voids} void`] : []),
    ...(units.size > repeated.length ? [`${units.size - repeated.length} of units tested once`] : []),
  ];
  return {
    ratings: repeated.flat(),
    subject: `${characteristic === undefined ? "verdicts" : `verdicts on ${characteristic.replaceAll("_", " ")}`} of ${model}`,
    source: [
      `records in ${folder}${from === undefined ? "" : ` from ${from}`}${to === undefined ? "" : ` to ${to}`}`,
      ...provenance.words(),
      `appraiser is the ${appraiser}`,
    ].join(", "),
    notes: [
      ...(left.length > 0 ? [`Attempts left out: ${left.join("; ")}.`] : []),
      "In production only units that failed are tested again: these are no fair choice of all, and most lie near a limit or were put on badly.",
      ...(broken > 0
        ? [`${broken} travellers are not as they were recorded and were left out. Tell the quality engineer.`]
        : []),
      ...(simulated > 0 ? [`SIMULATED: ${simulated} of ${tests} tests are of simulated stations.`] : []),
    ],
  };
}

function asker({ parts, at, shift, shifts }: RatingsQuery): (traveller: Traveller) => boolean {
  const calendar = new Calendar(shifts);
  const only = [...parts].map(([name, value]) => [new PartAsked(name), value] as const);
  return (it) =>
    (at === undefined || it.station.name === at) &&
    (shift === undefined || calendar.shiftOf(Date.parse(it.started_at)) === shift) &&
    only.every(([part, value]) => part.of(it.parts) === value);
}

function verdictOf(
  { verdict, characteristics }: Traveller,
  characteristic: string | undefined,
): Traveller["verdict"] {
  if (characteristic === undefined) return verdict;
  return characteristics[placeIn(characteristics, characteristic)]?.verdict ?? "void";
}
