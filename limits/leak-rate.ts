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

type Found =
  | { readonly ok: true; readonly value: Unit }
  | { readonly ok: false; readonly expected?: string; readonly hint?: string };

const HOUSE_TEMPERATURE_K = 293.15;
const HOUSE_PRESSURE_PA = 101_325;

// k * N_A, both exact since 2019 (SI brochure, 9th ed.)
const GAS_CONSTANT_J_MOL_K = 8.31446261815324;

// "Standard" flows name no condition of their own: 0 degC and 20 degC are both in use and differ by 7.3 %.
const STANDARD_FLOWS: Readonly<Record<string, string>> = {
  sccm: "mL/min",
  sccs: "mL/s",
  slm: "L/min",
  slpm: "L/min",
  scfm: "ft3/min",
};

/**
 * A unit of leak rate whose SI value is m3/s at the house reference (20 degC, 101.325 kPa). A leak is an amount
 * of gas per time, n = p V / (R T); every volume or throughput needs the state it is counted at:
 * "mL/min @ 0 degC", "mL/min @ 20 degC, 100 kPa", "Pa.m3/s @ 20 degC"; "mol/s" needs none.
 * @param text as normaliseUnitText leaves it
 * @param reference what a volume flow or throughput without conditions refers to; "sccm" always needs its own
 */
export function leakRateUnit(text: string, reference: ReferenceConditions | undefined): Found {
  const at = text.indexOf("@");
  const body = at < 0 ? text : text.slice(0, at);
  const standard = Object.hasOwn(STANDARD_FLOWS, body) ? STANDARD_FLOWS[body] : undefined;
  const flow = plainUnit(standard ?? body, "flow");
  const throughput = throughputUnit(body);
  if (body === "mol/s") {
    if (at >= 0) return { ok: false, hint: "mol/s needs no conditions" };
    return {
      ok: true,
      value: unit(body, GAS_CONSTANT_J_MOL_K * HOUSE_TEMPERATURE_K, HOUSE_PRESSURE_PA),
    };
  }
  if (!flow && !throughput) {
    const near = nearestUnit(body, "leakRate") ?? nearestUnit(body, "flow");
    return {
      ok: false,
      hint: near === undefined ? `one of ${COMMON_UNITS.leakRate.join(", ")}` : `did you mean ${near}?`,
    };
  }
  if (at < 0 && standard !== undefined) {
    return {
      ok: false,
      hint: `${body} means nothing without its conditions: write ${body} @ 0 degC or @ 20 degC`,
    };
  }
  if (at < 0 && !reference) {
    return { ok: false, hint: "the reference conditions are missing: add @ 20 degC" };
  }
  const conditions = at < 0 ? reference : readConditions(text.slice(at + 1));
  if (!conditions) {
    return { ok: false, expected: 'conditions like "@ 20 degC" or "@ 0 degC, 101.325 kPa"' };
  }
  if (throughput) {
    if (at >= 0 && text.includes(",", at)) {
      return { ok: false, hint: "a throughput needs its temperature only" };
    }
    return {
      ok: true,
      value: unit(
        at < 0 ? throughput.symbol : `${throughput.symbol} @ ${temperatureText(conditions)}`,
        throughput.numerator * ratio(HOUSE_TEMPERATURE_K, conditions.temperature_K),
        throughput.denominator * HOUSE_PRESSURE_PA,
      ),
    };
  }
  const counted = flow ?? unit(body, 1, 1);
  return {
    ok: true,
    value: unit(
      at < 0
        ? counted.symbol
        : `${standard === undefined ? counted.symbol : body} @ ${conditionsText(conditions)}`,
      counted.numerator *
        ratio(HOUSE_TEMPERATURE_K, conditions.temperature_K) *
        ratio(conditions.pressure_Pa, HOUSE_PRESSURE_PA),
      counted.denominator,
    ),
  };
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
