import { describe, expect, test } from "vitest";
import { refuseCalibration } from "../station/cycle/refusals.ts";
import { inCalibration, readStationFile } from "../station/station-file.ts";
import { changed, GOOD as DEMO, problemsIn, withoutOrificePieces } from "./made-station-file.ts";

const GOOD = withoutOrificePieces(DEMO);

describe("a station file", () => {
  const CALIBRATED =
    /,\n {6}coefficient: 0.621[\s\S]*?calibration_due: 2026-12-10/.exec(GOOD)?.[0] ?? "no such text";
  const PLATE =
    "flow_from: { plate_in_pipe: { pipe: 80 mm, pipe_uncertainty: 0.1 mm, bore: 48 mm, bore_uncertainty: 0.02 mm, taps: d-d2 } }";
  const ENTERED =
    "ambient: { entered: { valid_for: 4 h, temperature_uncertainty: 1 K, pressure_uncertainty: 100 Pa, humidity_uncertainty: 5 % } }";
  const AMBIENT_GAUGE = /\n {2}ambient:\n[\s\S]*?(?=\n\nio_block)/.exec(GOOD)?.[0] ?? "no such text";
  const FLOW = /\n {6}flow: \{.*/.exec(GOOD)?.[0] ?? "no such text";
  const stationByPlate = (...changes: readonly (readonly [from: string, to: string])[]) =>
    changed(
      GOOD,
      ["flow_from: gauge", changed(PLATE, ...changes)],
      [FLOW, ""],
      [
        "\n  power_meter:",
        `
  flow_gauge:
    profile: scpi-flow-drop
    transport: { kind: tcp, host: gauges, port: 4007 }
    calibration_due: 2027-02-28
    channels:
      flow_drop: { uncertainty: "2 Pa", uncertainty_of_reading: "0.2 %" }
  power_meter:`,
      ],
    );

  test.each<[string, [from: string, to: string][], path: string, words: RegExp]>([
    ["no word of where flow comes from", [["flow_from: gauge", ""]], "flow_from", /missing.*"gauge"/],
    ["a mistyped way of getting the flow", [["flow_from: gauge", "flow_from: gage"]], "flow_from", /"gauge"/],
    ["no word of how the room is known", [["ambient: instrument", ""]], "ambient", /missing.*"instrument"/],
    [
      "an orifice without a bore where the flow comes from orifices",
      [
        ["flow_from: gauge", "flow_from: plenum_orifices"],
        ["bore: 16.5 mm,", ""],
        [CALIBRATED, ""],
        ["bore_uncertainty: 0.01 mm,", ""],
      ].map(([from = "", to = ""]) => [from, to]),
      "orifices.working.bore",
      /missing.*16.5 mm.*since flow_from is plenum_orifices/,
    ],
    [
      "a bore without its uncertainty",
      [["bore_uncertainty: 0.01 mm,", ""]],
      "orifices.working.bore_uncertainty",
      /missing.*standard uncertainty/,
    ],
    [
      "a bore without its unit",
      [["bore: 16.5 mm", "bore: 16.5"]],
      "orifices.working.bore",
      /16.5.*a length with its unit/,
    ],
    [
      "a coefficient without a bore",
      [
        ["bore: 16.5 mm,", ""],
        ["bore_uncertainty: 0.01 mm,", ""],
      ],
      "orifices.working.bore",
      /which coefficient belongs to/,
    ],
    [
      "a coefficient without its uncertainty",
      [["coefficient_uncertainty: 0.003, #", "#"]],
      "orifices.working.coefficient_uncertainty",
      /missing.*calibration/,
    ],
    [
      "a coefficient nobody says the date of",
      [["calibrated: 2025-12-10,", ""]],
      "orifices.working.calibrated",
      /missing/,
    ],
    [
      "a coefficient that never runs out",
      [["calibration_due: 2026-12-10,\n    }\n  open", "}\n  open"]],
      "orifices.working.calibration_due",
      /missing/,
    ],
    [
      "dates without a coefficient",
      [["coefficient: 0.621, #", "#"]],
      "orifices.working.coefficient",
      /that coefficient_uncertainty belongs to/,
    ],
    [
      "a calibration that ran out before it was made",
      [["calibrated: 2025-12-10", "calibrated: 2027-12-10"]],
      "orifices.working.calibration_due",
      /a day after 2027-12-10/,
    ],
    [
      "a coefficient in percent",
      [["coefficient: 0.621", "coefficient: 62.1"]],
      "orifices.working.coefficient",
      /from 0.4 to 1/,
    ],
    [
      "a closed inlet with a bore",
      [["closed: { output: null }", "closed: { output: null, bore: 10 mm, bore_uncertainty: 0.1 mm }"]],
      "orifices.closed.bore",
      /without an output is a closed inlet/,
    ],
    ["no flow gauge where flow comes from one", [[FLOW, ""]], "gauges", /none.*channel flow\b/],
    [
      "a pressure drop where flow comes from a gauge",
      [[FLOW, `${FLOW}${FLOW.replace("flow:", "flow_drop:").replace("0.05 L/s", "1 Pa")}`]],
      "gauges.airflow_gauge.channels.flow_drop",
      /since flow_from is gauge/,
    ],
    [
      "no instrument for the room, though it says so",
      [[AMBIENT_GAUGE, ""]],
      "gauges",
      /none.*channel ambient_temperature/,
    ],
    [
      "values that hold for a week",
      [
        ["ambient: instrument", ENTERED.replace("4 h", "168 h")],
        [AMBIENT_GAUGE, ""],
      ],
      "ambient.entered.valid_for",
      /at most 24 h/,
    ],
    [
      "entered values known without any uncertainty",
      [
        ["ambient: instrument", ENTERED.replace("1 K", "0 K")],
        [AMBIENT_GAUGE, ""],
      ],
      "ambient.entered.temperature_uncertainty",
      /more than 0 K/,
    ],
  ])("with %s is refused at the place", (_what, changes, path, words) => {
    const [problem] = problemsIn(changed(GOOD, ...changes));
    expect(problem).toMatchObject({ file: expect.stringMatching(/station\.yaml$/), path });
    expect(`${problem?.found}, ${problem?.expected}, ${problem?.hint}`).toMatch(words);
  });

  test("whose room is entered may have no instrument for it", () => {
    const problems = problemsIn(changed(GOOD, ["ambient: instrument", ENTERED]));
    expect(problems.map(({ path }) => path)).toEqual(
      ["temperature", "pressure", "humidity"].map((it) => `gauges.ambient.channels.ambient_${it}`),
    );
    expect(problems[0]?.expected).toMatch(/since the room's air is entered/);
    expect(problemsIn(changed(GOOD, ["ambient: instrument", ENTERED], [AMBIENT_GAUGE, ""]))).toEqual([]);
  });

  test("needs no flow gauge where a plate in the pipe tells the flow", () => {
    expect(problemsIn(stationByPlate())).toEqual([]);
    const both = changed(stationByPlate(), [
      "      flow_drop: {",
      `      flow: { uncertainty: "0.05 L/s", uncertainty_of_reading: "0 %" }\n      flow_drop: {`,
    ]);
    expect(problemsIn(both).map(({ path, expected }) => [path, expected])).toContainEqual([
      "gauges.flow_gauge.channels.flow",
      "none of that name, since flow_from is plate_in_pipe",
    ]);
  });

  test("needs no flow gauge where its orifices tell the flow", () => {
    const text = changed(GOOD, ["flow_from: gauge", "flow_from: plenum_orifices"], [FLOW, ""]);
    expect(problemsIn(text)).toEqual([]);
  });

  test.each([
    ["a pipe narrower than the standard's", "pipe: 80 mm", "pipe: 49 mm", /50 mm to 1 m.*49 mm/],
    ["a bore too wide for the pipe", "bore: 48 mm", "bore: 61 mm", /0.10 to 0.75.*0.76[23]/],
    ["a bore below the standard's", "bore: 48 mm", "bore: 12 mm", /at least 12.5 mm.*12 mm/],
    ["a bore as wide as the pipe", "bore: 48 mm", "bore: 80 mm", /narrower than the pipe/],
    ["taps nobody knows", "taps: d-d2", "taps: d-d3", /"d-d2".*did you mean d-d2/],
    ["a coefficient without dates", "taps: d-d2", "taps: d-d2, coefficient: 0.61", /missing/],
  ])("whose plate in the pipe has %s is refused", (_what, from, to, words) => {
    const [problem] = problemsIn(stationByPlate([from, to]));
    expect(problem?.path).toMatch(/^flow_from\.plate_in_pipe/);
    expect(`${problem?.found}, ${problem?.expected}, ${problem?.hint}`).toMatch(words);
  });

  test("whose plate was calibrated may use it out of the standard's range", () => {
    const own =
      "taps: d-d2, coefficient: 0.61, coefficient_uncertainty: 0.003, calibrated: 2025-12-10, calibration_due: 2027-01-31";
    const read = (text: string) => readStationFile("/hall/station.yaml", text);
    const file = read(stationByPlate(["bore: 48 mm", "bore: 12 mm"], ["taps: d-d2", own]));
    expect(file.knowledge.flowFrom).toMatchObject({
      kind: "pipe",
      closed: new Set(["closed"]),
      plate: { pipe_m: 0.08, bore_m: 0.012, taps: "d-d2", coefficient: { value: 0.61, uncertainty: 0.003 } },
    });
    expect(inCalibration(file).at(-1)).toEqual({
      name: "the plate in the pipe",
      calibrated: "2025-12-10",
      calibrationDue: "2027-01-31",
    });
    expect(read(stationByPlate()).knowledge.flowFrom).toMatchObject({
      plate: { bore_m: 0.048, coefficient: null },
    });
  });

  test("takes the flow from its orifices: the calibrated coefficient, the house's without one, none when closed", () => {
    const text = changed(GOOD, ["flow_from: gauge", "flow_from: plenum_orifices"], [CALIBRATED, ""]);
    const { knowledge } = readStationFile("/hall/station.yaml", text);
    if (knowledge.flowFrom.kind !== "plenum") throw new Error("It comes from elsewhere.");
    expect(Object.fromEntries(knowledge.flowFrom.orifices)).toEqual({
      closed: null,
      working: {
        bore_m: expect.closeTo(0.0165, 12),
        boreUncertainty_m: expect.closeTo(1e-5, 12),
        coefficient: 0.6,
        coefficientUncertainty: 0.012,
        isCalibrated: false,
      },
      open: expect.objectContaining({
        coefficient: 0.618,
        coefficientUncertainty: 0.003,
        isCalibrated: true,
      }),
    });
  });

  test("is out of calibration with its orifices, where they tell the flow and only there", () => {
    const day = "2027-03-01";
    const overdue = (text: string) =>
      refuseCalibration(inCalibration(readStationFile("/hall/station.yaml", text)), day).map(
        ({ sentence }) => sentence.split(" ran out")[0],
      );
    const byOrifices = changed(GOOD, ["flow_from: gauge", "flow_from: plenum_orifices"]);
    expect(overdue(GOOD)).toEqual(["The calibration of airflow_gauge"]);
    expect(overdue(byOrifices)).toEqual([
      "The calibration of airflow_gauge",
      "The calibration of orifice working",
      "The calibration of orifice open",
    ]);
    const before = refuseCalibration(
      inCalibration(readStationFile("/hall/station.yaml", byOrifices)),
      "2025-12-09",
    );
    expect(before.map(({ sentence }) => sentence)).toEqual([
      expect.stringMatching(
        /^The calibration of orifice working is dated 2025-12-10, which is still to come/,
      ),
      expect.stringMatching(/^The calibration of orifice open is dated/),
    ]);
    expect(
      refuseCalibration(inCalibration(readStationFile("/hall/station.yaml", byOrifices)), "2025-12-10"),
    ).toEqual([]);
  });
});
