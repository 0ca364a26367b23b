import { isMeasurand } from "../../limits/measurand.ts";
import type { Traveller } from "./traveller.ts";
import { contradictions, INSTANT, TRAVELLER_FORMAT, TRAVELLER_MEMBERS } from "./traveller-rules.ts";

type Members = Readonly<Record<string, unknown>>;

const SHA256 = /^[0-9a-f]{64}$/;
const ID = /^[0-9a-f]{32}$/;
const CODE = /^[A-Z][A-Z0-9_]*$/;
const [NAME_LONGEST, TEXT_LONGEST] = [200, 1000];

/**
 * Whether what a traveller says is as its schema wants it, in all that the index takes of it and that its verdict rests on, has
 * no member of its own too many, and does not contradict itself; nothing else is looked at. By hand: the schema itself takes longer than all else that is done to a
 * traveller to index it.
 */
export function isIndexable(it: unknown): it is Traveller {
  if (!isObject(it) || !Object.keys(it).every((name) => TRAVELLER_MEMBERS.has(name))) return false;
  if (!isChain(it.chain) || !isHead(it) || !isFormMade(it)) return false;
  for (const _ of contradictions(it as unknown as Traveller)) return false;
  return true;
}

function isHead(it: Members): boolean {
  return (
    it.format === TRAVELLER_FORMAT &&
    matches(it.id, ID) &&
    (it.kind === "unit" || it.kind === "reference") &&
    isText(it.serial, NAME_LONGEST) &&
    isText(it.model, NAME_LONGEST) &&
    isObject(it.parts) &&
    Object.entries(it.parts).every(
      ([name, part]) => isText(name, NAME_LONGEST) && isText(part, TEXT_LONGEST),
    ) &&
    isObject(it.attempt) &&
    isWhole(it.attempt.number, 1) &&
    isOneOf(it.attempt.kind, ["first", "retest", "after_rework"]) &&
    typeof it.draft === "boolean" &&
    (it.study === undefined || isObject(it.study)) &&
    matches(it.started_at, INSTANT) &&
    (it.ended_at === null || matches(it.ended_at, INSTANT)) &&
    (it.duration_s === null || isNotNegative(it.duration_s)) &&
    isVerdict(it.verdict) &&
    isListOf(it.reasons, isReason) &&
    (it.suspects === undefined || isListOf(it.suspects, isSuspect)) &&
    (it.reference === undefined || isReference(it.reference))
  );
}

function isFormMade(it: Members): boolean {
  return (
    isObject(it.station) &&
    isText(it.station.name, NAME_LONGEST) &&
    typeof it.station.simulated === "boolean" &&
    isObject(it.limit_file) &&
    isWhole(it.limit_file.revision, 0) &&
    matches(it.limit_file.sha256, SHA256) &&
    isListOf(it.characteristics, isCharacteristic) &&
    isListOf(it.phases, isPhase) &&
    (it.airflow === undefined || isListOf(it.airflow, isAirflow))
  );
}

function isChain(it: unknown): boolean {
  return isObject(it) && isWhole(it.sequence, 1) && (it.previous === null || matches(it.previous, SHA256));
}

function isReason(it: unknown): boolean {
  return isObject(it) && matches(it.code, CODE) && isText(it.sentence, TEXT_LONGEST);
}

function isSuspect(it: unknown): boolean {
  return isObject(it) && isText(it.cause, TEXT_LONGEST);
}

function isReference(it: unknown): boolean {
  return (
    isObject(it) &&
    isText(it.piece, NAME_LONGEST) &&
    Number.isFinite(it.certified_value) &&
    isNotNegative(it.tolerance) &&
    isText(it.unit, NAME_LONGEST) &&
    (it.measured === null || Number.isFinite(it.measured)) &&
    typeof it.conforms === "boolean"
  );
}

function isCharacteristic(it: unknown): boolean {
  return (
    isObject(it) &&
    isText(it.name, NAME_LONGEST) &&
    isText(it.step, NAME_LONGEST) &&
    (it.point === undefined || isText(it.point, NAME_LONGEST)) &&
    isMeasurand(it.measurand) &&
    isText(it.unit, NAME_LONGEST) &&
    (it.uncertainty === null || isNotNegative(it.uncertainty)) &&
    (it.lower === undefined || Number.isFinite(it.lower)) &&
    (it.upper === undefined || Number.isFinite(it.upper)) &&
    isRule(it.rule) &&
    isVerdict(it.verdict) &&
    (it.value === null ? it.verdict !== "pass" && it.why !== undefined : Number.isFinite(it.value)) &&
    (it.how === undefined || isHow(it.how))
  );
}

function isRule(it: unknown): boolean {
  if (!isObject(it)) return false;
  for (const name in it) if (name !== "kind" && name !== "conformance") return false;
  const { kind, conformance } = it;
  if (kind === "simple") return conformance === undefined;
  return kind === "guarded" && isNotNegative(conformance) && conformance > 0 && conformance < 1;
}

function isHow(it: unknown): boolean {
  return (
    isObject(it) &&
    isOneOf(it.method, ["fitted", "slope", "difference"]) &&
    (it.mean_curve_subtracted === undefined || typeof it.mean_curve_subtracted === "boolean") &&
    Number.isFinite(it.from_s) &&
    Number.isFinite(it.to_s) &&
    (it.looks === undefined || (isObject(it.looks) && typeof it.looks.early === "boolean"))
  );
}

function isPhase(it: unknown): boolean {
  return (
    isObject(it) &&
    isText(it.step, NAME_LONGEST) &&
    isText(it.phase, NAME_LONGEST) &&
    (it.fill === undefined || (isObject(it.fill) && Number.isFinite(it.fill.pressure_at_end_Pa)))
  );
}

function isAirflow(it: unknown): boolean {
  return (
    isObject(it) &&
    isText(it.step, NAME_LONGEST) &&
    (it.stated_at === null || isStatedAt(it.stated_at)) &&
    isListOf(
      it.points,
      (point) => isObject(point) && isText(point.point, NAME_LONGEST) && isText(point.orifice, NAME_LONGEST),
    )
  );
}

function isStatedAt(it: unknown): boolean {
  return (
    isObject(it) &&
    isNotNegative(it.supply_voltage_V) &&
    Number.isFinite(it.speed_per_density) &&
    Number.isFinite(it.speed_per_voltage) &&
    isNotNegative(it.exponent_uncertainty)
  );
}

function isObject(it: unknown): it is Members {
  return typeof it === "object" && it !== null && !Array.isArray(it);
}

function isListOf(it: unknown, isOne: (one: unknown) => boolean): boolean {
  return Array.isArray(it) && it.every(isOne);
}

function isText(it: unknown, longest: number): boolean {
  return typeof it === "string" && it !== "" && it.length <= longest;
}

function matches(it: unknown, pattern: RegExp): boolean {
  return typeof it === "string" && pattern.test(it);
}

function isOneOf(it: unknown, words: readonly string[]): boolean {
  return typeof it === "string" && words.includes(it);
}

function isVerdict(it: unknown): boolean {
  return it === "pass" || it === "fail" || it === "void";
}

function isWhole(it: unknown, least: number): boolean {
  return Number.isSafeInteger(it) && Number(it) >= least;
}

function isNotNegative(it: unknown): it is number {
  return typeof it === "number" && Number.isFinite(it) && it >= 0;
}
