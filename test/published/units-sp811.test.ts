import { describe, expect, test } from "vitest";
import { convert, type Dimension, parseQuantity } from "../../limits/quantity.ts";

/** One conversion: so many of one unit are so many of the other, to a relative tolerance. */
type Row = readonly [
  id: string,
  dimension: Dimension,
  value: number,
  from: string,
  to: string,
  expected: number,
  rel: number,
];

// NIST SP 811:2008, appendices B.8 and B.9 (figures from memory of the printed tables; the ones with nine and more
// digits from the exact definitions given there, computed independently with GNU units).
const SP811: readonly Row[] = [
  ["U01", "pressure", 1, "inH2O", "Pa", 249.0889, 2e-5],
  ["U02", "pressure", 1, "inH2O@4degC", "Pa", 249.082, 2e-5],
  ["U03", "pressure", 1, "inH2O@60degF", "Pa", 248.84, 2e-5],
  ["U06", "pressure", 1, "mmH2O", "Pa", 9.80665, 1e-8],
  ["U07", "pressure", 1, "psi", "Pa", 6894.757293, 1e-9],
  ["U07", "pressure", 1, "psi", "mbar", 68.94757293, 1e-9],
  ["U07", "pressure", 1, "psi", "inH2O", 27.67990471, 1e-9],
  ["U08", "pressure", 1, "mbar", "Pa", 100, 0],
  ["U09", "pressure", 1, "mmHg", "Pa", 133.322387, 1e-8],
  ["U10", "pressure", 1, "inHg", "Pa", 3386.38864, 1e-8],
  ["U11", "pressure", 1, "kgf/cm2", "Pa", 98_066.5, 0],
  ["ftH2O", "pressure", 1, "ftH2O", "Pa", 2989.067, 1e-7],
  ["ftH2O 39.2 degF", "pressure", 1, "ftH2O@4degC", "Pa", 2988.98, 2e-6],
  ["mmH2O 4 degC", "pressure", 1, "mmH2O@4degC", "Pa", 9.80638, 1e-6],
  ["inHg 32 degF", "pressure", 1, "inHg@0degC", "Pa", 3386.38, 2e-6],
  ["cmHg 0 degC", "pressure", 1, "cmHg@0degC", "Pa", 1333.22, 3e-6],
  ["torr", "pressure", 1, "torr", "Pa", 133.3224, 4e-7],
  ["U12", "flow", 1, "cfm", "L/s", 0.4719474432, 1e-9],
  ["U12", "flow", 1, "cfm", "m3/h", 1.699010796, 1e-9],
  ["U13", "flow", 1, "gal/min", "L/s", 0.0630901964, 1e-9],
  ["U13", "flow", 1, "gal/min", "L/min", 3.785411784, 1e-12],
  ["U14", "flow", 1, "UK gal/min", "L/s", 0.07576816667, 1e-9],
  ["U14", "flow", 1, "UK gal/min", "L/min", 4.54609, 1e-12],
  ["U15", "flow", 1, "L/s", "m3/h", 3.6, 1e-15],
  ["U15", "flow", 1, "L/s", "cfm", 2.118880003, 1e-9],
  ["U31", "flow", 15, "US gal/min", "L/s", 0.946352946, 1e-9],
  ["U31", "flow", 15, "US gal/min", "m3/h", 3.406870606, 1e-9],
  ["U32", "pressure", 90, "inH2O", "kPa", 22.4180019, 1e-9],
  ["U33", "pressure", 2500, "Pa", "mmH2O", 254.9290532, 1e-9],
  ["U34", "flow", 34, "L/s", "cfm", 72.04192011, 1e-9],
  ["U34", "flow", 34, "L/s", "m3/h", 122.4, 1e-12],
  ["U35", "pressure", -22, "kPa", "inHg", -6.496596326, 1e-9],
  ["U35", "pressure", -22, "kPa", "mbar", -220, 1e-15],
  ["horsepower", "power", 1, "hp", "W", 745.6999, 1e-7],
  ["inch", "length", 1, "in", "mm", 25.4, 1e-15],
  ["cubic inch", "volume", 1, "in3", "m3", 1.6387064e-5, 1e-15],
  ["degF to K", "temperature", 68, "degF", "K", 293.15, 1e-15],
  ["degF to degC", "temperature", -40, "degF", "degC", -40, 1e-12],
];

// CIPM water density at 20 degC, 998.2067 kg/m3 (from memory).
const WATER_20C: Row = ["U04", "pressure", 1, "inH2O@20degC", "Pa", 248.6422189, 1e-9];

const close = (value: number, expected: number, rel: number) =>
  expect(Math.abs(value - expected)).toBeLessThanOrEqual(rel * Math.abs(expected));

// 62.3205 lb/ft3, the water of ASTM F558's constant 0.117354 W/(cfm inH2O), back-computed: 0.007 % above ours at 68 degF.
const F558: Row = ["U05", "pressure", 1, "inH2O@68degF", "Pa", 248.6590439, 1e-4];

describe("conversions against NIST SP 811", () => {
  test.each([...SP811, WATER_20C, F558])(
    "%s: %s, %d %s in %s is %d",
    (_id, dimension, value, from, to, expected, rel) =>
      close(convert(value, from, to, dimension), expected, rel),
  );
});

// Amount of gas n = p V / (R T) with R = 8.314462618 J/(mol K) (CODATA 2018), computed independently.
const LEAKS: readonly (readonly [id: string, text: string, unit: string, expected: number])[] = [
  ["U16", "1 Pa.m3/s @ 20 degC", "mbar.L/s @ 20 degC", 10],
  ["U16", "1 Pa.m3/s @ 20 degC", "atm.cm3/s @ 20 degC", 9.869232667],
  ["U16", "1 Pa.m3/s @ 0 degC", "sccm @ 0 degC", 592.15396],
  ["U17", "1 mbar.L/s @ 20 degC", "Pa.m3/s @ 20 degC", 0.1],
  ["U17", "1 mbar.L/s @ 20 degC", "torr.L/s @ 20 degC", 0.7500616827],
  ["U18", "1 sccm @ 0 degC", "Pa.m3/s @ 0 degC", 0.00168875],
  ["U18", "1 sccm @ 0 degC", "mol/s", 7.435838901e-7],
  ["U18", "1 sccm @ 0 degC", "sccm @ 20 degC", 1.073219843],
  ["U19", "1 sccm @ 20 degC", "Pa.m3/s @ 20 degC", 0.00168875],
  ["U19", "1 sccm @ 20 degC", "mol/s", 6.928532819e-7],
  ["U19", "1 sccm @ 20 degC", "sccm @ 0 degC", 0.9317755415],
  ["U20", "1 atm.cm3/s @ 20 degC", "Pa.m3/s @ 20 degC", 0.101325],
  ["U20", "1 atm.cm3/s @ 20 degC", "mL/min @ 20 degC", 60],
  ["U21", "0.90 Pa.m3/s @ 20 degC", "mol/s", 0.0003692482331],
  ["U21", "0.90 Pa.m3/s @ 20 degC", "sccm @ 0 degC", 496.5791191],
  ["U21", "0.90 Pa.m3/s @ 20 degC", "sccm @ 20 degC", 532.938564],
  ["U36", "5 torr.L/s @ 20 degC", "Pa.m3/s @ 20 degC", 0.6666118421],
];

describe("leak rates against the ideal gas law", () => {
  test.each(LEAKS)("%s: %s in %s is %d", (_id, text, unit, expected) => {
    const [digits = "", ...from] = text.split(" ");
    close(convert(Number(digits), from.join(" "), unit, "leakRate"), expected, 1e-9);
  });

  test("a leak of 0.09 Pa.m3/s of gas at 20 degC is 53.29 mL/min at the house reference", () => {
    const parsed = parseQuantity("0.09 Pa.m3/s @ 20 degC", "leakRate");
    if (!parsed.ok) throw new Error(parsed.expected);
    close(parsed.value.value_SI * 6e7, 53.2938564, 1e-9);
  });
});
