import fc from "fast-check";
import { expect, test } from "vitest";
import {
  formatMeasured,
  formatMeasuredQuantity,
  formatNumber,
  formatQuantity,
} from "../../limits/print-quantity.ts";

// JCGM 100:2008 (GUM) 7.2.6: R = 10.056 ohm with u = 27 mohm is given as 10.06 ohm and 0.03; its mass standard
// in 7.2.2 as 100.021 47 g with u = 0.35 mg: two digits of the uncertainty, the value to the same place.
test.each([
  [100.02147, 0.00035, "100.02147", "0.00035"],
  [34.268, 0.851, "34.27", "0.85"],
  [1.23456, 0.0995, "1.23", "0.10"],
  [12_345, 1234, "12300", "1200"],
  [-0.004, 0.1, "0.00", "0.10"],
  [19_512.3, 41, "19512", "41"],
])("%d with an uncertainty of %d is printed as %s and %s", (value, uncertainty, text, uncertaintyText) => {
  expect(formatMeasured({ value, uncertainty })).toEqual({ value: text, uncertainty: uncertaintyText });
});

test.each([
  [60.004, 0.851, "60.004"],
  [59.9999996, 2, "59.9999996"],
  [60, 0.851, "60.00"],
  [61, 0.851, "61.00"],
  [1290.2, 500, "1290.2"],
])("%d with %d beside a limit of 60 or 1290 is printed as %s", (value, uncertainty, text) => {
  expect(formatMeasured({ value, uncertainty, comparedWith: [60, 1290] }).value).toBe(text);
});

test("a printed value is on the same side of its limits as the value itself", () => {
  const near = fc.tuple(
    fc.double({ min: 0.01, max: 1e5, noNaN: true }),
    fc.double({ min: -0.01, max: 0.01, noNaN: true }),
  );
  fc.assert(
    fc.property(near, fc.double({ min: 1e-6, max: 1e4, noNaN: true }), ([limit, offset], uncertainty) => {
      const value = limit * (1 + offset);
      if (Math.abs(value - limit) < 1e-13 * limit) return;
      const shown = Number(formatMeasured({ value, uncertainty, comparedWith: [limit] }).value);
      expect(Math.sign(shown - limit)).toBe(Math.sign(value - limit));
    }),
    { numRuns: 2000 },
  );
});

test("without an uncertainty a value has four digits", () => {
  expect(formatMeasured({ value: 34.26789 })).toEqual({ value: "34.27" });
  expect(formatMeasured({ value: 34.26789, uncertainty: Number.NaN })).toEqual({ value: "34.27" });
});

test("what is no number is printed as no value", () => {
  expect(formatMeasured({ value: Number.NaN, uncertainty: 1 }).value).toBe("no value");
  expect(formatNumber(Number.POSITIVE_INFINITY)).toBe("no value");
});

test("a leak rate is printed in its limit's unit with its uncertainty", () => {
  expect(formatMeasuredQuantity({ value: 5.711e-7, uncertainty: 1.418e-8 }, "leakRate", "mL/min")).toBe(
    "34.27 ± 0.85 mL/min",
  );
  const above = { value: 1.00001e-6, uncertainty: 1.418e-8, comparedWith: [1e-6] };
  expect(formatMeasuredQuantity(above, "leakRate", "mL/min")).toBe("60.001 ± 0.85 mL/min");
});

test("a temperature's uncertainty is not shifted by the zero of its scale", () => {
  expect(formatMeasuredQuantity({ value: 294.65, uncertainty: 0.2 }, "temperature", "degC")).toBe(
    "21.50 ± 0.20 degC",
  );
});

test("quantities are printed without the noise of binary fractions", () => {
  expect(formatQuantity(0.1 + 0.2, "time", "s")).toBe("0.3 s");
  expect(formatQuantity(-8000, "pressure", "kPa", { decimals: 1 })).toBe("-8.0 kPa");
  expect(formatQuantity(-0.0004, "pressure", "kPa", { decimals: 1 })).toBe("0.0 kPa");
});
