import { escaped } from "./escaped-text.ts";
import { leakRateUnit, type ReferenceConditions } from "./leak-rate.ts";
import {
  columnsLike,
  type Dimension,
  dimensionsOf,
  fromSI,
  nearestUnit,
  normaliseUnitText,
  plainUnit,
  toSI,
  type Unit,
} from "./units.ts";

export type { Dimension, ReferenceConditions, Unit };
export { toSI };

/** Why a text is not the quantity asked for, in words for the person who wrote it. */
export interface QuantityFailure {
  readonly found: string;
  readonly expected: string;
  readonly hint?: string;
}

export type Parsed<T> = { readonly ok: true; readonly value: T } | ({ readonly ok: false } & QuantityFailure);

export interface Quantity {
  readonly value_SI: number;
  /** The unit it was written in; `unit.symbol` is its usual spelling. */
  readonly unit: Unit;
}

export interface QuantityOptions {
  /** Leak rates only: what a volume flow without conditions refers to. Without it such a text is refused. */
  readonly reference?: ReferenceConditions;
}

/** Thrown where a unit comes from code or a checked file and still does not fit. */
export class UnitError extends Error {
  readonly failure: QuantityFailure;
  constructor(failure: QuantityFailure) {
    super(describeFailure(failure));
    this.name = "UnitError";
    this.failure = failure;
  }
}

/** @returns the failure as the words of one sentence, without its full stop */
export function describeFailure({ found, expected, hint }: QuantityFailure): string {
  return escaped(`found ${found}, expected ${expected}${hint === undefined ? "" : ` (${hint})`}`);
}

const EXAMPLES: Readonly<Record<Dimension, readonly [name: string, ...examples: string[]]>> = {
  pressure: ["a pressure", "-8 kPa", "25 mbar", "90 inH2O"],
  leakRate: ["a leak rate", "60 mL/min @ 20 degC", "0.09 Pa.m3/s @ 20 degC"],
  flow: ["a flow", "55 L/s", "120 m3/h", "72 cfm"],
  temperature: ["a temperature", "20 degC", "293.15 K"],
  temperatureDifference: ["a temperature difference", "2 K"],
  power: ["a power", "1200 W", "1.2 kW"],
  time: ["a time", "8 s", "2 min"],
  volume: ["a volume", "12 L", "350 mL"],
  length: ["a length", "30 mm", "1.2 in"],
  relativeHumidity: ["a relative humidity", "45 %"],
  voltage: ["a voltage", "230 V"],
  ratio: ["a ratio", "2 %", "0.02 fraction"],
};

/** @returns the phrase for errors and the example texts for editors */
export function dimensionHelp(dimension: Dimension): { expected: string; examples: readonly string[] } {
  const [name, ...examples] = EXAMPLES[dimension];
  return { expected: `${name} with its unit, like "${examples[0]}"`, examples };
}

const NUMBER_THEN_UNIT = /^([+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*)$/su;

/**
 * Reads a text such as "-8 kPa" or "60 mL/min @ 0 degC, 101.325 kPa". The whole text must fit.
 * Factors are exact products of the definitions in NIST SP 811:2008, app. B.
 * @returns the SI value and the unit, or what was found and expected
 * @example parseQuantity("90 inH2O", "pressure") // 22418.0019 Pa
 */
export function parseQuantity(
  text: string,
  dimension: Dimension,
  options: QuantityOptions = {},
): Parsed<Quantity> {
  const { expected } = dimensionHelp(dimension);
  const found = quoted(text);
  const written = splitQuantity(text);
  if (!written.ok) return { ...written, expected };
  const unit = findUnit(written.value.unitText, dimension, options);
  if (!unit.ok) return { ...unit, found };
  const value_SI = toSI(written.value.number, unit.value);
  if (!Number.isFinite(value_SI)) return { ok: false, found, expected, hint: "the number is too large" };
  if (dimension === "temperature" && value_SI < 0) {
    return { ok: false, found, expected: "a temperature above absolute zero" };
  }
  return { ok: true, value: { value_SI, unit: unit.value } };
}

/**
 * A number and the unit written after it, which may be no unit at all.
 * @example splitQuantity("12L") // { ok: true, value: { number: 12, unitText: "L" } }
 */
export function splitQuantity(text: string): Parsed<{ readonly number: number; readonly unitText: string }> {
  const expected = 'a number with its unit, like "25 mbar"';
  const found = quoted(text);
  const match = NUMBER_THEN_UNIT.exec(text.trim().replace(/^−/, "-"));
  if (!match) return { ok: false, found, expected };
  const [, digits = "", unitText = ""] = match;
  if (unitText === "") return { ok: false, found, expected, hint: "the unit is missing" };
  if (/^,\d/.test(unitText)) return { ok: false, found, expected, hint: "write a decimal point" };
  return { ok: true, value: { number: Number(digits), unitText } };
}

/**
 * Finds a unit by its text alone, for readings that come as bare numbers.
 * @example findUnit("L/s", "flow") // { ok: true, value: { symbol: "L/s", numerator: 1, denominator: 1000, zero: 0 } }
 */
export function findUnit(
  unitText: string,
  dimension: Dimension,
  { reference }: QuantityOptions = {},
): Parsed<Unit> {
  const found = quoted(unitText);
  const text = normaliseUnitText(unitText);
  const help = dimensionHelp(dimension);
  if (dimension === "leakRate") {
    const unit = leakRateUnit(text, reference);
    if (unit.ok) return unit;
    const { expected = help.expected, hint } = unit;
    return { ok: false, found, expected, ...(hint === undefined ? {} : { hint }) };
  }
  const unit = plainUnit(text, dimension);
  if (unit) return { ok: true, value: unit };
  if (dimension === "flow" && text.includes("@")) {
    return {
      ok: false,
      found,
      expected: help.expected,
      hint: "a flow is the volume that really passes, without reference conditions",
    };
  }
  return { ok: false, found, expected: help.expected, ...hintFor(text, dimension) };
}

function hintFor(text: string, dimension: Dimension): { hint?: string } {
  const columns = dimension === "pressure" ? columnsLike(text) : [];
  if (columns.length > 0) return { hint: `the columns known here are ${columns.join(", ")}` };
  const near = nearestUnit(text, dimension);
  if (near !== undefined) return { hint: `did you mean ${near}?` };
  const [other] = dimensionsOf(text);
  if (other !== undefined) return { hint: `${text} is the unit of ${EXAMPLES[other][0]}` };
  return {};
}

/**
 * @returns the number an SI value has in this unit. A leak rate unit without conditions means the given
 * reference, else the house reference.
 * @throws UnitError if the text is no unit of the dimension
 */
export function toUnit(
  value_SI: number,
  dimension: Dimension,
  unitText: string,
  options?: QuantityOptions,
): number {
  return fromSI(value_SI, unitFor(dimension, unitText, options));
}

/**
 * @returns the number `value from` has in unit `to`
 * @throws UnitError if one of the texts is no unit of the dimension
 * @example convert(15, "gal/min", "L/s", "flow") // 0.946352946
 */
export function convert(
  value: number,
  from: string,
  to: string,
  dimension: Dimension,
  options?: QuantityOptions,
): number {
  return fromSI(toSI(value, unitFor(dimension, from, options)), unitFor(dimension, to, options));
}

/** The SI values of leak rates refer to this: 20 degC and one standard atmosphere. */
export const HOUSE_REFERENCE: ReferenceConditions = { temperature_K: 293.15, pressure_Pa: 101_325 };

/** @throws UnitError */
function unitFor(
  dimension: Dimension,
  unitText: string,
  options: QuantityOptions = { reference: HOUSE_REFERENCE },
): Unit {
  const unit = findUnit(unitText, dimension, options);
  if (!unit.ok) throw new UnitError(unit);
  return unit.value;
}

/** A person's text as messages repeat it: in quotes, and not at any length. */
export function quoted(text: string): string {
  return escaped(JSON.stringify(text.length > 80 ? `${text.slice(0, 77)}...` : text));
}
