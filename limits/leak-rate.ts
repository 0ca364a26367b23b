import {
  COMMON_UNITS,
  fromSI,
  nearestUnit,
  normaliseUnitText,
  plainUnit,
  throughputUnit,
  toSI,
  type Unit,
} from "./units.ts";

/** The state of the gas that a leak rate's volume refers to: absolute, in SI. */
export interface ReferenceConditions {
  readonly temperature_K: number;
  readonly pressure_Pa: number;
}

type Found<T> =
  | { readonly ok: true; readonly value: T }
  | { readonly ok: false; readonly expected?: string; readonly hint?: string };

/** A unit that gas is counted in per time, taken apart. */
export interface GasFlowUnit {
  /**
   * What it counts: moles; pressure times volume, which is an amount at a known temperature; or a volume, which is
   * one at a known temperature and pressure. A standard volume names conditions of its own, but not which.
   */
  readonly counts: "amount" | "throughput" | "volume" | "standard volume";
  /** One of it in mol/s, Pa m3/s or m3/s; the symbol is without conditions. */
  readonly plain: Unit;
  /** The state its text says the gas is counted at; amounts need none. */
  readonly conditions?: ReferenceConditions;
}

const HOUSE_TEMPERATURE_K = 293.15;
const HOUSE_PRESSURE_PA = 101_325;

// k * N_A, both exact since 2019 (SI brochure, 9th ed.)
const GAS_CONSTANT_J_MOL_K = 8.31446261815324;

// "Standard" and "normal" flows name no condition of their own: 0 degC and 20 degC are both in use and differ by 7.3 %.
const STANDARD_FLOWS: Readonly<Record<string, string>> = {
  sccm: "mL/min",
  sccs: "mL/s",
  slm: "L/min",
  slpm: "L/min",
  scfm: "ft3/min",
  scfh: "ft3/h",
};
const STANDARD_VOLUME = /^(?:std\.?|s|N)(?=(?:c|m|d|L|l|f)\S*\/)/;

const AMOUNT_FLOW = /^([mun]?)mol\/(\w+)$/;
const PREFIX_DENOMINATORS: Readonly<Record<string, number>> = { "": 1, m: 1e3, u: 1e6, n: 1e9 };

/**
 * A unit of leak rate whose SI value is m3/s at the house reference (20 degC, 101.325 kPa). A leak is an amount
 * of gas per time, n = p V / (R T); every volume or throughput needs the state it is counted at:
 * "mL/min @ 0 degC", "mL/min @ 20 degC, 100 kPa", "Pa.m3/s @ 20 degC"; "mol/s" needs none.
 * @param text as normaliseUnitText leaves it
 * @param reference what a volume flow or throughput without conditions refers to; "sccm" always needs its own
 */
export function leakRateUnit(text: string, reference: ReferenceConditions | undefined): Found<Unit> {
  const found = gasFlowUnit(text);
  if (!found.ok) return found;
  const { counts, plain, conditions } = found.value;
  if (counts === "amount") return { ok: true, value: countedAt(found.value, HOUSE_CONDITIONS) };
  if (conditions) return { ok: true, value: countedAt(found.value, conditions) };
  if (counts === "standard volume") {
    const { symbol } = plain;
    return {
      ok: false,
      hint: `${symbol} means nothing without its conditions: write ${symbol} @ 0 degC or @ 20 degC`,
    };
  }
  if (!reference) return { ok: false, hint: "the reference conditions are missing: add @ 20 degC" };
  return { ok: true, value: { ...countedAt(found.value, reference), symbol: plain.symbol } };
}

const HOUSE_CONDITIONS: ReferenceConditions = {
  temperature_K: HOUSE_TEMPERATURE_K,
  pressure_Pa: HOUSE_PRESSURE_PA,
};

/**
 * Takes a unit of gas flow apart, whether or not it says the conditions it is counted at.
 * @param text as normaliseUnitText leaves it
 * @example gasFlowUnit("mbar.L/s@20degC") // counts "throughput" at 293.15 K, one is 0.1 Pa m3/s
 */
export function gasFlowUnit(text: string): Found<GasFlowUnit> {
  const at = text.indexOf("@");
  const body = at < 0 ? text : text.slice(0, at);
  const known = amountFlow(body) ?? throughputFlow(body) ?? volumeFlow(body);
  if (!known) {
    const near = nearestUnit(body, "leakRate") ?? nearestUnit(body, "flow");
    return {
      ok: false,
      hint: near === undefined ? `one of ${COMMON_UNITS.leakRate.join(", ")}` : `did you mean ${near}?`,
    };
  }
  if (at < 0) return { ok: true, value: known };
  if (known.counts === "amount") return { ok: false, hint: `${body} needs no conditions` };
  const conditions = readConditions(text.slice(at + 1));
  if (!conditions) {
    return { ok: false, expected: 'conditions like "@ 20 degC" or "@ 0 degC, 101.325 kPa"' };
  }
  if (known.counts === "throughput" && text.includes(",", at)) {
    return { ok: false, hint: "a throughput needs its temperature only" };
  }
  return { ok: true, value: { ...known, conditions } };
}

function amountFlow(body: string): GasFlowUnit | undefined {
  const [, prefix = "", per = ""] = AMOUNT_FLOW.exec(body) ?? [];
  const time = plainUnit(per, "time");
  if (!time) return undefined;
  const denominator = (PREFIX_DENOMINATORS[prefix] ?? 1) * time.numerator;
  return { counts: "amount", plain: unit(`${prefix}mol/${time.symbol}`, time.denominator, denominator) };
}

function throughputFlow(body: string): GasFlowUnit | undefined {
  const plain = throughputUnit(body);
  return plain && { counts: "throughput", plain };
}

function volumeFlow(body: string): GasFlowUnit | undefined {
  const plain = plainUnit(body, "flow");
  if (plain) return { counts: "volume", plain };
  const named = Object.hasOwn(STANDARD_FLOWS, body.toLowerCase())
    ? STANDARD_FLOWS[body.toLowerCase()]
    : undefined;
  const standard = plainUnit(named ?? body.replace(STANDARD_VOLUME, ""), "flow");
  return standard && { counts: "standard volume", plain: { ...standard, symbol: body.replace(".", " ") } };
}

/**
 * The leak rate unit that counts gas at these conditions; of a throughput's only the temperature matters, for an amount
 * nothing.
 * @returns a unit whose SI value is m3/s at the house reference and whose symbol names the conditions
 * @see the ideal gas law, n = p V / (R T)
 */
export function countedAt({ counts, plain }: GasFlowUnit, conditions: ReferenceConditions): Unit {
  const { symbol, numerator, denominator } = plain;
  if (counts === "amount") {
    return unit(
      symbol,
      numerator * GAS_CONSTANT_J_MOL_K * HOUSE_TEMPERATURE_K,
      denominator * HOUSE_PRESSURE_PA,
    );
  }
  const warmth = ratio(HOUSE_TEMPERATURE_K, conditions.temperature_K);
  if (counts === "throughput") {
    return unit(
      `${symbol} @ ${temperatureText(conditions)}`,
      numerator * warmth,
      denominator * HOUSE_PRESSURE_PA,
    );
  }
  return unit(
    `${symbol} @ ${conditionsText(conditions)}`,
    numerator * warmth * ratio(conditions.pressure_Pa, HOUSE_PRESSURE_PA),
    denominator,
  );
}

/** @example conditionsText({ temperature_K: 273.15, pressure_Pa: 101325 }) // "0 degC" */
export function conditionsText(conditions: ReferenceConditions): string {
  const temperature = temperatureText(conditions);
  if (conditions.pressure_Pa === HOUSE_PRESSURE_PA) return temperature;
  return `${temperature}, ${trimmed(conditions.pressure_Pa / 1000)} kPa`;
}

function temperatureText({ temperature_K }: ReferenceConditions): string {
  const degC = plainUnit("degC", "temperature");
  return degC ? `${trimmed(fromSI(temperature_K, degC))} degC` : `${trimmed(temperature_K)} K`;
}

const CONDITION = /^([+-]?\d+(?:\.\d+)?)\.?(\D\S*)$/u;

function readConditions(text: string): ReferenceConditions | undefined {
  const [temperatureText, pressureText, ...rest] = text
    .split(",")
    .map((part) => normaliseUnitText(part.replace(/^\./, "")));
  if (rest.length > 0) return undefined;
  const temperature_K = readPositive(temperatureText, "temperature");
  const pressure_Pa = pressureText === undefined ? HOUSE_PRESSURE_PA : readPositive(pressureText, "pressure");
  if (temperature_K === undefined || pressure_Pa === undefined) return undefined;
  return { temperature_K, pressure_Pa };
}

function readPositive(text: string | undefined, dimension: "temperature" | "pressure"): number | undefined {
  const match = CONDITION.exec(text ?? "");
  if (!match) return undefined;
  const [, digits = "", unitText = ""] = match;
  const known = plainUnit(unitText, dimension);
  if (!known) return undefined;
  // 68 degF is 20 degC, not 2e-14 K more
  const value = Number(toSI(Number(digits), known).toPrecision(12));
  return value > 0 && Number.isFinite(value) ? value : undefined;
}

function unit(symbol: string, numerator: number, denominator: number): Unit {
  return { symbol, numerator, denominator, zero: 0 };
}

/** Exactly 1 for equal states, so that the house reference costs no last digit. */
function ratio(a: number, b: number): number {
  return a === b ? 1 : a / b;
}

function trimmed(value: number): string {
  return String(Number(value.toPrecision(10)));
}
