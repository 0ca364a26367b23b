import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { formatQuantity } from "../../limits/print-quantity.ts";
import {
  convert,
  type Dimension,
  HOUSE_REFERENCE,
  parseQuantity,
  toUnit,
  UnitError,
} from "../../limits/quantity.ts";

const UNITS: readonly (readonly [Dimension, readonly string[]])[] = [
  [
    "pressure",
    ["Pa", "mPa", "hPa", "kPa", "MPa", "mbar", "bar", "atm", "torr", "psi", "inH2O", "mmH2O@4degC", "inHg"],
  ],
  [
    "leakRate",
    [
      "mL/min @ 20 degC",
      "mL/min @ 0 degC",
      "L/h @ 25 degC, 100 kPa",
      "Pa.m3/s @ 0 degC",
      "sccm @ 0 degC",
      "mol/s",
    ],
  ],
  ["flow", ["m3/s", "m3/h", "L/s", "L/min", "mL/min", "cm3/min", "ft3/min", "cfm", "gal/min", "UK gal/min"]],
  ["temperature", ["K", "degC", "degF"]],
  ["temperatureDifference", ["K", "degC", "degF"]],
  ["power", ["W", "mW", "kW", "hp"]],
  ["time", ["s", "ms", "us", "min", "h", "d"]],
  ["volume", ["m3", "L", "mL", "uL", "ft3", "in3", "gal", "UK gal"]],
  ["length", ["m", "cm", "mm", "um", "in", "ft"]],
  ["relativeHumidity", ["%", "fraction"]],
  ["voltage", ["V", "mV", "kV"]],
  ["ratio", ["%", "ppm", "fraction"]],
];

const unitOfAny = fc.constantFrom(
  ...UNITS.flatMap(([dimension, units]) => units.map((unit) => [dimension, unit] as const)),
);

const SI = (text: string, dimension: Dimension) => {
  const parsed = parseQuantity(text, dimension);
  if (!parsed.ok) throw new Error(`${text}: ${parsed.expected}`);
  return parsed.value.value_SI;
};

describe("reading", () => {
  test.each([
    ["Pa·m³/s", "1 Pa.m3/s @ 20 degC", "1 Pa·m³/s @ 20 °C"],
    ["Pa m3 s-1", "1 Pa.m3/s @ 20 degC", "1 Pa m3 s-1 @20degC"],
    ["mbar l/s", "1 mbar.L/s @ 20 degC", "1 mbar·l/s @ 20 ℃"],
    ["ml/min", "1 mL/min @ 20 degC", "1 ml/min @ 20 degC, 101.325 kPa"],
    ["ccm/min", "1 mL/min @ 20 degC", "1 cm^3/min @ 293.15 K"],
  ])("the leak rate unit %s has several spellings", (_unit, usual, other) => {
    expect(SI(other, "leakRate")).toBe(SI(usual, "leakRate"));
  });

  test.each([
    ["flow", "120 m³/h", "120 m3/h"],
    ["flow", "55 l/s", "55 L/s"],
    ["flow", "72 ft3/min", "72 cfm"],
    ["flow", "2 US gal/min", "2 gpm"],
    ["temperature", "20 °C", "20 degC"],
    ["pressure", "−8 kPa", "-8 kPa"],
    ["pressure", "90 inH2O @ 68 degF", "90 inH2O@20degC"],
    ["time", "5 µs", "5 us"],
    ["relativeHumidity", "45 % RH", "45 %"],
  ] as const)("%s: %s is %s", (dimension, one, other) => {
    expect(SI(one, dimension)).toBe(SI(other, dimension));
  });

  test("whole numbers of usual units come out exact", () => {
    expect(SI("60 mL/min @ 20 degC", "leakRate")).toBe(1e-6);
    expect(SI("12 L", "volume")).toBe(0.012);
    expect(SI("5 %", "ratio")).toBe(0.05);
    expect(SI("20 degC", "temperature")).toBe(293.15);
  });

  test("the case of a prefix counts", () => {
    expect(SI("1 mPa", "pressure")).toBe(0.001);
    expect(SI("1 MPa", "pressure")).toBe(1e6);
  });
});

describe("refusing", () => {
  test.each([
    ["pressure", "-8 kpa", "did you mean kPa?"],
    ["pressure", "-8 KPA", "did you mean kPa?"],
    ["pressure", "8 mbra", "did you mean mbar?"],
    ["pressure", "8", "the unit is missing"],
    ["pressure", "1,5 kPa", "write a decimal point"],
    ["pressure", "1e999 Pa", "the number is too large"],
    ["pressure", "1 mmHg@20degC", "the columns known here are mmHg, mmHg@0degC"],
    ["time", "5 L", "L is the unit of a volume"],
    ["flow", "55 L/sek", "did you mean L/s?"],
    ["flow", "55 L/s @ 20 degC", "a flow is the volume that really passes, without reference conditions"],
    ["temperature", "20 C", undefined],
    ["temperature", "-300 degC", undefined],
    ["ratio", "0.02", "the unit is missing"],
    ["leakRate", "60 mL/min", "the reference conditions are missing: add @ 20 degC"],
    ["leakRate", "60 ml/mni @ 20 degC", "did you mean mL/min?"],
    ["leakRate", "60 sccm", "sccm means nothing without its conditions: write sccm @ 0 degC or @ 20 degC"],
    ["leakRate", "1 mbar.L/s @ 20 degC, 100 kPa", "a throughput needs its temperature only"],
    ["leakRate", "1 mol/s @ 20 degC", "mol/s needs no conditions"],
    ["leakRate", "1 mL/min @ -300 degC", undefined],
    ["leakRate", "1 mL/min @ 20", undefined],
    ["leakRate", "1 mL/min @ 20 degC, 0 Pa", undefined],
    ["leakRate", "1 mL/min @ 20 degC, 1 bar, 5 %", undefined],
    ["pressure", "kPa", undefined],
    ["pressure", "", undefined],
    ["pressure", "5 kPa 3", undefined],
    ["pressure", "--5 kPa", undefined],
    ["pressure", "0x10 Pa", undefined],
    ["pressure", "Infinity Pa", undefined],
    ["pressure", "5 constructor", undefined],
  ] as const)("%s %j is refused with the hint %j", (dimension, text, hint) => {
    const parsed = parseQuantity(text, dimension);
    if (parsed.ok) throw new Error(`taken as ${parsed.value.value_SI}`);
    expect(parsed.found).toBe(JSON.stringify(text));
    if (hint !== undefined) expect(parsed.hint).toBe(hint);
  });

  test("a unit from code that does not fit is an error with its reason", () => {
    expect(() => convert(1, "kPa", "L", "pressure")).toThrow(UnitError);
    expect(() => convert(1, "kPa", "L", "pressure")).toThrow(/L is the unit of a volume/);
  });

  test("no text makes the reader throw, and what it takes starts with the number it returns", () => {
    const pieces = fc.array(
      fc.oneof(
        fc.constantFrom(
          "1",
          "-",
          "+",
          ".",
          "e5",
          " ",
          "kPa",
          "mL",
          "/",
          "min",
          "@",
          "20",
          "degC",
          ",",
          "³",
          "·",
          "sccm",
        ),
        fc.string({ maxLength: 3 }),
      ),
      { maxLength: 8 },
    );
    fc.assert(
      fc.property(fc.constantFrom(...UNITS.map(([dimension]) => dimension)), pieces, (dimension, words) => {
        const text = words.join("");
        const parsed = parseQuantity(text, dimension, { reference: HOUSE_REFERENCE });
        if (!parsed.ok) return;
        const digits = /^[+-]?[\d.]+(?:e[+-]?\d+)?/i.exec(text.trim().replace("−", "-"))?.[0];
        expect(Number(digits)).not.toBeNaN();
        const { numerator, denominator, zero } = parsed.value.unit;
        expect(parsed.value.value_SI).toBe(((Number(digits) + zero) * numerator) / denominator);
      }),
      { numRuns: 2000 },
    );
  });
});

describe("leak rates", () => {
  test("a volume flow without conditions refers to what the caller says", () => {
    const cold = { temperature_K: 273.15, pressure_Pa: 101_325 };
    const parsed = parseQuantity("60 mL/min", "leakRate", { reference: cold });
    expect(parsed.ok && parsed.value.value_SI).toBe(SI("60 mL/min @ 0 degC", "leakRate"));
    const throughput = parseQuantity("1 mbar.L/s", "leakRate", { reference: cold });
    expect(throughput.ok && throughput.value.value_SI).toBe(SI("1 mbar.L/s @ 0 degC", "leakRate"));
  });

  test("sccm is refused even then: it names a condition of its own, but not which", () => {
    expect(parseQuantity("60 sccm", "leakRate", { reference: HOUSE_REFERENCE }).ok).toBe(false);
  });

  test("printing without conditions means the house reference", () => {
    expect(toUnit(1e-6, "leakRate", "mL/min")).toBe(60);
    expect(formatQuantity(1e-6, "leakRate", "mL/min")).toBe("60 mL/min");
  });

  test("half the reference pressure makes twice the volume", () => {
    const twice = convert(1, "mL/min @ 20 degC", "mL/min @ 20 degC, 50.6625 kPa", "leakRate");
    expect(twice).toBeCloseTo(2, 12);
  });
});

describe("round trips", () => {
  const numbers = fc
    .double({ min: -1e6, max: 1e6, noNaN: true })
    .filter((x) => x === 0 || Math.abs(x) > 1e-6);

  test("a printed quantity reads back as the same value to 1e-9", () => {
    fc.assert(
      fc.property(unitOfAny, numbers, ([dimension, unit], number) => {
        const value_SI = Math.abs(convert(number, unit, unit, dimension));
        const text = formatQuantity(value_SI, dimension, unit, { significant: 15 });
        const back = SI(text, dimension);
        expect(Math.abs(back - value_SI)).toBeLessThanOrEqual(1e-9 * Math.max(1, value_SI));
      }),
    );
  });

  test("converting there and back gives the number again", () => {
    const pairs = fc
      .constantFrom(...UNITS)
      .chain(([dimension, units]) =>
        fc.tuple(fc.constant(dimension), fc.constantFrom(...units), fc.constantFrom(...units), numbers),
      );
    fc.assert(
      fc.property(pairs, ([dimension, from, to, number]) => {
        const back = convert(convert(number, from, to, dimension), to, from, dimension);
        expect(Math.abs(back - number)).toBeLessThanOrEqual(1e-9 * Math.max(1, Math.abs(number)));
      }),
    );
  });

  test("the unit a text was read with is spelt so that it reads back as the same unit", () => {
    fc.assert(
      fc.property(unitOfAny, ([dimension, unit]) => {
        const first = parseQuantity(`1 ${unit}`, dimension);
        if (!first.ok) throw new Error(unit);
        expect(parseQuantity(`1 ${first.value.unit.symbol}`, dimension)).toEqual(first);
      }),
    );
  });
});
