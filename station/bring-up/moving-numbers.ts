/** Numbers on a line that are no measured values: counters and clocks. */

const LEAST_LINES = 5;
/** Part of the steps that must be single ones: lines may be lost. */
const LEAST_STEPS = 0.8;

/**
 * Whether whole numbers count the lines.
 * @example isCounter(["000997", "000998", "000999", "001000", "001001"]) // true
 */
export function isCounter(texts: readonly string[]): boolean {
  if (texts.length < LEAST_LINES || !texts.every((text) => /^\d+$/.test(text))) return false;
  const numbers = texts.map(Number);
  const steps = numbers.slice(1).map((number, i) => number - (numbers[i] ?? 0));
  const counted = steps.filter((step) => step === 1).length;
  const back = steps.filter((step) => step < 0).length;
  return counted + back >= LEAST_STEPS * steps.length && counted > 0 && steps.every((step) => step !== 0);
}

/**
 * Where a counter begins anew: seen, or as many digits as it is filled up to.
 * @example counterModulus(["000997", "000998"]) // { modulus: 1000000, isSure: true }
 */
export function counterModulus(texts: readonly string[]): { modulus: number; isSure: boolean } {
  const numbers = texts.map(Number);
  const wrap = numbers.findIndex((number, i) => i > 0 && number === 0 && (numbers[i - 1] ?? 0) > 1);
  if (wrap > 0) return { modulus: (numbers[wrap - 1] ?? 0) + 1, isSure: true };
  const length = texts[0]?.length ?? 1;
  const isFilled = texts.every((text) => text.length === length) && texts.some((text) => /^0\d/.test(text));
  if (isFilled) return { modulus: 10 ** length, isSure: true };
  const largest = Math.max(...numbers);
  // Counters begin anew at a power of two or of ten; which, the manual must say.
  return { modulus: [256, 65_536].find((modulus) => modulus > largest) ?? 2 ** 32, isSure: false };
}

const CLOCKS = [
  ["s", 1],
  ["ms", 1e3],
  ["us", 1e6],
] as const;
/** How much faster or slower a clock may seem on lines that come in bunches. */
const RATE_TOLERANCE = 0.1;
const LEAST_SPAN_s = 0.5;

/**
 * The unit of numbers that rise as time goes on, null where they are no clock.
 * @param at_s when each line came
 * @example timeUnit(["100", "200", "300", "400", "500", "600"], [0, 0.1, 0.2, 0.3, 0.4, 0.5]) // "ms"
 */
export function timeUnit(texts: readonly string[], at_s: readonly number[]): "s" | "ms" | "us" | null {
  const passed_s = (at_s.at(-1) ?? 0) - (at_s[0] ?? 0);
  if (texts.length < LEAST_LINES || passed_s < LEAST_SPAN_s) return null;
  const numbers = texts.map(Number);
  if (!numbers.every((number, i) => i === 0 || number > (numbers[i - 1] ?? 0))) return null;
  const rate = ((numbers.at(-1) ?? 0) - (numbers[0] ?? 0)) / passed_s;
  return CLOCKS.find(([, perSecond]) => Math.abs(rate / perSecond - 1) < RATE_TOLERANCE)?.[0] ?? null;
}
