import { describe, expect, it } from "vitest";
import { answer, help, refusal, text } from "./calc-answers.ts";
import { drumtight } from "./command-line.ts";

const near = (value: number, digits = 8) => expect.closeTo(value, digits);
const ROOM = ["air-density", "--temperature", "20 degC", "--pressure", "1013.25 hPa"];

describe("calc air-density", () => {
  it("gives CIPM-2007's density and all that goes into it", async () => {
    expect(await answer(...ROOM, "--humidity", "50 %")).toMatchObject({
      value: near(1.199313895),
      unit: "kg/m3",
      ratio_to_standard: { value: near(0.999428246) },
      saturation_pressure: { value: near(2.33916323), unit: "kPa" },
      vapour_fraction: near(0.01158934013),
      compressibility: near(0.9996147675),
      viscosity: { value: near(1.813405882e-5, 13), unit: "Pa.s" },
      co2: { value: 400, unit: "ppm", assumed: true },
      doubts: [],
    });
    const dense = await answer(...ROOM, "--humidity", "0.5 fraction", "--co2", "0.05 %");
    expect(dense).toMatchObject({ value: near(1.199363267), co2: { value: 500, assumed: false } });
  });

  it("says whose uncertainty it tells: the equation's alone, or the readings' too, each with its part", async () => {
    expect(await text(...ROOM, "--humidity", "50 %")).toMatch(/0\.000026 kg\/m3, of the equation alone/);
    const spreads = ["--temperature-uncertainty", "0.2 K", "--pressure-uncertainty", "0.5 hPa"];
    expect(
      await answer(...ROOM, "--humidity", "50 %", ...spreads, "--humidity-uncertainty", "3 %"),
    ).toMatchObject({
      uncertainty: {
        value: near(0.00111225, 7),
        kind: "standard",
        inputs: [
          { component: "temperature", value: near(0.00088553, 7) },
          { component: "pressure", value: near(0.00059462, 7) },
          { component: "humidity", value: near(0.0003141, 7) },
          { component: "CIPM-2007 equation", value: near(0.000026385, 8) },
        ],
      },
    });
  });

  it("doubts itself outside the equation's range, and does not call its uncertainty the whole one", async () => {
    const hot = [
      "air-density",
      "--temperature",
      "35 degC",
      "--pressure",
      "1013.25 hPa",
      "--humidity",
      "50 %",
    ];
    expect(await text(...hot)).toMatch(
      /Doubtful: CIPM-2007 holds from 15 to 27 degC; the air has 35\.0 degC\.\n.* and more/,
    );
    expect(await answer(...hot)).toMatchObject({
      doubts: [expect.any(String)],
      uncertainty: { at_least: true },
    });
  });

  it.each([
    [
      "humidity without its unit",
      [...ROOM, "--humidity", "45"],
      /--humidity: .*"45 %" \(the unit is missing\)/,
    ],
    ["humidity above 100 %", [...ROOM, "--humidity", "120 %"], /--humidity: .*from 0 to 100 %/],
    [
      "CO2 that nobody could breathe",
      [...ROOM, "--humidity", "45 %", "--co2", "400 %"],
      /--co2: .*like "400 ppm"/,
    ],
    ["CO2 without its unit", [...ROOM, "--humidity", "45 %", "--co2", "400"], /--co2: .*unit is missing/],
    ["no spread at all", [...ROOM, "--humidity", "45 %", "--humidity-uncertainty", "0 %"], /above zero/],
    [
      "temperature and pressure swapped",
      ["air-density", "--temperature", "1013 hPa", "--pressure", "20 degC", "--humidity", "45 %"],
      /--temperature: .*hPa is the unit of a pressure/,
    ],
    [
      "a gauge pressure",
      ["air-density", "--temperature", "20 degC", "--pressure", "-8 kPa", "--humidity", "45 %"],
      /--pressure: .*absolute pressure/,
    ],
    [
      "steam",
      ["air-density", "--temperature", "99 degC", "--pressure", "900 hPa", "--humidity", "100 %"],
      /mostly steam; check --temperature and --humidity/,
    ],
  ])("refuses %s in one sentence that says what to write", async (_, args, sentence) => {
    expect(await refusal(...args)).toMatch(sentence);
  });
});

describe("calc orifice", () => {
  const PLENUM = ["orifice", "--diameter", "30 mm", "--pressure-drop"];
  const PIPE = ["orifice", "--diameter", "60 mm", "--pressure-drop", "1 kPa", "--pipe", "100 mm"];

  it("without a pipe draws from a room into a plenum, and says what it assumed", async () => {
    const found = await answer(...PLENUM, "9 kPa");
    expect(found).toMatchObject({
      value: near(50.7858, 4),
      unit: "L/s",
      mass_flow: { value: near(0.0609081, 7), unit: "kg/s" },
      coefficient: { value: 0.6, assumed: true, source: "house default" },
      expansibility: near(0.97743687),
      pressure_ratio: near(0.911176906),
      outside: [],
      upstream: { value: 101.325, assumed: true },
      humidity: { value: 50, assumed: true },
    });
    expect(await text(...PLENUM, "9 kPa")).toMatch(
      /coefficient 0\.6 \(house default\), expansibility 0\.977437, pressure ratio 0\.9112\n/,
    );
  });

  it("takes a plenum's gauge pressure, which is negative, for the drop it is", async () => {
    expect(await answer(...PLENUM, "-9 kPa")).toEqual(await answer(...PLENUM, "9 kPa"));
  });

  it("says where its formula is only continued, and that a sharp edge does not choke sharply", async () => {
    const continued = /at least 0\.75 .* there is 0\.704: its formula is continued/;
    expect(await answer(...PLENUM, "25 kPa")).toMatchObject({ outside: [] });
    expect(await answer(...PLENUM, "30 kPa")).toMatchObject({ outside: [expect.stringMatching(continued)] });
    const [deep, deeper] = [await answer(...PLENUM, "60 kPa"), await answer(...PLENUM, "70 kPa")];
    expect(deep.outside).toEqual([expect.anything(), expect.stringMatching(/does not choke sharply/)]);
    expect(Number(deeper.value)).toBeGreaterThan(Number(deep.value));
    expect((await text(...PLENUM, "60 kPa")).match(/^ {2}Outside the standard/gm)).toHaveLength(2);
  });

  it("in a pipe has ISO 5167-2's coefficient and its uncertainty, or the calibrated one", async () => {
    expect(await answer(...PIPE, "--taps", "corner")).toMatchObject({
      value: near(75.5487, 4),
      coefficient: {
        value: near(0.61217, 5),
        source: "ISO 5167-2",
        relative_uncertainty: { value: near(0.25) },
      },
      reynolds: near(63_617, 0),
      outside: [],
    });
    const calibrated = await answer(...PIPE, "--taps", "corner", "--coefficient", "0.6122");
    expect(calibrated.coefficient).toEqual({ value: 0.6122, assumed: false, source: "given" });
  });

  it("refuses taps that the standard doesn't have, and names those it has", async () => {
    const { code, stdout, stderr } = await drumtight(["calc", ...PIPE, "--taps", "side"]);
    expect([code, stdout]).toEqual([2, ""]);
    expect(stderr).toMatch(/corner, flange, d-d2/);
  });

  it("tells the standard's limits that are not kept, and then vouches for no uncertainty", async () => {
    const small = [
      "orifice",
      "--diameter",
      "10 mm",
      "--pressure-drop",
      "70 kPa",
      "--pipe",
      "40 mm",
      "--taps",
      "flange",
    ];
    expect(await answer(...small)).toMatchObject({
      outside: [
        expect.stringMatching(/12\.5 mm, this one has 10 mm/),
        expect.stringMatching(/50 mm to 1 m, this one has 40 mm/),
        expect.stringMatching(/there is 0\.309/),
      ],
    });
    const said = await text(...small);
    expect(said.match(/Outside the standard/g)).toHaveLength(3);
    expect(said).not.toMatch(/uncertainty/);
  });

  it.each([
    [
      "a bore wider than its pipe",
      [...PIPE.slice(0, 5), "--pipe", "40 mm", "--taps", "corner"],
      /does not fit into a pipe of 40 mm/,
    ],
    ["a pipe without its taps", PIPE, /--taps corner, flange or d-d2/],
    ["taps without a pipe", [...PLENUM, "9 kPa", "--taps", "corner"], /give --pipe too/],
    [
      "a drop above the room's pressure",
      [...PLENUM, "110 kPa"],
      /only 101\.325 kPa absolute; a drop is smaller/,
    ],
    ["a drop of nothing", [...PLENUM, "0 kPa"], /--pressure-drop: .*how far below/],
    [
      "a negative drop in a pipe",
      [...PIPE.slice(0, 3), "--pressure-drop", "-1 kPa", ...PIPE.slice(5), "--taps", "corner"],
      /above zero/,
    ],
    ["a length for a pressure", [...PLENUM, "9 mm"], /mm is the unit of a length/],
    ["a drop without its unit", [...PLENUM, "9"], /the unit is missing/],
    ["a coefficient above 1", [...PLENUM, "9 kPa", "--coefficient", "1.2"], /--coefficient: .*up to 1/],
    ["a gauge pressure upstream", [...PLENUM, "9 kPa", "--upstream-pressure", "5 kPa"], /absolute pressure/],
    [
      "a gauge pressure in the pipe",
      [...PIPE, "--taps", "corner", "--upstream-pressure", "5 kPa"],
      /absolute pressure in the pipe/,
    ],
    [
      "air hotter than the humidity nobody gave",
      [...PLENUM, "9 kPa", "--temperature", "300 degC"],
      /^--temperature: .*at 50 % relative humidity, the house default; check --temperature, /,
    ],
    [
      "a bore as wide as the world",
      ["orifice", "--diameter", "1e30 m", "--pressure-drop", "9 kPa"],
      /^--diameter: .*at most 10 m/,
    ],
    ["a pipe wider than any", [...PIPE.slice(0, -1), "11 m", "--taps", "corner"], /^--pipe: .*at most 10 m/],
  ])("refuses %s in one sentence that says what to write", async (_, args, sentence) => {
    expect(await refusal(...args)).toMatch(sentence);
  });
});

describe("calc suction-power", () => {
  const GIVEN = ["suction-power", "--flow", "22.5 L/s", "--suction"];

  it("multiplies flow and suction, written with or without the minus of a gauge", async () => {
    const positive = await answer(...GIVEN, "12 kPa", "--input-power", "720 W");
    expect(positive).toMatchObject({ value: 270, unit: "W", efficiency: { value: 37.5, unit: "%" } });
    expect(await answer(...GIVEN, "-12 kPa", "--input-power", "720 W")).toEqual(positive);
    expect(await answer(...GIVEN, "12 kPa")).not.toHaveProperty("efficiency");
    expect(await text(...GIVEN, "12 kPa")).not.toMatch(/inch/);
  });

  it("says that nothing was corrected, and what other inches of water would make of it", async () => {
    const said = await text("suction-power", "--flow", "70.072 cfm", "--suction", "30 inH2O");
    expect(said).toMatch(/^Suction power: 247\.123 W, as measured/);
    expect(said).toMatch(/246\.697 W {3}0\.117354 W per cfm and inch, ASTM F558/);
  });

  it.each([
    ["an absolute pressure", [...GIVEN, "89 kPa abs"], /how far below the room's pressure/],
    ["overpressure", [...GIVEN, "12 kPa gauge"], /how far below the room's pressure/],
    ["more suction than any room has", [...GIVEN, "12 bar"], /at most 120 kPa/],
    ["no suction", [...GIVEN, "0 kPa"], /--suction/],
    [
      "a flow backwards",
      ["suction-power", "--flow", "-3 L/s", "--suction", "12 kPa"],
      /--flow: .*above zero/,
    ],
    [
      "more power out than in",
      [...GIVEN, "12 kPa", "--input-power", "0.2 kW"],
      /270 W of suction power can't come out of 0\.2 kW/,
    ],
    [
      "flow and suction swapped",
      ["suction-power", "--flow", "12 kPa", "--suction", "22.5 L/s"],
      /kPa is the unit of a pressure/,
    ],
  ])("refuses %s in one sentence that says what to write", async (_, args, sentence) => {
    expect(await refusal(...args)).toMatch(sentence);
  });
});

describe("the help of the airflow calculators", () => {
  it.each([
    ["air-density", /Metrologia 45/],
    ["orifice", /ISO 5167-2:2003/],
    ["suction-power", /IEC 62885-2/],
  ])("calc %s shows formula, source and an example that works", async (command, source) => {
    const said = await help(command);
    expect(said).toMatch(/Formula/);
    expect(said).toMatch(source);
    const examples = said.match(/^ {2}\$ drumtight calc .*$/gm) ?? [];
    expect(examples.length).toBeGreaterThan(0);
    for (const example of examples) {
      const args = [...example.matchAll(/"([^"]+)"|([^\s"]+)/g)].map((match) => match[1] ?? match[2] ?? "");
      await answer(...args.slice(3));
    }
  });
});
