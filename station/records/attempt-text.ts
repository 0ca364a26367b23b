import { escaped } from "../../limits/escaped-text.ts";
import { formatMeasured } from "../../limits/print-quantity.ts";
import { airflowLines } from "./airflow-text.ts";
import type { CheckInForce } from "./checks-in-force.ts";
import type { Disposition } from "./disposition.ts";
import { dispositionLines } from "./disposition-text.ts";
import { decidedEarly, secondsText } from "./early-verdict-text.ts";
import { evidenceLines } from "./evidence-text.ts";
import { localTime } from "./local-time.ts";
import type { FoundAttempt, FoundUnit } from "./read-attempts.ts";
import type { AttemptFacts, Traveller } from "./traveller.ts";
import type { UnitState } from "./unit-state.ts";
import { unitStateText } from "./unit-state-text.ts";

type Measured = Traveller["characteristics"][number];

const KINDS = { first: "first", retest: "retest", after_rework: "after rework" } as const;

/** What is told of a unit besides its attempts. */
export interface UnitStory {
  readonly dispositions: readonly Disposition[];
  readonly state: UnitState;
  /** Reference checks that were in force, by SHA-256 of their travellers, as far as found. */
  readonly checks: ReadonlyMap<string, CheckInForce>;
}

/** How a unit stands, its attempts, and what was decided about it, for people to read; times are local. */
export function unitText(
  serial: string,
  { attempts, open }: FoundUnit,
  { dispositions, state, checks }: UnitStory,
): string {
  const isSimulated = attempts.some(({ traveller }) => traveller?.station.simulated);
  const lines = [serial, `  ${isSimulated ? "SIMULATED " : ""}${unitStateText(state)}`];
  let told = 0;
  const tellDecisions = (isDue: (disposition: Disposition) => boolean) => {
    for (let next = dispositions[told]; next && isDue(next); next = dispositions[++told]) {
      lines.push(...dispositionLines(serial, next).map((line) => `  ${line}`));
    }
  };
  const seen = new Set<string>();
  for (const attempt of attempts) {
    // A decision never comes before what it is about, whatever clock it was dated by.
    const begun_ms = Date.parse(attempt.traveller?.started_at ?? "");
    tellDecisions(
      ({ at, units }) => Date.parse(at) < begun_ms && units.some(({ traveller }) => seen.has(traveller)),
    );
    lines.push(...foundLines(serial, attempt, checks));
    seen.add(attempt.sha256);
  }
  tellDecisions(() => true);
  for (const facts of open) lines.push(...openLines(facts));
  // Texts of records are whatever was scanned and typed.
  return lines.map(escaped).join("\n");
}

/**
 * A value with its expanded uncertainty, rounded to two significant digits of it, or to as many more as it takes to
 * tell it from its limits.
 * @example measuredText(12.3456, 0.8321, "mL/min") // "12.35 ± 0.83 mL/min"
 * @see JCGM 100:2008 7.2.6
 */
export function measuredText(
  value: number | null,
  expanded: number | null,
  unit: string,
  limits: readonly number[] = [],
): string {
  if (value === null) return "no valid value";
  if (expanded === null) return `${plain(value)} ${unit}`;
  if (expanded === 0) return `${plain(value)} ± 0 ${unit}`;
  const text = formatMeasured({ value, uncertainty: expanded, comparedWith: limits });
  return `${text.value} ± ${text.uncertainty} ${unit}`;
}

function foundLines(
  serial: string,
  { path, problem, traveller }: FoundAttempt,
  checks: UnitStory["checks"],
): string[] {
  const lines: string[] = [];
  if (problem !== null) lines.push(`  NOT AS RECORDED: ${path}: ${problem}.`);
  // Another unit's result has no place under this serial.
  if (traveller?.serial !== serial) return lines;
  const { attempt, kind, draft, study, limit_file, verdict, who, model, started_at } = traveller;
  const marks = [
    KINDS[attempt.kind],
    ...(kind === "reference" ? ["reference piece"] : []),
    ...(study ? [`study ${study.name}, ${study.run} of ${study.of}, counts for nothing`] : []),
    ...(draft && (!study || limit_file.approved_by === null) ? ["draft limits"] : []),
  ];
  const by = who.inspector === null ? "" : ` by ${who.inspector}`;
  lines.push(
    `  attempt ${attempt.number} (${marks.join(", ")})  ${localTime(started_at)}${by}  ${model}  ${verdict.toUpperCase()}`,
  );
  if (traveller.retest_reason !== undefined)
    lines.push(`    tested again because: ${traveller.retest_reason}`);
  for (const { code, sentence } of traveller.reasons) lines.push(`    ${code}: ${sentence}`);
  if (traveller.reference) {
    const { piece, certified_value, tolerance, measured, unit, conforms } = traveller.reference;
    const found = measured === null ? "not measured" : `measured ${plain(measured)} ${unit}`;
    lines.push(
      `    reference piece ${piece}: certified ${plain(certified_value)} ± ${plain(tolerance)} ${unit}, ${found}: ${conforms ? "conforms" : "does not conform"}`,
    );
  }
  const told = [
    ...suspectLines(traveller.suspects ?? []),
    ...roomLines(traveller),
    ...traveller.characteristics.map(characteristicText),
    ...(traveller.airflow ?? []).flatMap(airflowLines),
    ...evidenceLines(traveller, checks),
    path,
  ];
  return [...lines, ...told.map((line) => `    ${line}`)];
}

/** @returns what may be wrong and what speaks for it, most likely first, with what comes before anybody looks */
function suspectLines(suspects: NonNullable<Traveller["suspects"]>): string[] {
  if (suspects.length === 0) return [];
  return [
    ...suspects.flatMap(({ cause, look_at, evidence }, i) => [
      `suspect ${i + 1}: ${cause}. ${look_at}`,
      ...evidence.map((one) => `  because ${one}`),
    ]),
    "Before anybody opens the unit: unplug it and isolate it, by licensed practice.",
  ];
}

/** @example "room: 21.2 °C, 1009.5 hPa, humidity 42 %, entered by A. Marsh at 06:10" */
function roomLines({ ambient, started_at }: Traveller): string[] {
  if (!ambient) return [];
  const { temperature_K, pressure_Pa, relative_humidity, entered } = ambient;
  const air = `${(temperature_K - 273.15).toFixed(1)} °C, ${(pressure_Pa / 100).toFixed(1)} hPa, humidity ${(100 * relative_humidity).toFixed(0)} %`;
  return [
    `room: ${air}${entered ? `, entered by ${entered.by} at ${enteredAt(entered.at, started_at)}` : ""}`,
  ];
}

/** The time alone where it was the same day. */
function enteredAt(instant: string, started_at: string): string {
  const [day = "", time = ""] = localTime(instant).split(" ");
  const minutes = time.slice(0, 5);
  return localTime(started_at).startsWith(day) ? minutes : `${day} ${minutes}`;
}

/** @example "leak rate: 6 ± 27 mL/min, at most 60 mL/min: pass, early: sure 6.3 s after the fill, at look 17" */
export function characteristicText(it: Measured): string {
  const what = it.point === undefined ? it.name : `${it.name} at ${it.point}`;
  const limits = [it.lower, it.upper].filter((limit) => limit !== undefined);
  const value = measuredText(it.value, it.expanded_uncertainty, it.unit, limits);
  const why = it.why === undefined ? "" : it.why.endsWith(".") ? `. ${it.why}` : ` (${it.why})`;
  const early = decidedEarly(it);
  const when = early
    ? `, early: sure ${secondsText(early.afterFill_s)} after the fill, at look ${early.look}`
    : "";
  return `${what}: ${value}, ${limitText(it)}: ${it.verdict}${why}${when}`;
}

/** @example "at least 1010 W and at most 1288 W (rated 1120 W, IEC 60335-1)" */
export function limitText({ lower, upper, unit, rated_input }: Measured): string {
  const least = lower === undefined ? "" : `at least ${plain(lower)} ${unit}`;
  const rated = rated_input === undefined ? "" : ` (rated ${plain(rated_input)} ${unit}, IEC 60335-1)`;
  const most = upper === undefined ? "" : `at most ${plain(upper)} ${unit}${rated}`;
  return [least, most].filter((text) => text !== "").join(" and ") || "no limit";
}

function openLines({ attempt, started_at }: AttemptFacts): string[] {
  return [
    `  attempt ${attempt.number} (${KINDS[attempt.kind]})  ${localTime(started_at)}  under test, or interrupted: no traveller yet`,
  ];
}

/** Six significant digits are more than any value here has; what the conversion of units left behind them goes. */
function plain(value: number): string {
  return String(Number(value.toPrecision(6)));
}
