import { type Dimension, type QuantityOptions, toUnit } from "./quantity.ts";

export interface NumberStyle {
  /** Digits after the point. */
  readonly decimals?: number;
  /** Significant digits; 10 unless said otherwise, trailing zeros dropped. */
  readonly significant?: number;
}

/**
 * Text of a quantity in a unit, readable by parseQuantity.
 * @throws UnitError if the text is no unit of the dimension
 * @example formatQuantity(1e-6, "leakRate", "mL/min") // "60 mL/min"
 */
export function formatQuantity(
  value_SI: number,
  dimension: Dimension,
  unit: string,
  style: NumberStyle & QuantityOptions = {},
): string {
  const value = toUnit(
    value_SI,
    dimension,
    unit,
    style.reference ? { reference: style.reference } : undefined,
  );
  return `${formatNumber(value, style)} ${unit}`;
}

/** @example formatNumber(0.1 + 0.2) // "0.3" */
export function formatNumber(value: number, { decimals, significant = 10 }: NumberStyle = {}): string {
  if (!Number.isFinite(value)) return "no value";
  if (decimals !== undefined) return plainZero(value.toFixed(decimals));
  return plainZero(String(Number(value.toPrecision(significant))));
}

export interface MeasuredNumber {
  readonly value: number;
  /** As it is to be printed, standard or expanded; without it the value gets four significant digits. */
  readonly uncertainty?: number;
  /** Numbers the value is compared with, in the same unit: limits, and acceptance limits where there are. */
  readonly comparedWith?: readonly number[];
}

/** A value and its uncertainty as texts of one number of decimals. */
export interface MeasuredText {
  readonly value: string;
  readonly uncertainty?: string;
}

const MOST_DECIMALS = 15;

/**
 * Rounds the uncertainty to two significant digits and the value to the same place (GUM, JCGM 100:2008, 7.2.6).
 * A value that differs from a number it is compared with keeps as many more digits as it takes to see the
 * difference: a leak of 60.004 against 60 is not printed as 60.0.
 * @example formatMeasured({ value: 34.268, uncertainty: 0.851 }) // { value: "34.27", uncertainty: "0.85" }
 */
export function formatMeasured({ value, uncertainty, comparedWith = [] }: MeasuredNumber): MeasuredText {
  if (!Number.isFinite(value)) return { value: "no value" };
  const stated = uncertainty !== undefined && Number.isFinite(uncertainty) && uncertainty > 0;
  let place = stated ? decimalsFor(uncertainty, 2) : decimalsFor(value, 4);
  while (place < MOST_DECIMALS && comparedWith.some((other) => hidesDifference(value, other, place))) place++;
  return {
    value: rounded(value, place),
    ...(stated ? { uncertainty: rounded(uncertainty, decimalsFor(uncertainty, 2)) } : {}),
  };
}

/**
 * Text of a measured quantity with its uncertainty in a unit.
 * @param measured SI values
 * @throws UnitError if the text is no unit of the dimension
 * @example formatMeasuredQuantity({ value: 5.711e-7, uncertainty: 1.418e-8 }, "leakRate", "mL/min") // "34.27 ± 0.85 mL/min"
 */
export function formatMeasuredQuantity(measured: MeasuredNumber, dimension: Dimension, unit: string): string {
  const inUnit = (value_SI: number) => Number(toUnit(value_SI, dimension, unit).toPrecision(14));
  // A difference: scales with a zero of their own (degC) would shift it.
  const spread = (value_SI: number) => toUnit(value_SI, dimension, unit) - toUnit(0, dimension, unit);
  const text = formatMeasured({
    value: inUnit(measured.value),
    ...(measured.uncertainty === undefined ? {} : { uncertainty: spread(measured.uncertainty) }),
    comparedWith: (measured.comparedWith ?? []).map(inUnit),
  });
  if (text.uncertainty === undefined) return `${text.value} ${unit}`;
  return `${text.value} ± ${text.uncertainty} ${unit}`;
}

function hidesDifference(value: number, other: number, place: number): boolean {
  const shown = Number(rounded(value, place));
  return value !== other && Math.sign(shown - other) !== Math.sign(value - other);
}

/** Decimals (negative: places before the point) that leave so many significant digits. */
function decimalsFor(value: number, significant: number): number {
  if (value === 0 || !Number.isFinite(value)) return 0;
  const [, exponent = "0"] = Math.abs(value)
    .toExponential(significant - 1)
    .split("e");
  return significant - 1 - Number(exponent);
}

function rounded(value: number, place: number): string {
  if (place >= 0) return plainZero(value.toFixed(Math.min(place, 100)));
  const scale = 10 ** -place;
  return plainZero(String(Math.round(value / scale) * scale));
}

function plainZero(text: string): string {
  return /^-0(?:\.0*)?$/.test(text) ? text.slice(1) : text;
}
