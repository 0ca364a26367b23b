import { DIMENSION_OF } from "../../limits/measurand.ts";
import { formatNumber } from "../../limits/print-quantity.ts";
import { convert, quoted } from "../../limits/quantity.ts";
import { UsageError } from "../explain.ts";
import { DispositionLog } from "../records/disposition-log.ts";
import { localDay } from "../records/local-time.ts";
import { travellersOf } from "../records/model-travellers.ts";
import type { Traveller } from "../records/traveller.ts";
import { FirstTests } from "./first-tests.ts";
import { LeftOut } from "./left-out.ts";
import { groupOf, type Measured, measuredIn, type RecordsQuery, shiftOf } from "./record-asked.ts";

/** A value as a traveller has it, in the unit of the first one. */
export interface RecordedValue {
  readonly value: number;
  readonly serial: string;
  /** When the attempt began, ISO 8601. */
  readonly at: string;
  /** Of `by`; "" where nothing was asked. */
  readonly group: string;
}

export interface RecordedValues {
  /** In the order of recording. */
  readonly values: readonly RecordedValue[];
  /** The characteristic's name in the limit file. */
  readonly name: string;
  /** Of values and limits. */
  readonly unit: string;
  /** As last judged by. */
  readonly lower: number | undefined;
  readonly upper: number | undefined;
  /** "leak rate of TUB-12" */
  readonly subject: string;
  /** The folder and what was asked of it, for a page. */
  readonly source: string;
  /** What was left out, and what is to be known of the rest. */
  readonly notes: readonly string[];
}

/** Limits that were judged by, and from which attempt on. */
interface LimitsUsed {
  readonly lower: number | undefined;
  readonly upper: number | undefined;
  readonly revision: number;
  readonly from: string;
}

/**
 * Values of a characteristic, from travellers that are as they were recorded: nothing is written, no lock is taken, a station
 * may be testing meanwhile. One traveller is in memory at a time, the values all.
 * @throws UsageError where there is no such value, and what there is; RecordError where the folder can't be read
 */
export async function recordedValues(query: RecordsQuery): Promise<RecordedValues> {
  const left = new LeftOut();
  const seen = new Set<string>();
  const used: LimitsUsed[] = [];
  const values: RecordedValue[] = [];
  let told: { readonly name: string; readonly unit: string } | undefined;
  for await (const { traveller, measured, value, group } of measurements(query, left, seen)) {
    told ??= { name: measured.name, unit: measured.unit };
    const inUnit = (number: number | undefined) =>
      number === undefined || told === undefined || measured.unit === told.unit
        ? number
        : convert(number, measured.unit, told.unit, DIMENSION_OF[measured.measurand]);
    noteLimits(used, traveller, inUnit(measured.lower), inUnit(measured.upper));
    values.push({
      value: inUnit(value) ?? value,
      serial: traveller.serial,
      at: traveller.started_at,
      group,
    });
  }
  if (!told) throw new UsageError(nothingFound(query, left, seen));
  const last = used.at(-1);
  return {
    values,
    ...told,
    lower: last?.lower,
    upper: last?.upper,
    subject: `${told.name} of ${query.model}`,
    source: sourceOf(query),
    notes: [...left.notes(values.length), ...limitNotes(used, told.unit)],
  };
}

interface Measurement {
  readonly traveller: Traveller;
  readonly measured: Measured;
  readonly value: number;
  readonly group: string;
}

/** One after the other, as they are read; what gives no value is counted. */
async function* measurements(
  query: RecordsQuery,
  left: LeftOut,
  seen: Set<string>,
): AsyncGenerator<Measurement, void, void> {
  const { model, from, to } = query;
  const log = new DispositionLog(query.folder);
  await log.refreshBesideStation();
  const first = new FirstTests(log.held);
  const days = { ...(from === undefined ? {} : { from }), ...(to === undefined ? {} : { to }) };
  for await (const found of travellersOf(query.folder, { model, ...days })) {
    if (found.kind === "broken") {
      left.broken.push({ path: found.path, problem: found.problem });
      continue;
    }
    const { traveller, sha256 } = found;
    const isFirst = traveller.kind === "unit" && first.isFirst(traveller, sha256);
    if (!isAsked(traveller, query)) continue;
    if (traveller.kind === "reference") left.add("reference");
    else if (traveller.draft && !query.withDrafts) left.add("draft");
    else if (first.isHeld(sha256)) left.add("held");
    else if (traveller.verdict === "void") left.add("void");
    else if (query.attempts === "first" && !isFirst) left.add("repeat");
    else {
      for (const { name } of traveller.characteristics) seen.add(name);
      const measured = measuredIn(traveller, query.characteristic);
      const group = groupOf(traveller, query);
      const value = measured?.value ?? null;
      if (measured === undefined || value === null) {
        left.add("no value");
        if (traveller.verdict === "fail") left.failedWithoutValue++;
      } else if (group === undefined) left.add("no group");
      else {
        if (traveller.station.simulated) left.simulated++;
        if (traveller.draft) left.drafts++;
        if (measured.how?.looks?.early) left.early++;
        yield { traveller, measured, value, group };
      }
    }
  }
}

function isAsked({ parts, started_at }: Traveller, query: RecordsQuery): boolean {
  if ([...query.parts].some(([part, value]) => parts[part] !== value)) return false;
  return query.shift === undefined || shiftOf(started_at, query.shifts) === query.shift;
}

function noteLimits(
  used: LimitsUsed[],
  { limit_file: { revision }, started_at }: Traveller,
  lower: number | undefined,
  upper: number | undefined,
): void {
  const last = used.at(-1);
  if (last && isNear(last.lower, lower) && isNear(last.upper, upper)) return;
  // Two revisions in turns would fill memory; of a hundred changes the newest matters.
  if (used.length === MOST_CHANGES) used.pop();
  used.push({ lower, upper, revision, from: started_at });
}

const MOST_CHANGES = 100;

/** The same limit in another unit may differ in its last digit. */
function isNear(a: number | undefined, b: number | undefined): boolean {
  if (a === undefined || b === undefined) return a === b;
  return Math.abs(a - b) <= 1e-9 * Math.max(Math.abs(a), Math.abs(b));
}

function limitNotes(used: readonly LimitsUsed[], unit: string): string[] {
  if (used.length < 2) return [];
  const words = used.slice(-5).map(({ lower, upper, revision, from }) => {
    const low = lower === undefined ? "" : `lower ${formatNumber(lower)} `;
    const high = upper === undefined ? "" : `upper ${formatNumber(upper)} `;
    return `${low}${high || (lower === undefined ? "none " : "")}${unit} (revision ${revision}) from ${localDay(from)}`;
  });
  const changes = used.length === MOST_CHANGES ? "often" : `${used.length - 1} times`;
  const more = used.length > words.length ? ` ${changes}` : "";
  return [`The limits changed${more} while these units were tested: ${words.join(", ")}. The last are used.`];
}

function sourceOf({ folder, from, to, shift, parts, attempts, by }: RecordsQuery): string {
  return [
    `records in ${folder}`,
    ...(from === undefined ? [] : [`from ${from}`]),
    ...(to === undefined ? [] : [`to ${to}`]),
    ...(shift === undefined ? [] : [`shift ${shift}`]),
    ...[...parts].map(([part, value]) => `${part} ${value}`),
    attempts === "first" ? "each unit's first valid test" : "all valid attempts",
    ...(by === undefined ? [] : [`by ${by}`]),
  ].join(", ");
}

function nothingFound(
  { folder, model, characteristic, by }: RecordsQuery,
  left: LeftOut,
  seen: Set<string>,
): string {
  const names = [...seen].sort();
  if (names.length === 0) {
    const why = left.notes(0)[0];
    return `No valid test of ${quoted(model)} in ${folder}: check folder, model, days and parts.${why === undefined ? "" : ` ${why}`}`;
  }
  const group = by === undefined ? "" : `, or no unit has ${quoted(by)}`;
  return `No value of ${quoted(characteristic)} in ${folder}${group}: ${model} has ${names.join(", ")}.`;
}
