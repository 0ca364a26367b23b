import { mkdirSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join, resolve } from "node:path";
import { beforeEach, describe, expect, it, test } from "vitest";
import type { FileProblem } from "../limits/checked-yaml.ts";
import { readStationFile } from "../station/station-file.ts";
import {
  changed,
  demo,
  GOOD,
  lineOf,
  onPorts,
  problemsIn as problemsAlone,
  scratchFolder,
  unmarked,
} from "./made-station-file.ts";

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
    folder = scratchFolder();
  });
  const problemsIn = (text: string) => problemsAlone(text, folder);
  const put = (name: string, text: string) => writeFileSync(join(folder, name), text);

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
        name === "pod-4.yaml" ? text.replace("revision: 4", "revision: 4.5") : text,
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
      "station.yaml reference_check.pieces[3].model",
      "station.yaml approvers[0].public_key",
      "own.yaml port.baud",
      "limits/pod-4.yaml revision",
    ]);
    expect(problems[4]?.expected).toMatch(/leak_pressure/);
  });
});
