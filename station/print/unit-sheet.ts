import { formatNumber } from "../../limits/print-quantity.ts";
import { limitText, measuredText } from "../records/attempt-text.ts";
import type { Disposition } from "../records/disposition.ts";
import { dispositionLines } from "../records/disposition-text.ts";
import { counts } from "../records/doubts.ts";
import { failureNames } from "../records/failure-names.ts";
import { zonedTime } from "../records/local-time.ts";
import type { FoundAttempt, FoundUnit } from "../records/read-attempts.ts";
import type { Traveller } from "../records/traveller.ts";
import { type UnitState, unitState } from "../records/unit-state.ts";
import { type AirflowTable, airflowTable } from "./airflow-table.ts";
import { type LeakPlot, leakPlots } from "./leak-plot.ts";
import { type Stamp, stampOf } from "./stamp.ts";

/** Everything that a page about a unit or its label says, as it is said. */
export interface UnitSheet {
  readonly serial: string;
  readonly model: string;
  readonly stamp: Stamp;
  /** Printed pale across the page: what must not be taken for a product's record. */
  readonly across: string | null;
  /** Local date of the test, for a label. */
  readonly date: string;
  readonly facts: readonly Fact[];
  /** Why it did not pass. */
  readonly reasons: readonly string[];
  /** Failed ones first. */
  readonly characteristics: readonly CharacteristicRow[];
  readonly airflow: readonly AirflowTable[];
  readonly plots: readonly LeakPlot[];
  readonly suspects: readonly string[];
  /** What was decided about the unit, newest first. */
  readonly decisions: readonly string[];
  /** Fixture, gauges, parts: what months later somebody asks for. */
  readonly details: readonly Fact[];
  readonly sha256: string;
  /** Place of the traveller in the chain of records. */
  readonly sequence: number;
  readonly printed: string;
}

export interface Fact {
  readonly name: string;
  readonly text: string;
}

export interface CharacteristicRow {
  readonly name: string;
  readonly value: string;
  readonly limit: string;
  readonly verdict: "pass" | "fail" | "void";
}

export interface SheetAbout {
  readonly unit: FoundUnit;
  readonly serial: string;
  readonly dispositions: readonly Disposition[];
  /** Number of the attempt; the newest valid one without it. */
  readonly attempt?: number | undefined;
  readonly printed_at: string;
}

type Recorded = FoundAttempt & { readonly traveller: Traveller };

/** @returns the page's content; null where the unit has no such attempt */
export function unitSheet(about: SheetAbout): UnitSheet | null {
  const { unit, serial, dispositions, printed_at } = about;
  const attempts = unit.attempts.filter(
    (it): it is Recorded => it.traveller !== null && it.traveller.serial === serial,
  );
  const chosen = chosenOf(attempts, about.attempt);
  if (!chosen) return null;
  const { traveller, sha256 } = chosen;
  const state = stateOf(serial, attempts, dispositions);
  return {
    serial,
    model: traveller.model,
    stamp: stampOf({
      traveller,
      state,
      newest: attempts.filter(isValidTest).at(-1)?.traveller.attempt.number ?? null,
      isUnderTest: unit.open.length > 0,
    }),
    across: acrossOf(traveller),
    date: zonedTime(traveller.ended_at ?? traveller.started_at),
    facts: facts(traveller),
    reasons: traveller.reasons.map(({ code, sentence }) => `${code}: ${sentence}`),
    characteristics: [...traveller.characteristics].sort(byVerdict).map(characteristicRow),
    airflow: (traveller.airflow ?? []).map(airflowTable),
    plots: leakPlots(traveller),
    suspects: (traveller.suspects ?? []).map(({ cause, look_at }) => `${cause}. ${look_at}`),
    decisions: dispositions
      .filter(({ units }) => units.some((one) => one.serial === serial))
      .map((it) => dispositionLines(serial, it).join(" ").replace(/ {2,}/g, " "))
      .reverse(),
    details: details(traveller),
    sha256,
    sequence: traveller.chain.sequence,
    printed: zonedTime(printed_at),
  };
}

function chosenOf(attempts: readonly Recorded[], number: number | undefined): Recorded | undefined {
  if (number !== undefined) return attempts.findLast(({ traveller }) => traveller.attempt.number === number);
  const isValid = ({ traveller }: Recorded) => traveller.verdict !== "void";
  return attempts.findLast(isValidTest) ?? attempts.findLast(isValid) ?? attempts.at(-1);
}

function isValidTest({ traveller: { kind, draft, verdict } }: Recorded): boolean {
  return counts({ recordKind: kind, draft }) && verdict !== "void";
}

function stateOf(
  serial: string,
  attempts: readonly Recorded[],
  dispositions: readonly Disposition[],
): UnitState {
  return unitState({
    serial,
    dispositions,
    attempts: attempts.map(({ sha256, traveller }) => ({
      sha256,
      recordKind: traveller.kind,
      draft: traveller.draft,
      verdict: traveller.verdict,
      attempt: traveller.attempt.number,
      started_at: traveller.started_at,
      ended_at: traveller.ended_at,
      codes: traveller.reasons.map(({ code }) => code),
      causes: traveller.verdict === "fail" ? failureNames(traveller) : [],
    })),
  });
}

function acrossOf({ station, kind, draft, study }: Traveller): string | null {
  const words = [
    ...(station.simulated ? ["SIMULATED"] : []),
    ...(kind === "reference" ? ["REFERENCE"] : []),
    ...(study ? ["STUDY"] : draft ? ["DRAFT"] : []),
  ];
  return words.length === 0 ? null : words.join(" ");
}

const KINDS = { first: "first test", retest: "retest", after_rework: "test after rework" } as const;
const HOW_SIGNED_IN = { off: "", stated: "", badge: ", by badge", pin: ", by PIN" } as const;

function facts(it: Traveller): Fact[] {
  const { attempt, who, limit_file, retest_reason, reference_check } = it;
  const seconds = it.duration_s === null ? "" : `, ${it.duration_s.toFixed(1)} s`;
  const approved =
    limit_file.approved_by === null ? "approved by nobody" : `approved by ${limit_file.approved_by}`;
  return [
    {
      name: "tested",
      text: `${zonedTime(it.started_at)}${it.ended_at === null ? ", end not seen" : seconds}`,
    },
    { name: "test", text: `number ${attempt.number}, ${KINDS[attempt.kind]}${because(retest_reason)}` },
    { name: "inspector", text: `${who.inspector ?? "not asked for"}${HOW_SIGNED_IN[who.sign_in]}` },
    { name: "station", text: it.station.name },
    { name: "limits", text: `${limit_file.path} revision ${limit_file.revision}, ${approved}` },
    {
      name: "reference check",
      text: reference_check
        ? `${zonedTime(reference_check.at)}, ${reference_check.travellers.length} ${reference_check.travellers.length === 1 ? "test" : "tests"}`
        : "none was in force",
    },
    ...Object.entries(it.parts).map(([name, text]) => ({ name, text })),
    ...(it.reference ? [{ name: "reference piece", text: referenceText(it.reference) }] : []),
  ];
}

function because(reason: string | undefined): string {
  return reason === undefined ? "" : ` because: ${reason}`;
}

function referenceText(it: NonNullable<Traveller["reference"]>): string {
  const { piece, certified_value, tolerance, unit, measured, conforms } = it;
  const number = (value: number) => formatNumber(value, { significant: 6 });
  const found = measured === null ? "not measured" : `measured ${number(measured)} ${unit}`;
  return `${piece}: certified ${number(certified_value)} ± ${number(tolerance)} ${unit}, ${found}: ${conforms ? "conforms" : "does not conform"}`;
}

function details(it: Traveller): Fact[] {
  const gauges = it.gauges.map(({ name, identity, calibration_due }) => ({
    name,
    text: `${identity === "" ? "says nothing of itself" : identity}${calibration_due === null ? "" : `, calibration due ${calibration_due}`}`,
  }));
  return [
    ...(it.ambient ? [{ name: "room", text: roomText(it.ambient) }] : []),
    ...gauges,
    { name: "limit file's SHA-256", text: it.limit_file.sha256 },
    { name: "software", text: it.station.software },
  ];
}

function roomText(it: NonNullable<Traveller["ambient"]>): string {
  const { temperature_K, pressure_Pa, relative_humidity, entered } = it;
  const air = `${(temperature_K - 273.15).toFixed(1)} °C, ${(pressure_Pa / 100).toFixed(1)} hPa, humidity ${(100 * relative_humidity).toFixed(0)} %`;
  return entered ? `${air}, entered by ${entered.by} at ${zonedTime(entered.at)}` : air;
}

const RANKS = { fail: 0, void: 1, pass: 2 } as const;

function byVerdict(a: Pick<CharacteristicRow, "verdict">, b: Pick<CharacteristicRow, "verdict">): number {
  return RANKS[a.verdict] - RANKS[b.verdict];
}

function characteristicRow(it: Traveller["characteristics"][number]): CharacteristicRow {
  const limits = [it.lower, it.upper].filter((limit) => limit !== undefined);
  const value = measuredText(it.value, it.expanded_uncertainty, it.unit, limits);
  const chance =
    it.rule.kind === "guarded"
      ? `, ${formatNumber(100 * it.rule.conformance, { significant: 6 })} % sure`
      : "";
  return {
    name: it.point === undefined ? it.name : `${it.name} at ${it.point}`,
    value: it.why === undefined ? value : `${value} (${it.why})`,
    limit: `${limitText(it)}${chance}`,
    verdict: it.verdict,
  };
}
