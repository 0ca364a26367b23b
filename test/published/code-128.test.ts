import { expect, test } from "vitest";
import { symbolOf } from "../../station/print/symbol.ts";

/** ISO/IEC 15417: widths of bars and spaces of the values 0 to 105, from memory. */
const WIDTHS =
  "212222 222122 222221 121223 121322 131222 122213 122312 132212 221213 221312 231212 112232 122132 122231 113222 123122 123221 223211 221132 221231 213212 223112 312131 311222 321122 321221 312212 322112 322211 212123 212321 232121 111323 131123 131321 112313 132113 132311 211313 231113 231311 112133 112331 132131 113123 113321 133121 313121 211331 231131 213113 213311 213131 311123 311321 331121 312113 312311 332111 314111 221411 431111 111224 111422 121124 121421 141122 141221 112214 112412 122114 122411 142112 142211 241211 221114 413111 241112 134111 111242 121142 121241 114212 124112 124211 411212 421112 421211 212141 214121 412121 111143 111341 131141 114113 114311 411113 411311 113141 114131 311141 411131 211412 211214 211232".split(
    " ",
  );
const STOP = "2331112";

/** Start value and each value by its place, modulo 103. */
function checkOf(values: readonly number[]): number {
  return values.reduce((sum, value, i) => sum + value * Math.max(i, 1), 0) % 103;
}

test.each<readonly [values: readonly number[], check: number, source: string]>([
  [[103, 48, 42, 42, 17, 18, 19, 35], 54, "PJJ123C, the common encyclopedia's example"],
  [
    [104, 51, 46, 13, 18, 20, 16, 23, 13, 16, 16, 20, 18],
    14,
    "SN-2407-0042 in code set B, by the definition",
  ],
  [[103, 40, 41, 99, 34, 56, 78], 67, "HI345678 with a change of code set, public barcode pages"],
  [[105, 34, 56, 78], 73, "345678 in code set C, a public font's page"],
])("the check of %j is %s: %s", (values, check) => {
  expect(checkOf(values)).toBe(check);
});

test.each(["PJJ123C", "SN-2407-0042", "HI345678", "345678", "TUB531812", "pod~1"])(
  "a printed Code 128 of %s ends in the check symbol that its values ask for, and the stop",
  (serial) => {
    const values = valuesOf(serial);
    expect(values.at(-1)).toBe(checkOf(values.slice(0, -1)));
  },
);

test("a printed Code 128 of six digits is the published one, start C and check 73", () => {
  expect(valuesOf("345678")).toEqual([105, 34, 56, 78, 73]);
});

/** Start, data and check as printed. */
function valuesOf(serial: string): number[] {
  const { dark, width } = symbolOf("code128", serial);
  const edges = [...dark.flatMap(({ x, width: wide }) => [x, x + wide])];
  const widths = edges.slice(1).map((edge, i) => edge - (edges[i] ?? 0));
  expect(edges.at(-1)).toBe(width);
  const text = widths.join("");
  expect(text.slice(-STOP.length)).toBe(STOP);
  const values = (text.slice(0, -STOP.length).match(/.{6}/g) ?? []).map((one) => WIDTHS.indexOf(one));
  expect(values).not.toContain(-1);
  return values;
}
