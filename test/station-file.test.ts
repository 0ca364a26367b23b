import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { afterEach, beforeEach, describe, expect, it, test } from "vitest";
import { type FileProblem, FileProblems } from "../limits/checked-yaml.ts";
import { refuseCalibration } from "../station/cycle/refusals.ts";
import { inCalibration, readStationFile } from "../station/station-file.ts";
import { demoStationPath, loadStation } from "../station/wiring.ts";

const demo = readFileSync(demoStationPath(), "utf8");
const unmarked = demo.replace(/^simulated: true.*\n/m, "");
const onPorts = (text: string) =>
  text.replaceAll("{ kind: memory }", "{ kind: tcp, host: gauges, port: 4001 }");

describe("what a station file says of being simulated", () => {
  it.each([
    ["marked, with simulated instruments", demo, true],
    ["marked, with its instruments on ports", onPorts(demo), true],
    ["not marked, with simulated instruments", unmarked, true],
    ["not marked, with its instruments on ports", onPorts(unmarked), false],
  ])("a station that is %s", (_, text, isSimulated) => {
    expect(unmarked).not.toContain("simulated: true");
    expect(readStationFile("/hall/station.yaml", text).isSimulated).toBe(isSimulated);
  });
});

describe("a station that is loaded", () => {
  let folder = "";
  beforeEach(() => {
    folder = mkdtempSync(join(tmpdir(), "station-file-"));
  });
  afterEach(() => rmSync(folder, { recursive: true }));

  const GOOD = onPorts(unmarked).replace("../limits/models", resolve("limits/models"));
  const put = (name: string, text: string) => writeFileSync(join(folder, name), text);

  function changed(text: string, ...changes: readonly (readonly [from: string, to: string])[]): string {
    return changes.reduce((before, [from, to]) => {
      if (!before.includes(from)) throw new Error(`There is no ${JSON.stringify(from)}.`);
      return before.replace(from, () => to);
    }, text);
  }

  function problemsIn(text: string): readonly FileProblem[] {
    put("station.yaml", text);
    try {
      loadStation(join(folder, "station.yaml"));
    } catch (error) {
      if (error instanceof FileProblems) return error.problems;
      throw error;
    }
    return [];
  }

  const lineOf = (text: string, piece: string) => text.slice(0, text.indexOf(piece)).split("\n").length;

  test("is taken when it fits its profiles and limit files", () => {
    expect(problemsIn(GOOD)).toEqual([]);
  });

  test.each([
    [
      "an unknown profile",
      "profile: scpi-power",
      "profile: scpi-powr",
      "gauges.power_meter.profile",
      /scpi-power.*did you mean scpi-power/,
    ],
    [
      "the profile of another kind",
      "profile: scpi-power",
      "profile: ascii-io",
      "gauges.power_meter.profile",
      /I\/O block.*for a gauge/,
    ],
    [
      "a gauge's profile for the I/O block",
      "profile: ascii-io",
      "profile: scpi-power",
      "io_block.profile",
      /for an I\/O block/,
    ],
    [
      "a path for a profile",
      "profile: scpi-power",
      "profile: ../scpi-power",
      "gauges.power_meter.profile",
      /one of the profiles/,
    ],
    [
      "a memory transport",
      "{ kind: tcp, host: gauges, port: 4001 }",
      "{ kind: memory }",
      "gauges.leak_gauge.transport.kind",
      /"serial" or "tcp"/,
    ],
    [
      "an output that is not there",
      "output: orifice_2",
      "output: orifice_9",
      "orifices.open.output",
      /one of.*orifice_1/,
    ],
    [
      "the output of the compressed air",
      "output: orifice_2",
      "output: source",
      "orifices.open.output",
      /for this orifice alone/,
    ],
    [
      "the output of the motor",
      "output: orifice_2",
      "output: motor",
      "orifices.open.output",
      /for this orifice alone/,
    ],
    [
      "the output of the isolating valve",
      "output: orifice_2",
      "output: isolate",
      "orifices.open.output",
      /for this orifice alone/,
    ],
    [
      "the output of the vent",
      "output: orifice_2",
      "output: vent",
      "orifices.open.output",
      /for this orifice alone/,
    ],
    [
      "another orifice's output",
      "output: orifice_2",
      "output: orifice_1",
      "orifices.open.output",
      /which opens the orifice working/,
    ],
    [
      "a piece of no model",
      "model: POD-4",
      "model: POD-5",
      "reference_check.pieces[0].model",
      /POD-4, TUB-12.*did you mean POD-4/,
    ],
    [
      "two pieces of one serial",
      "serial: REF-LEAK-POD-4",
      "serial: REF-TIGHT-POD-4",
      "reference_check.pieces[1].serial",
      /no other piece/,
    ],
    [
      "a broken key",
      "public_key: MCowBQ",
      "public_key: MCowBA",
      "approvers[0].public_key",
      /Ed25519 public key/,
    ],
    ["a gauge of an impossible name", "  ambient:", "  am/bient:", "gauges.am/bient", /short name/],
    [
      "a negative uncertainty",
      'power: { uncertainty: "1 W"',
      'power: { uncertainty: "-1 W"',
      "gauges.power_meter.channels.power.uncertainty",
      /at least 0 W/,
    ],
    [
      "a folder without limit files",
      resolve("limits/models"),
      resolve("station"),
      "limits",
      /no \*\.yaml file/,
    ],
    ["a folder that is not there", resolve("limits/models"), "nowhere", "limits", /nothing of that name/],
    [
      "a port that is not whole",
      "port: 4001",
      "port: 4001.5",
      "gauges.leak_gauge.transport.port",
      /whole number/,
    ],
  ])("with %s is refused at the place", (_what, from, to, path, words) => {
    const text = changed(GOOD, [from, to]);
    const problems = problemsIn(text);
    expect(problems.map((problem) => problem.path)).toEqual([path]);
    const [problem] = problems;
    expect(problem).toMatchObject({ file: join(folder, "station.yaml"), line: lineOf(GOOD, from) });
    expect(`${problem?.found}, ${problem?.expected}, ${problem?.hint}`).toMatch(words);
  });

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
    expect(problem).toMatchObject({ file: join(folder, "station.yaml"), path });
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

  const profile = (name: string) => readFileSync(join("drivers/profiles", `${name}.yaml`), "utf8");
  const places = (problems: readonly FileProblem[]) => problems.map(({ line, path }) => [line, path]);

  test("with a channel its gauge's profile does not deliver is refused at the channel", () => {
    put(
      "own.yaml",
      changed(profile("scpi-power"), ["?<voltage>", "?<volts>"], ["name: voltage", "name: volts"]),
    );
    const problems = problemsIn(changed(GOOD, ["profile: scpi-power", "profile: own"]));
    expect(places(problems)).toEqual([[lineOf(GOOD, "voltage: {"), "gauges.power_meter.channels.voltage"]]);
    expect(problems[0]?.expected).toBe("one of power, volts");
  });

  test("with a channel that comes as another quantity is refused at the channel", () => {
    const flow = changed(
      profile("scpi-power"),
      ["quantity: voltage", "quantity: flow"],
      ["unit: V", "unit: L/s"],
    );
    put("own.yaml", flow);
    const problems = problemsIn(changed(GOOD, ["profile: scpi-power", "profile: own"]));
    expect(places(problems)).toEqual([[lineOf(GOOD, "voltage: {"), "gauges.power_meter.channels.voltage"]]);
    expect(problems[0]).toMatchObject({
      found: expect.stringMatching("L/s"),
      expected: expect.stringMatching("voltage"),
    });
  });

  test("with an I/O block that lacks what every test needs is refused, each lack by its name", () => {
    const io = changed(profile("ascii-io"), ["isolate, vent,", "isolate,"], ["[guard, start]", "[start]"]);
    put("own.yaml", io);
    const problems = problemsIn(changed(GOOD, ["profile: ascii-io", "profile: own"]));
    expect(problems.map(({ path, found }) => [path, found])).toEqual([
      ["io_block.profile", "own, which has no output vent"],
      ["io_block.profile", "own, which has no input guard"],
    ]);
  });

  test("with an identity for a gauge whose profile asks for none is refused", () => {
    put("own.yaml", profile("scpi-power").replace(/identity:\n.*\n.*\n/, ""));
    const problems = problemsIn(changed(GOOD, ["profile: scpi-power", "profile: own"]));
    expect(places(problems)).toEqual([[lineOf(GOOD, 'identity: "POWER"'), "gauges.power_meter.identity"]]);
  });

  test("without an orifice a limit file asks for is refused, with the place in the limit file", () => {
    const problems = problemsIn(changed(GOOD, ["  closed: {", "  shut: {"]));
    const wanted = readdirSync("limits/models").filter((name) => name.endsWith(".yaml"));
    expect(problems.map(({ line, path }) => [line, path])).toEqual(
      wanted.map(() => [lineOf(GOOD, "orifices:"), "orifices"]),
    );
    for (const [i, name] of wanted.entries()) {
      const file = resolve("limits/models", name);
      const line = lineOf(readFileSync(file, "utf8"), "orifice: closed");
      expect(problems[i]?.found).toMatch(`no orifice closed, which ${file}:${line}:`);
    }
  });

  test("without a reference piece for one of its models is refused", () => {
    const text = GOOD.replace(/ {4}- \{\n {8}serial: REF-[A-Z]+-TUB-12,[\s\S]*?\n {6}\}\n/g, "");
    const problems = problemsIn(text);
    expect(problems.map(({ path }) => path)).toEqual(["reference_check.pieces"]);
    expect(problems[0]?.found).toMatch(/TUB-12.*tub-12\.yaml/);
  });

  test("with a channel of two gauges is refused at the second", () => {
    const twice = '      flow: { uncertainty: "1 L/s", uncertainty_of_reading: "1 %" }\n';
    put("own.yaml", profile("scpi-power").replaceAll("voltage", "flow").replace("unit: V", "unit: L/s"));
    const text = changed(
      GOOD,
      ["profile: scpi-power", "profile: own"],
      [/ {6}voltage: .*\n/.exec(GOOD)?.[0] ?? "", twice],
    );
    expect(places(problemsIn(text))).toEqual([
      [lineOf(GOOD, "  leak_gauge:"), "gauges"],
      [lineOf(GOOD, "voltage: {"), "gauges.power_meter.channels.flow"],
    ]);
  });

  test("with mistakes in it, its profiles and its limit files is told all of them together", () => {
    const limits = join(folder, "limits");
    mkdirSync(limits);
    for (const name of ["pod-4.yaml", "tub-12.yaml"]) {
      const text = readFileSync(join("limits/models", name), "utf8");
      writeFileSync(
        join(limits, name),
        name === "pod-4.yaml" ? text.replace("revision: 3", "revision: 3.5") : text,
      );
    }
    put("own.yaml", changed(profile("scpi-pressure"), ["baud: 115200", "baud: fast"]));
    const text = changed(
      GOOD,
      [resolve("limits/models"), "limits"],
      ["least_free_disk_MB: 50", "least_free_disk_MB: 0.5"],
      ['volume: "0.40 L"', 'volume: "0.40"'],
      ["output: orifice_1", "output: motor"],
      ["  open:\n", "  opem:\n"],
      ["      leak_pressure:", "      leek_pressure:"],
      ["profile: scpi-pressure", "profile: own"],
      ["profile: scpi-airflow", "profile: none"],
      ["model: TUB-12", "model: TUB-13"],
      ["public_key: M", "public_key: N"],
    );
    const problems = problemsIn(text);
    expect(problems.map(({ file, path }) => `${file.slice(folder.length + 1)} ${path}`)).toEqual([
      "station.yaml least_free_disk_MB",
      "station.yaml fixture.volume",
      "station.yaml orifices",
      "station.yaml orifices.working.output",
      "station.yaml gauges",
      "station.yaml gauges.leak_gauge.channels.leek_pressure",
      "station.yaml gauges.airflow_gauge.profile",
      "station.yaml reference_check.pieces[2].model",
      "station.yaml approvers[0].public_key",
      "own.yaml port.baud",
      "limits/pod-4.yaml revision",
    ]);
    expect(problems[4]?.expected).toMatch(/leak_pressure/);
  });
});
