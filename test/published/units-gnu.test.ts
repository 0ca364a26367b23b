import { execFileSync } from "node:child_process";
import { expect, test } from "vitest";
import { convert, type Dimension } from "../../limits/quantity.ts";

/**
 * Factors against GNU units (its own table of definitions, https://www.gnu.org/software/units/). GNU units has
 * the conventional water and mercury columns only, which is what the plain names mean here as well.
 */
const TABLE: readonly (readonly [Dimension, ours: string, theirs: string, si: string, theirSI: string])[] = [
  ["pressure", "mPa", "mPa", "Pa", "Pa"],
  ["pressure", "daPa", "daPa", "Pa", "Pa"],
  ["pressure", "hPa", "hPa", "Pa", "Pa"],
  ["pressure", "kPa", "kPa", "Pa", "Pa"],
  ["pressure", "MPa", "MPa", "Pa", "Pa"],
  ["pressure", "N/m2", "N/m^2", "Pa", "Pa"],
  ["pressure", "ubar", "microbar", "Pa", "Pa"],
  ["pressure", "mbar", "mbar", "Pa", "Pa"],
  ["pressure", "bar", "bar", "Pa", "Pa"],
  ["pressure", "atm", "atm", "Pa", "Pa"],
  ["pressure", "torr", "torr", "Pa", "Pa"],
  ["pressure", "mTorr", "millitorr", "Pa", "Pa"],
  ["pressure", "psi", "psi", "Pa", "Pa"],
  ["pressure", "psf", "lbf/ft^2", "Pa", "Pa"],
  ["pressure", "N/mm2", "N/mm^2", "Pa", "Pa"],
  ["pressure", "GPa", "GPa", "Pa", "Pa"],
  ["pressure", "dyn/cm2", "dyne/cm^2", "Pa", "Pa"],
  ["pressure", "kgf/cm2", "kgf/cm^2", "Pa", "Pa"],
  ["pressure", "mmH2O", "mm water", "Pa", "Pa"],
  ["pressure", "cmH2O", "cm water", "Pa", "Pa"],
  ["pressure", "inH2O", "inH2O", "Pa", "Pa"],
  ["pressure", "inWC", "inH2O", "Pa", "Pa"],
  ["pressure", "mm WG", "mm water", "Pa", "Pa"],
  ["pressure", "ftH2O", "ft water", "Pa", "Pa"],
  ["pressure", "mmHg", "mmHg", "Pa", "Pa"],
  ["pressure", "cmHg", "cm Hg", "Pa", "Pa"],
  ["pressure", "inHg", "inHg", "Pa", "Pa"],
  ["power", "kW", "kW", "W", "W"],
  ["power", "mW", "mW", "W", "W"],
  ["power", "hp", "horsepower", "W", "W"],
  ["time", "ms", "ms", "s", "s"],
  ["time", "us", "us", "s", "s"],
  ["time", "min", "min", "s", "s"],
  ["time", "h", "hour", "s", "s"],
  ["time", "d", "day", "s", "s"],
  ["volume", "L", "liter", "m3", "m^3"],
  ["volume", "mL", "ml", "m3", "m^3"],
  ["volume", "cc", "cc", "m3", "m^3"],
  ["volume", "uL", "microliter", "m3", "m^3"],
  ["volume", "ft3", "ft^3", "m3", "m^3"],
  ["volume", "in3", "in^3", "m3", "m^3"],
  ["volume", "gal", "usgallon", "m3", "m^3"],
  ["volume", "UK gal", "brgallon", "m3", "m^3"],
  ["length", "um", "micron", "m", "m"],
  ["length", "cm", "cm", "m", "m"],
  ["length", "mm", "mm", "m", "m"],
  ["length", "in", "inch", "m", "m"],
  ["length", "ft", "foot", "m", "m"],
  ["voltage", "mV", "mV", "V", "V"],
  ["voltage", "uV", "microvolt", "V", "V"],
  ["voltage", "kV", "kV", "V", "V"],
  ["ratio", "%", "percent", "fraction", "1"],
  ["ratio", "ppm", "ppm", "fraction", "1"],
  ["relativeHumidity", "%", "percent", "fraction", "1"],
  ["temperatureDifference", "degF", "degF", "K", "K"],
  ["temperatureDifference", "degC", "degC", "K", "K"],
  ["flow", "L/s", "liter/s", "m3/s", "m^3/s"],
  ["flow", "L/min", "liter/min", "m3/s", "m^3/s"],
  ["flow", "mL/min", "ml/min", "m3/s", "m^3/s"],
  ["flow", "cm3/min", "cm^3/min", "m3/s", "m^3/s"],
  ["flow", "m3/h", "m^3/hour", "m3/s", "m^3/s"],
  ["flow", "cfm", "cfm", "m3/s", "m^3/s"],
  ["flow", "cfh", "cfh", "m3/s", "m^3/s"],
  ["flow", "ft3/s", "ft^3/s", "m3/s", "m^3/s"],
  ["flow", "gal/min", "usgallon/min", "m3/s", "m^3/s"],
  ["flow", "UK gal/h", "brgallon/hour", "m3/s", "m^3/s"],
  ["leakRate", "Pa.m3/s @ 0 degC", "Pa m^3/s / (R 273.15 K)", "mol/s", "mol/s"],
  ["leakRate", "mbar.L/s @ 20 degC", "mbar liter/s / (R 293.15 K)", "mol/s", "mol/s"],
  ["leakRate", "kPa.L/min @ 25 degC", "kPa liter/min / (R 298.15 K)", "mol/s", "mol/s"],
  ["leakRate", "torr.L/s @ 20 degC", "torr liter/s / (R 293.15 K)", "mol/s", "mol/s"],
  ["leakRate", "atm.cm3/s @ 0 degC", "atm cm^3/s / (R 273.15 K)", "mol/s", "mol/s"],
  ["leakRate", "sccm @ 0 degC", "atm cm^3/min / (R 273.15 K)", "mol/s", "mol/s"],
  ["leakRate", "slpm @ 0 degC, 100 kPa", "100 kPa liter/min / (R 273.15 K)", "mol/s", "mol/s"],
  ["leakRate", "mL/min @ 15 degC, 101.325 kPa", "atm ml/min / (R 288.15 K)", "mol/s", "mol/s"],
  ["leakRate", "std cc/s @ 0 degC", "atm cm^3/s / (R 273.15 K)", "mol/s", "mol/s"],
  ["leakRate", "NL/h @ 0 degC", "atm liter/hour / (R 273.15 K)", "mol/s", "mol/s"],
  ["leakRate", "umol/min", "micromole/min", "mol/s", "mol/s"],
  ["leakRate", "scfm @ 60 degF", "atm ft^3/min / (R 2598.35|9 K)", "mol/s", "mol/s"],
];

test.each(TABLE)("%s: one %s is what GNU units says of %s, in %s", (dimension, ours, theirs, si, theirSI) => {
  const factor = gnuUnits(theirs, theirSI);
  expect(Math.abs(convert(1, ours, si, dimension) / factor - 1)).toBeLessThan(1e-9);
});

test.each([
  ["degC", "tempC", 21.5],
  ["degC", "tempC", -3],
  ["degF", "tempF", 68],
  ["degF", "tempF", -40],
])("a temperature in %s is what GNU units makes of %s(%d)", (ours, theirs, value) => {
  expect(convert(value, ours, "K", "temperature")).toBeCloseTo(gnuUnits(`${theirs}(${value})`, "K"), 9);
});

function gnuUnits(have: string, want: string): number {
  // Needs the Debian package "units"; without it these tests fail rather than pass unseen.
  const text = execFileSync("units", ["-t", "-o", "%.15g", have, want], { encoding: "utf8" }).trim();
  const factor = Number(text);
  if (!Number.isFinite(factor))
    throw new Error(`GNU units answered ${JSON.stringify(text)} to ${have} in ${want}`);
  return factor;
}
