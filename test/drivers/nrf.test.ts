import fc from "fast-check";
import { describe, expect, it, test } from "vitest";
import { parseNrf } from "../../drivers/nrf.ts";

describe("numbers from instruments", () => {
  test.each([
    "",
    " ",
    "+",
    "-",
    ".",
    "12.34.56",
    "1,5",
    "0x10",
    "1e",
    "e5",
    "1e5.0",
    "--1",
    "+-1",
    "1_000",
    "NaN",
    "Infinity",
    "-Infinity",
    "12 ",
    " 12",
    "12\n",
    "1e999",
    "1e-400",
    "１２",
    "4.5V",
    "0b1",
    "1n",
    "5.6.",
  ])("%j is no number", (text) => expect(parseNrf(text)).toBeUndefined());

  test.each([
    ["0", 0],
    ["-0.0", -0],
    ["007", 7],
    ["+4711", 4711],
    ["-79.98", -79.98],
    [".5", 0.5],
    ["5.", 5],
    ["-8.45012E+03", -8450.12],
    ["1e3", 1000],
    ["0e999", 0],
  ])("%j is %d", (text, value) => expect(parseNrf(text)).toBe(value));

  it("reads back every finite number as it was printed", () => {
    fc.assert(
      fc.property(fc.double({ noNaN: true, noDefaultInfinity: true }), fc.boolean(), (value, exponential) => {
        const text = exponential ? value.toExponential() : String(value);
        expect(parseNrf(text)).toBe(Object.is(value, -0) ? 0 : value);
      }),
    );
  });

  it("accepts of any text only digits, one point, one exponent and their signs, and then as Number reads it", () => {
    const unit = fc.constantFrom(..."0123456789+-.eE xX_,nN\t");
    fc.assert(
      fc.property(fc.oneof(fc.string({ unit, maxLength: 12 }), fc.string()), (text) => {
        const value = parseNrf(text);
        const strict = /^[+-]?[0-9]*\.?[0-9]*([eE][+-]?[0-9]+)?$/.test(text) && /^[+-]?\.?[0-9]/.test(text);
        if (value === undefined) expect(strict && text !== "" && isOrdinary(Number(text))).toBe(false);
        else expect([strict, value]).toEqual([true, Number(text)]);
      }),
      { numRuns: 2000 },
    );
  });
});

/** Neither overflown nor possibly underflown. */
function isOrdinary(value: number): boolean {
  return Number.isFinite(value) && value !== 0;
}
