import { describe, expect, it } from "vitest";
import { answer, help, text } from "./calc-answers.ts";
import { drumtight } from "./command-line.ts";

/** The one sentence of a refusal. */
async function refusal(...args: string[]): Promise<string> {
  const { code, stdout, stderr } = await drumtight(["calc", ...args]);
  expect(code).toBe(2);
  expect(stdout).toBe("");
  return stderr;
}

const near = (value: number) => expect.closeTo(value, 9);
const HOLD = ["leak-rate", "--volume", "12L", "--time", "20s"];
const GAUGE = [...HOLD, "--start-pressure", "10 kPa", "--end-pressure", "9.85 kPa"];
const COOLING = ["--start-temperature", "20 degC", "--end-temperature", "19.9 degC"];

describe("calc", () => {
  it.each([[], ["--json"]])("is printed by the program as the command gives it: %s", async (...form) => {
    const asked = [...HOLD, "--pressure-change", "150 Pa"];
    const { code, stdout, stderr } = await drumtight(["calc", ...asked, ...form]);
    expect({ code, stderr }).toEqual({ code: 0, stderr: "" });
    if (form.length > 0) expect(JSON.parse(stdout)).toEqual(await answer(...asked));
    else expect(stdout).toBe(await text(...asked));
  });
});

describe("calc leak-rate", () => {
  it("turns 150 Pa lost by 12 L in 20 s into 0.09 Pa m3/s, and says what it assumed and which way the gas goes", async () => {
    expect(await answer(...HOLD, "--pressure-change", "150 Pa")).toMatchObject({
      value: near(0.09),
      unit: "Pa.m3/s @ 20 degC",
      test_pressure: "lost",
      gas_temperature: { value: 20, unit: "degC", assumed: true },
    });
    const said = await text(...HOLD, "--pressure-change", "150 Pa", "--to", "mL/min @ 20 degC");
    expect(said).toMatch(/^53\.2938564 mL\/min @ 20 degC\n/);
    expect(said).toMatch(/lost: gas goes out of a pressurised body, into an evacuated one/);
    expect(said).toMatch(/20 degC \(house default; --gas-temperature/);
  });

  it("counts the same throughput as less gas when the gas is warmer", async () => {
    const cold = [...HOLD, "--pressure-change", "150 Pa", "--gas-temperature", "0 degC"];
    expect(await answer(...cold, "--to", "mL/min @ 0 degC")).toMatchObject({
      value: near(53.293856402664694),
    });
    expect(await answer(...cold)).toMatchObject({ value: near(0.09), unit: "Pa.m3/s @ 0 degC" });
  });

  it("corrects for a change of temperature, and shows what it would have been without", async () => {
    expect(await answer(...GAUGE, "--barometer", "101.325 kPa", ...COOLING)).toMatchObject({
      value: near(0.0672376727521),
      unit: "Pa.m3/s @ 20 degC",
      gas: "out",
      without_temperature_correction: { value: near(0.09) },
      thermal_pressure_fall: { value: expect.closeTo(37.97543919, 6), unit: "Pa" },
    });
    const absolute = ["--start-pressure", "111.325 kPa", "--end-pressure", "111.175 kPa", ...COOLING];
    expect(await answer(...HOLD, ...absolute)).toMatchObject({ value: near(0.0672376727521) });
  });

  it("corrects for a barometer that moved: 150 Pa of gauge pressure lost to a rising barometer is no leak", async () => {
    const barometers = ["--start-barometer", "1013.25 hPa", "--end-barometer", "1014.75 hPa"];
    const { value } = await answer(...GAUGE, ...barometers);
    expect(Math.abs(Number(value))).toBeLessThan(1e-9);
  });

  it("is positive in a vacuum hold that loses its vacuum, and says that gas goes in", async () => {
    const vacuum = ["leak-rate", "--volume", "12.4 L", "--time", "15 s", "--barometer", "1013.25 hPa"];
    const rising = ["--start-pressure", "-10 kPa", "--end-pressure", "-9.925 kPa"];
    expect(await answer(...vacuum, ...rising)).toMatchObject({ value: near(0.062), gas: "in" });
    expect(await text(...vacuum, ...rising)).toMatch(/being lost: gas goes in \(evacuated body\)/);
    const falling = ["--start-pressure", "-10 kPa", "--end-pressure", "-10.075 kPa"];
    expect(await answer(...vacuum, ...falling)).toMatchObject({
      value: near(-0.062),
      gas: "out",
      test_pressure: "gained",
    });
  });

  it("takes pressures that are said to be absolute as such, with a barometer and without", async () => {
    const absolute = [
      ...HOLD,
      "--start-pressure",
      "111.325 kPa abs",
      "--end-pressure",
      "111.175 kPa absolute",
    ];
    expect(await answer(...absolute)).toMatchObject({ value: near(0.09), test_pressure: "lost", gas: "out" });
    expect(await text(...absolute)).toMatch(/pressurised: it starts above 101\.325 kPa, the house default/);
    expect(await text(...absolute)).not.toMatch(/For gauge pressures/);
    const high = await answer(...absolute, "--barometer", "112 kPa abs");
    expect(high).toMatchObject({
      value: near(-0.09),
      test_pressure: "gained",
      gas: "out",
      notes: [expect.stringMatching(/20 degC/)],
    });
    const gauge = [...HOLD, "--start-pressure", "10 kPa gauge", "--end-pressure", "9.85 kPa"];
    expect(await answer(...gauge, "--barometer", "1013.25 hPa")).toMatchObject({ value: near(0.09) });
  });

  it("wonders at a test pressure that changed its sign", async () => {
    const through = [...HOLD, "--start-pressure", "10 kPa", "--end-pressure", "-9.9 kPa"];
    const said = await text(...through, "--barometer", "1013.25 hPa");
    expect(said).toMatch(/one side of the room's pressure to the other.*signs/);
    expect(await text(...GAUGE, "--barometer", "1013.25 hPa")).not.toMatch(/one side/);
    // The room came down past it: nothing went through.
    const weather = ["--start-barometer", "101 kPa", "--end-barometer", "100 kPa"];
    const still = [...HOLD, "--start-pressure", "0.5 kPa", "--end-pressure", "1.5 kPa"];
    expect(await text(...still, ...weather)).not.toMatch(/one side/);
  });

  it("tells somebody who forgot the barometer what it took the pressures for", async () => {
    expect(await text(...GAUGE)).toMatch(/taken as absolute.*For gauge pressures give --barometer/);
  });

  it.each([
    ["neither form", [], /^Give --pressure-change, like "150 Pa", or --start-pressure and --end-pressure/],
    ["both forms", [...GAUGE.slice(5), "--pressure-change", "150 Pa"], /not both/],
    ["one pressure of two", ["--start-pressure", "110 kPa"], /--end-pressure is not: give both/],
    [
      "one temperature of two",
      [...GAUGE.slice(5), "--end-temperature", "20 degC"],
      /--start-temperature is not/,
    ],
    ["one barometer of two", [...GAUGE.slice(5), "--start-barometer", "1 bar"], /--end-barometer is not/],
    [
      "three barometers",
      [...GAUGE.slice(5), "--barometer", "1 bar", "--start-barometer", "1 bar", "--end-barometer", "1 bar"],
      /either --barometer/,
    ],
    [
      "two kinds of temperature",
      [...GAUGE.slice(5), ...COOLING, "--gas-temperature", "20 degC"],
      /either --gas-temperature/,
    ],
    [
      "a barometer with a change",
      ["--pressure-change", "150 Pa", "--barometer", "1 bar"],
      /--barometer has no place/,
    ],
    [
      "a temperature with a change",
      ["--pressure-change", "150 Pa", ...COOLING],
      /--start-temperature has no place/,
    ],
    [
      "a negative absolute pressure",
      ["--start-pressure", "-10 kPa", "--end-pressure", "-9 kPa"],
      /if it is a gauge pressure, give --barometer/,
    ],
    [
      "less than a vacuum",
      ["--start-pressure", "-110 kPa", "--end-pressure", "-9 kPa", "--barometer", "1013 hPa"],
      /not above zero absolute/,
    ],
    [
      "no test pressure",
      ["--start-pressure", "0 kPa", "--end-pressure", "0 kPa", "--barometer", "1013 hPa"],
      /no test pressure to lose/,
    ],
    [
      "a barometer in the wrong unit",
      [...GAUGE.slice(5), "--barometer", "1013 Pa"],
      /room's absolute pressure, like "1013 hPa"/,
    ],
    [
      "an absolute and a gauge pressure",
      ["--start-pressure", "111 kPa abs", "--end-pressure", "9 kPa", "--barometer", "1013 hPa"],
      /--start-pressure is absolute \("111 kPa abs"\) and --end-pressure is not/,
    ],
    [
      "a gauge pressure without a barometer",
      ["--start-pressure", "111 kPa", "--end-pressure", "9 kPa gauge"],
      /--end-pressure: "9 kPa gauge" is a gauge pressure: give --barometer too/,
    ],
    [
      "a gauge barometer",
      [...GAUGE.slice(5), "--barometer", "101 kPa gauge"],
      /--barometer: found "101 kPa gauge", expected the room's absolute pressure/,
    ],
    [
      "an absolute change",
      ["--pressure-change", "150 Pa abs"],
      /neither absolute nor gauge, so write "150 Pa"/,
    ],
    ["absolute zero", ["--pressure-change", "150 Pa", "--gas-temperature", "0 K"], /above absolute zero/],
    [
      "a bare number",
      ["--pressure-change", "150"],
      /^--pressure-change: found "150".*like "-8 kPa" \(the unit is missing\)/,
    ],
    ["a unit of the wrong kind", ["--pressure-change", "150 L"], /L is the unit of a volume/],
    [
      "an answer in pressure",
      ["--pressure-change", "150 Pa", "--to", "kPa"],
      /^--to: .*the unit of a pressure/,
    ],
    [
      "an answer in sccm",
      ["--pressure-change", "150 Pa", "--to", "sccm"],
      /49\.65791 sccm @ 0 degC or 53\.29386 sccm @ 20 degC/,
    ],
  ])("refuses %s in one sentence", async (_, args, words) => {
    const sentence = await refusal(...HOLD, ...args);
    expect(sentence).toMatch(words);
    expect(sentence.trimEnd().split("\n")).toHaveLength(1);
  });

  it.each([
    [["--volume", "0 L", "--time", "20 s"], /^--volume: found "0 L", expected a value above zero/],
    [["--volume", "12 L", "--time", "0 s"], /^--time: found "0 s", expected a value above zero/],
    [["--volume", "12 L"], /required option '--time <time>'/],
    [["--time", "20 s"], /required option '--volume <volume>'/],
  ])("refuses %j", async (args, words) => {
    expect(await refusal("leak-rate", ...args, "--pressure-change", "150 Pa")).toMatch(words);
  });
});

describe("calc convert", () => {
  it("answers at the conditions of the quantity, and says which", async () => {
    expect(await answer("convert", "1 mL/min @ 0 degC", "--to", "Pa.m3/s")).toMatchObject({
      value: near(0.00168875),
      unit: "Pa.m3/s @ 0 degC",
    });
    const said = await text("convert", "1 mL/min @ 0 degC", "--to", "Pa.m3/s");
    expect(said).toMatch(
      /^1 mL\/min @ 0 degC = 0\.00168875 Pa\.m3\/s @ 0 degC\n.*0\.0018124 Pa\.m3\/s @ 20 degC/,
    );
  });

  it("takes the conventional inch of water unless a temperature is said", async () => {
    const conventional = await answer("convert", "90 inH2O", "--to", "kPa");
    expect(conventional).toMatchObject({ value: near(22.4180019), unit: "kPa" });
    expect(JSON.stringify(conventional)).toContain("conventional");
    const cold = await answer("convert", "90 inH2O @4degC", "--to", "kPa");
    expect(Number(cold.value)).toBeCloseTo(22.4173742, 6);
  });

  it("reads a negative quantity, quoted or not, and one written without a space", async () => {
    expect(await answer("convert", "-22 kPa", "--to", "mbar")).toMatchObject({ value: -220 });
    expect(await answer("convert", "-22", "kPa", "--to", "mbar")).toMatchObject({ value: -220 });
    expect(await answer("convert", "--to", "L/s", "72cfm")).toMatchObject({
      value: expect.closeTo(33.98021591, 7),
    });
  });

  it.each([
    [
      ["1 sccm", "--to", "Pa.m3/s"],
      /at 0 degC it would be .* at 20 degC it would be .*write "1 sccm @ 0 degC"/,
    ],
    [["1 mL/min", "--to", "Pa.m3/s"], /at 0 degC it would be .* at 20 degC it would be/],
    [["5", "--to", "kPa"], /the unit is missing/],
    [["5 kPa"], /required option '--to <unit>'/],
    [["--to", "kPa"], /missing required argument 'quantity'/],
    [["5 kPa", "--to", "L"], /can't be converted into "L"/],
    [["5 kPa", "--to", "Pa", "--jsno"], /Unknown option --jsno/],
  ])("refuses %j", async (args, words) => {
    expect(await refusal("convert", ...args)).toMatch(words);
  });
});

describe("calc hole", () => {
  const LEAK = ["hole", "--leak-rate", "60 mL/min @ 20 degC", "--pressure", "-8 kPa"];

  it("finds the hole it was given the leak of, in suction and in pressure", async () => {
    // 1 mm and 0.5 mm, Cd 0.62: the isentropic orifice cases of test/published/equivalent-hole.test.ts.
    const suction = ["--leak-rate", "6.013312199 Pa.m3/s @ 20 degC", "--pressure", "-10 kPa"];
    expect(await answer("hole", ...suction, "--coefficient", "0.62")).toMatchObject({
      value: expect.closeTo(1, 8),
      unit: "mm",
      choked: false,
      gas: "in",
    });
    const pressure = ["--leak-rate", "1.584109305 Pa.m3/s @ 20 degC", "--pressure", "10 kPa"];
    expect(await answer("hole", ...pressure, "--coefficient", "0.62")).toMatchObject({
      value: expect.closeTo(0.5, 8),
      gas: "out",
    });
  });

  it("says when it is choked, and takes an absolute pressure where that is said", async () => {
    const given = ["--leak-rate", "9.800363583 Pa.m3/s @ 20 degC", "--pressure", "40 kPa abs"];
    expect(await answer("hole", ...given, "--coefficient", "0.62")).toMatchObject({
      value: expect.closeTo(1, 8),
      choked: true,
    });
    expect(await text("hole", ...given)).toMatch(/^Sharp-edged hole: .* mm, choked\n/);
  });

  it("finds the capillary too, and says when the laminar formula does not hold for it", async () => {
    // 50 um of 10 mm: the Hagen-Poiseuille case of test/published/equivalent-hole.test.ts.
    const given = ["--leak-rate", "0.00089941826 Pa.m3/s @ 20 degC", "--pressure", "10 kPa"];
    expect(await answer("hole", ...given, "--capillary-length", "10 mm")).toMatchObject({
      capillary: { value: expect.closeTo(0.05, 6), unit: "mm", formula_holds: true, choked: false },
    });
    expect(await answer(...LEAK)).toMatchObject({ capillary: { formula_holds: false } });
  });

  it("calls no capillary choked at pressures near each other, and says what is doubtful of it instead", async () => {
    const given = ["hole", "--leak-rate", "60 L/min @ 20 degC", "--pressure", "-8 kPa"];
    expect(await answer(...given)).toMatchObject({
      choked: false,
      capillary: { choked: false, formula_holds: false, notes: [expect.stringMatching(/Reynolds number/)] },
    });
    expect(await text(...given)).toMatch(
      /^Capillary .* mm, not choked; a rough figure, since the flow is turbulent$/m,
    );
    expect(await text(...LEAK)).toMatch(
      /^Capillary .* not choked; a rough figure, since it is short for its width$/m,
    );
  });

  it("says every house default it took, and none that was given", async () => {
    const said = await text(...LEAK);
    expect(said).toMatch(/coefficient 0\.6 \(house default\)/);
    expect(said).toMatch(/3 mm long \(house default\)/);
    expect(said).toMatch(/Barometer 101\.325 kPa \(house default\), air at 20 degC \(house default\)/);
    const told = [
      "--coefficient",
      ".62",
      "--capillary-length",
      "5mm",
      "--barometer",
      "1 bar",
      "--gas-temperature",
      "25 degC",
    ];
    expect(await text(...LEAK, ...told)).not.toMatch(/house default/);
  });

  it("has a wider hole for warmer air and a lower barometer, a narrower one for a higher coefficient", async () => {
    const width = async (...args: string[]) => Number((await answer(...LEAK, ...args)).value);
    const usual = await width();
    expect(await width("--gas-temperature", "60 degC")).toBeGreaterThan(usual);
    expect(await width("--coefficient", "0.8")).toBeLessThan(usual);
    expect(await width("--barometer", "800 hPa")).toBeGreaterThan(usual);
  });

  it.each([
    [["--leak-rate", "60 mL/min", "--pressure", "-8 kPa"], /at 0 degC it would be 64\.39319 mL\/min/],
    [["--leak-rate", "60", "--pressure", "-8 kPa"], /the unit is missing/],
    [["--leak-rate", "0 mL/min @ 20 degC", "--pressure", "-8 kPa"], /a leak rate above zero/],
    [["--leak-rate", "60 mL/min @ 20 degC", "--pressure", "8"], /the unit is missing/],
    [["--leak-rate", "60 mL/min @ 20 degC", "--pressure", "0 Pa"], /nothing flows/],
    [["--leak-rate", "60 mL/min @ 20 degC", "--pressure", "-120 kPa"], /perfect vacuum/],
    [["--leak-rate", "60 mL/min @ 20 degC"], /required option '--pressure <pressure>'/],
    [[...LEAK.slice(1), "--coefficient", "60"], /above 0 and up to 1/],
    [[...LEAK.slice(1), "--capillary-length", "0 mm"], /above zero/],
  ])("refuses %j", async (args, words) => {
    expect(await refusal("hole", ...args)).toMatch(words);
  });
});

describe("calc stored-energy", () => {
  it("gives every formula by its name, with the caution", async () => {
    const said = await text("stored-energy", "--volume", "12L", "--pressure", "10 kPa");
    expect(said).toMatch(/Brode +300 J/);
    expect(said).toMatch(/isentropic \(Baker\) +88\.6145 J/);
    expect(said).toMatch(/^ {2}isothermal +125\.736 J/m);
    expect(said).toMatch(/net isothermal +5\.73581 J/);
    expect(said).toMatch(/pV bound +120 J/);
    expect(said).toMatch(/local codes and licensed practice.*safety function/);
  });

  it("gives a program all of them for an evacuated body, the largest as the value", async () => {
    const given = await answer("stored-energy", "--volume", "12 L", "--pressure", "-22 kPa");
    expect(given).toMatchObject({ value: near(660), unit: "J", formula: "Brode" });
    expect(given.formulas).toMatchObject([
      { name: "Brode", value: near(660), unit: "J" },
      { name: "isentropic (Baker)", value: expect.closeTo(172.3907987, 6) },
      { name: "isothermal", value: expect.closeTo(233.005925, 5) },
      { name: "net isothermal", value: expect.closeTo(30.99407502, 6) },
      { name: "pV bound", value: near(264) },
    ]);
    expect(JSON.stringify(given)).toContain("safety function");
  });

  it("warns of the formulas that a deep vacuum makes small", async () => {
    expect(await text("stored-energy", "--volume", "12L", "--pressure", "5 kPa abs")).toMatch(
      /So deep a vacuum/,
    );
  });

  it.each([
    [["--volume", "12", "--pressure", "10 kPa"], /^--volume: found "12".*like "12 L"/],
    [["--volume", "12 L", "--pressure", "-102 kPa"], /perfect vacuum/],
    [["--volume", "-1 L", "--pressure", "1 kPa"], /above zero/],
    [["--pressure", "1 kPa"], /required option '--volume <volume>'/],
  ])("refuses %j", async (args, words) => {
    expect(await refusal("stored-energy", ...args)).toMatch(words);
  });
});

describe("calc --help", () => {
  it.each(["leak-rate", "convert", "hole", "stored-energy"])(
    "of %s shows formula, source and an example",
    async (name) => {
      const said = await help(name);
      expect(said).toMatch(/^Formulas?[:,]/m);
      expect(said).toMatch(/^Source:/m);
      expect(said).toMatch(/^Examples?:\n {2}\$ drumtight calc /m);
    },
  );

  it("shows examples that run", async () => {
    for (const name of ["leak-rate", "convert", "hole", "stored-energy"]) {
      const said = (await help(name)).replace(/\\\n\s+/g, "");
      const examples = [...said.matchAll(/^ {2}\$ drumtight calc (.*)$/gm)].map(([, line = ""]) => line);
      expect(examples.length).toBeGreaterThan(0);
      for (const line of examples) {
        await answer(
          ...[...line.matchAll(/"([^"]*)"|(\S+)/g)].map(([, quoted, bare]) => quoted ?? bare ?? ""),
        );
      }
    }
  });
});
