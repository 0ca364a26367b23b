/** IEEE 488.2-1992 7.7.2 NRf as a regular expression: NR1 "+4711", NR2 "-79.98", NR3 "+1.20345E+04". */
export const NRF_PATTERN = String.raw`[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?`;

const NRF = new RegExp(`^${NRF_PATTERN}$`);
const NRF_LONGEST = 255;

/**
 * A decimal number as instruments send it, the whole text or nothing.
 * @returns undefined for anything else, and for what a double cannot hold (overflow, or a non-zero that
 *   would become zero)
 * @example parseNrf("-8.45012E+03") // -8450.12
 * @example parseNrf("12.34.56") // undefined
 * @see IEEE Std 488.2-1992, 7.7.2 decimal numeric program data
 */
export function parseNrf(text: string): number | undefined {
  if (text.length > NRF_LONGEST || !NRF.test(text)) return undefined;
  const value = Number(text);
  if (!Number.isFinite(value)) return undefined;
  if (value === 0 && /[1-9]/.test(text.replace(/[eE].*$/, ""))) return undefined;
  return value;
}
