import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { convertText } from "../../limits/convert-text.ts";

function answer(text: string, to: string) {
  const converted = convertText(text, to);
  if (!converted.ok) throw new Error(converted.sentence);
  return converted.value;
}

function refusal(text: string, to: string): string {
  const converted = convertText(text, to);
  if (converted.ok) throw new Error(`taken as ${converted.value.value} ${converted.value.unit}`);
  return converted.sentence;
}

describe("a flow or leak rate", () => {
  test("is stated as a throughput at its own temperature, and the answer says at which", () => {
    const { value, unit, notes } = answer("1 mL/min @ 0 degC", "Pa.m3/s");
    expect(value).toBeCloseTo(0.00168875, 12);
    expect(unit).toBe("Pa.m3/s @ 0 degC");
    expect(notes.join()).toContain("0.0018124 Pa.m3/s @ 20 degC");
  });

  test.each([
    ["1 mL/min @ 0 degC", "L/h", 0.06, "L/h @ 0 degC"],
    ["1 mL/min @ 0 degC, 100 kPa", "L/h", 0.06, "L/h @ 0 degC, 100 kPa"],
    ["1 mL/min @ 0 degC, 100 kPa", "Pa.m3/s", 1 / 600, "Pa.m3/s @ 0 degC"],
    ["1 sccm @ 0 degC", "slm", 0.001, "slm @ 0 degC"],
    ["1 scc/s @ 0 degC", "mL/min", 60, "mL/min @ 0 degC"],
    ["1 Pa.m3/s @ 25 degC", "mbar.L/s", 10, "mbar.L/s @ 25 degC"],
  ])("%s is %s at unchanged conditions", (text, to, value, unit) => {
    const converted = answer(text, to);
    expect(converted.value).toBeCloseTo(value, 12);
    expect(converted.unit).toBe(unit);
  });

  test.each([
    ["72 cfm", "L/s", 33.98021591],
    ["1 mL/min", "L/h", 0.06],
    ["1 Pa.m3/s", "mbar.L/s", 10],
    ["1000 sccm", "slm", 1],
    ["60 mmol/min", "mol/s", 0.001],
  ])("%s in %s needs no conditions", (text, to, value) => {
    expect(answer(text, to)).toMatchObject({ value: expect.closeTo(value, 8), unit: to });
  });

  test.each([
    ["1 sccm", "Pa.m3/s", ["0.00168875 Pa.m3/s @ 0 degC", "0.0018124 Pa.m3/s @ 20 degC", "1 sccm @ 20 degC"]],
    ["1 mL/min", "Pa.m3/s", ["at 0 degC it would be", "at 20 degC it would be", '"1 mL/min @ 0 degC"']],
    ["60 mL/min", "mL/min @ 20 degC", ["64.39319 mL/min @ 20 degC", "60 mL/min @ 20 degC"]],
    ["1 Pa.m3/s", "sccm @ 0 degC", ["592.154 sccm @ 0 degC", "551.7546 sccm @ 0 degC"]],
    ["1 Pa.m3/s @ 20 degC", "mL/min", ["551.7546 mL/min @ 0 degC", "592.154 mL/min @ 20 degC"]],
    ["1 mL/min @ 0 degC", "sccm", ["1 sccm @ 0 degC", "1.07322 sccm @ 20 degC"]],
    ["1 mmol/s", "Pa.m3/s", ["2.271095 Pa.m3/s @ 0 degC", "2.437385 Pa.m3/s @ 20 degC"]],
    ["1 Nm3/h", "L/min @ 20 degC", ["17.887 L/min @ 20 degC"]],
  ])("%s in %s is refused with the readings it could have", (text, to, readings) => {
    const sentence = refusal(text, to);
    for (const reading of readings) expect(sentence).toContain(reading);
  });

  test("says the same whichever way round it is written, for every pair of conditions", () => {
    const units = ["mL/min", "sccm", "Pa.m3/s", "mbar.L/s", "std cc/s", "ft3/h"];
    const conditioned = fc
      .tuple(fc.constantFrom(...units), fc.constantFrom("0 degC", "20 degC", "77 degF", "293.15 K"))
      .map(([unit, at]) => `${unit} @ ${at}`);
    const amount = fc.constantFrom("mol/s", "nmol/h");
    const unit = fc.oneof(conditioned, amount);
    fc.assert(
      fc.property(unit, unit, fc.double({ min: 1e-6, max: 1e6, noNaN: true }), (from, to, number) => {
        const there = answer(`${number} ${from}`, to);
        const back = answer(`${there.value} ${there.unit}`, from);
        expect(Math.abs(back.value / number - 1)).toBeLessThan(1e-9);
      }),
    );
  });
});

describe("a pressure column", () => {
  test.each([
    ["1 inH2O", "Pa", 249.08891],
    ["1 inWC", "Pa", 249.08891],
    ["1 in H2O", "Pa", 249.08891],
    ["1 inH2O @ 4 degC", "Pa", 249.0819354],
    ["1 mm w.g.", "Pa", undefined],
    ["1 mmWG", "Pa", 9.80665],
  ])("%s in %s is %d", (text, to, value) => {
    if (value === undefined) expect(convertText(text, to).ok).toBe(false);
    else expect(answer(text, to).value).toBeCloseTo(value, 6);
  });

  test("without a temperature says that it is the conventional one", () => {
    expect(answer("90 inH2O", "kPa").notes.join()).toContain("conventional");
    expect(answer("2500 Pa", "mmH2O").notes.join()).toContain("conventional");
    expect(answer("90 inH2O@4degC", "kPa").notes).toEqual([]);
  });
});

describe("what can't be converted", () => {
  test.each([
    ["5 kpa", "Pa", /"kpa".*did you mean kPa\?/],
    ["5 kPa", "pa", /"pa".*did you mean Pa\?/],
    ["5 kPa", "L", /"5 kPa" can't be converted into "L": that is the unit of a volume/],
    ["5 kPa", "mL/min", /that is the unit of a flow or a leak rate/],
    ["5", "L", /unit is missing/],
    ["kPa", "L", /a number with its unit/],
    ["1,5 kPa", "Pa", /decimal point/],
    ["5 kPa", "5 Pa", /unit alone/],
    ["1 mL/min @ 20", "mol/s", /conditions like "@ 20 degC"/],
    ["1 mbar.L/s @ 20 degC, 100 kPa", "mol/s", /temperature only/],
    ["-300 degC", "K", /below absolute zero/],
    ["1 inH2O@50degC", "Pa", /known here are inH2O, inH2O@4degC, inH2O@60degF, inH2O@20degC\)/],
    ["1 Pa", "in WC @ 50 degC", /known here are in WC, in WC@4degC/],
    ["1 mmHg@20degC", "Pa", /known here are mmHg, mmHg@0degC\)/],
    ["1 psig", "kPa", /did you mean psi\?/],
  ])("%s in %s: %s", (text, to, words) => {
    expect(refusal(text, to)).toMatch(words);
  });

  test("no text makes it throw", () => {
    const piece = fc.oneof(
      fc.constantFrom(
        "1",
        "-",
        " ",
        "kPa",
        "mL",
        "/",
        "min",
        "@",
        "20",
        "degC",
        ",",
        ".",
        "sccm",
        "mol",
        "N",
        "s",
      ),
      fc.string({ maxLength: 3 }),
    );
    const text = fc.array(piece, { maxLength: 8 }).map((pieces) => pieces.join(""));
    fc.assert(
      fc.property(text, text, (from, to) => {
        const converted = convertText(from, to);
        expect(converted.ok || converted.sentence.endsWith(".")).toBe(true);
      }),
      { numRuns: 2000 },
    );
  });
});

test("a temperature is a point on the scale where it could be a difference too", () => {
  expect(answer("20 degC", "degF").value).toBeCloseTo(68, 9);
  expect(answer("20 degC", "degF").notes.join()).toContain("not as a difference");
  expect(answer("2 K", "mK").value).toBe(2000);
});
