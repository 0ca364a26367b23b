import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it, test } from "vitest";
import {
  loadProfile,
  ownProfilesFolder,
  profileNames,
  readProfile,
  readProfileAt,
} from "../../drivers/profile-file.ts";
import { profileJsonSchema } from "../../drivers/profile-schema.ts";
import { ReplyReader } from "../../drivers/protocols/reply-reader.ts";
import { FileProblems } from "../../limits/checked-yaml.ts";

const GOOD = readFileSync(join(ownProfilesFolder(), "stream-pressure.yaml"), "utf8");

function problemsOf(text: string): string[] {
  try {
    readProfile("gauge", "gauge.yaml", text);
  } catch (error) {
    if (error instanceof FileProblems) return error.message.split("\n");
    throw error;
  }
  return [];
}

describe("profiles", () => {
  it("come with the program for every instrument of the demo plant, and all can be read", () => {
    const names = profileNames(ownProfilesFolder());
    for (const name of [
      "ascii-io",
      "scpi-airflow",
      "scpi-ambient",
      "scpi-flow-drop",
      "scpi-power",
      "scpi-pressure",
      "stream-checked",
      "stream-plain",
      "stream-pressure",
    ]) {
      expect(names).toContain(name);
    }
    for (const name of names) expect(loadProfile(name).name).toBe(name);
  });

  // Factors: 1 L/s = 0.001 m3/s; 0 degC = 273.15 K (SI Brochure, 9th ed., tables 8 and 2.3.1).
  test.each([
    ["scpi-airflow", "+1.20345E+04;+2.31245E+01", { suction: 12034.5, flow: 0.0231245 }],
    ["scpi-power", "+6.21300E+02;+2.30100E+02", { power: 621.3, voltage: 230.1 }],
    ["scpi-flow-drop", "+1.06249E+03", { flow_drop: 1062.49 }],
    [
      "scpi-ambient",
      "+2.12400E+01;+1.01325E+05;+4.52000E+01",
      { ambient_temperature: 294.39, ambient_pressure: 101325, ambient_humidity: 0.452 },
    ],
    ["stream-pressure", "N=004711 P=-7998.42 S=0", { leak_pressure: -7998.42 }],
    ["stream-plain", "-7998.4", { leak_pressure: -7998.4 }],
    ["stream-plain", "   12.0", { leak_pressure: 12 }],
    ["stream-checked", "$P,4711,-7.99842,kPa,0*33", { leak_pressure: -7998.42 }],
  ])("%s turns %j into SI values", (name, line, expected) => {
    const profile = loadProfile(name);
    if (profile.kind !== "gauge") throw new Error("not a gauge");
    const readings = new ReplyReader(name, profile).read(line, 12.5);
    expect(readings.map(({ channel }) => channel)).toEqual(Object.keys(expected));
    for (const [index, value] of Object.values(expected).entries()) {
      expect(readings[index]?.value).toBeCloseTo(value, 9);
      expect(readings[index]).toMatchObject({ quality: "good", t_s: 12.5 });
    }
  });

  it("applies the scale before the unit, whatever its sign", () => {
    const text = GOOD.replace("unit: Pa", "unit: mbar\n    scale: -0.1");
    const profile = readProfile("gauge", "gauge.yaml", text);
    if (profile.kind !== "gauge") throw new Error("not a gauge");
    const [reading] = new ReplyReader("gauge", profile).read("N=000001 P=-7998.40 S=0", 0);
    expect(reading?.value).toBeCloseTo(79984, 6);
  });

  test.each([
    ["an unknown unit", "unit: Pa", "unit: pa", /channels\[0\]\.unit: found "pa".*did you mean/],
    ["a unit of another quantity", "unit: Pa", "unit: L/s", /channels\[0\]\.unit: found/],
    [
      "a pattern that does not take the whole line",
      "S=(?<state>\\d)$'",
      "S=(?<state>\\d)'",
      /reply: .*from \^ to \$/,
    ],
    ["a broken pattern", "(?<state>\\d)$'", "(?<state>\\d$'", /reply: .*regular expression that can be read/],
    ["a pattern that could take for ever", "P=(?<leak", "(P+)+=(?<leak", /reply: .*repeated group/],
    [
      "a pattern with two ways at every letter",
      "P=(?<leak",
      "P(?:a|a)*=(?<leak",
      /reply: .*repeats or has alternatives/,
    ],
    [
      "a pattern that could split digits anywhere",
      "(?<n>\\d{6})",
      "\\d*\\d*\\d*\\d*\\d*(?<n>\\d*)x",
      /reply: .*so many ways/,
    ],
    [
      "a channel without its group",
      "- name: leak_pressure",
      "- name: pressure",
      /channels\[0\]\.name: .*it has n, leak_pressure, state/,
    ],
    ["a group nobody uses", "  group: state\n", "  group: n\n", /reply: .*group state/],
    [
      "both poll and stream",
      "stream:\n",
      "poll: { ask: 'P?', every: 1 s }\nstream:\n",
      /either poll or stream/,
    ],
    ["neither", "stream:\n  stale_after: 1 s\n", "", /either poll or stream/],
    [
      "a time without a unit",
      "reply_within: 500 ms",
      "reply_within: 500",
      /reply_within: found 500, expected a time/,
    ],
    [
      "a mistyped key",
      "identity:\n",
      "identitiy:\n",
      /identitiy: found an unknown key.*did you mean identity/,
    ],
    ["a scale of nothing", "unit: Pa", "unit: Pa\n    scale: 0", /channels\[0\]\.scale: .*other than 0/],
    [
      "an offset with a unit",
      "unit: Pa",
      "unit: Pa\n    offset: 5 Pa",
      /channels\[0\]\.offset: found "5 Pa", expected a number/,
    ],
    [
      "an unknown line end",
      "terminator: CRLF",
      "terminator: CRLF\n  send_terminator: LFCR",
      /send_terminator: found "LFCR"/,
    ],
    ["a misspelt echo", "stream:\n", "echo: yes\nstream:\n", /echo: found "yes"/],
    [
      "lines to skip that are no patterns for whole lines",
      "stream:\n",
      "skip: [OK]\nstream:\n",
      /skip\[0\]: found "OK".*from \^ to \$/,
    ],
    [
      "a self-test that may take for ever",
      "stream:\n",
      'self_test: { ask: "T?", expect: "^0$" }\nstream:\n',
      /self_test\.within: found nothing/,
    ],
    [
      "a start-up command with neither answer nor wait",
      "stream:\n",
      "start_up:\n  - send: RATE 50\nstream:\n",
      /start_up\[0\]: .*either expect .* or wait/,
    ],
    [
      "a start-up command with both",
      "stream:\n",
      'start_up:\n  - { send: R, expect: "^OK$", wait: 1 s }\nstream:\n',
      /start_up\[0\]: .*and not both/,
    ],
    ["no start-up command", "stream:\n", "start_up: []\nstream:\n", /start_up: found/],
    [
      "an unknown kind of checksum",
      "stream:\n",
      "checksum: { kind: crc16_modbas, digits: upper }\nstream:\n",
      /checksum\.kind: found "crc16_modbas".*did you mean crc16_modbus/,
    ],
    [
      "a checksum whose digits are not told",
      "stream:\n",
      "checksum: { kind: xor }\nstream:\n",
      /checksum\.digits: found nothing/,
    ],
    [
      "a command that cannot carry the checksum",
      "stream:\n",
      "checksum: { kind: xor, begins_after: $, digits: upper, sent: true }\nstream:\n",
      /identity\.ask: found "ID\?", expected a command that begins with "\$"/,
    ],
    [
      "a text that stands for two things",
      "stream:\n",
      "text_values: { over_range: [OL], invalid: [OL] }\nstream:\n",
      /text_values\.invalid\[0\]: found "OL", expected each of them once/,
    ],
    [
      "a text that is a number",
      "stream:\n",
      'text_values: { over_range: ["9.9E+37"] }\nstream:\n',
      /text_values\.over_range\[0\]: .*no number.*special_values/,
    ],
    ["a state that is good and bad", 'invalid: ["2"]', 'invalid: ["0"]', /status\.invalid\[0\]: .*once/],
  ])("name %s by file, line and column", (_what, from, to, expected) => {
    expect(GOOD).toContain(from);
    const problems = problemsOf(GOOD.replace(from, () => to));
    for (const problem of problems) expect(problem).toMatch(/^gauge\.yaml:\d+:\d+: /);
    expect(problems.join("\n")).toMatch(expected);
  });

  it("name all mistakes at once", () => {
    const text = GOOD.replace("baud: 115200", "baud: fast")
      .replace("unit: Pa", "unit: pa")
      .replace("^N=", "N=");
    expect(problemsOf(text)).toHaveLength(3);
  });

  it("name what does not fit together beside a number that is not whole", () => {
    const text = GOOD.replace("baud: 115200", "baud: 1.5")
      .replace("unit: Pa", "unit: pa")
      .replace("- name: leak_pressure", "- name: pressure")
      .replace("stream:\n", "poll: { ask: 'P?', every: 1 s }\nstream:\n");
    const problems = problemsOf(text);
    for (const words of [
      /port\.baud: found 1\.5/,
      /channels\[0\]\.name: .*named group/,
      /channels\[0\]\.unit: found "pa"/,
      /reply: .*group leak_pressure/,
      /either poll or stream/,
    ]) {
      expect(problems).toContainEqual(expect.stringMatching(words));
    }
    expect(problems).toHaveLength(5);
  });

  it("have a JSON Schema that lists both kinds", () => {
    const schema = JSON.stringify(profileJsonSchema());
    for (const word of ["gauge", "io_block", "reply", "heartbeat", "2020-12"]) expect(schema).toContain(word);
  });
});

describe("finding a profile", () => {
  const folder = mkdtempSync(join(tmpdir(), "drumtight-profiles-"));
  afterAll(() => rmSync(folder, { recursive: true, force: true }));

  it("takes the plant's own before the built-in one", () => {
    writeFileSync(join(folder, "stream-pressure.yaml"), GOOD.replace("Streaming pressure gauge", "Ours"));
    expect(loadProfile("stream-pressure", [folder, ownProfilesFolder()]).title).toBe("Ours");
    expect(loadProfile("scpi-power", [folder, ownProfilesFolder()]).name).toBe("scpi-power");
  });

  it("says which there are when there is no such", () => {
    expect(() => loadProfile("scpi-presure")).toThrow(
      expect.objectContaining({ code: "PROFILE_INVALID", message: expect.stringContaining("scpi-pressure") }),
    );
  });

  it("names only profiles, whatever other YAML files lie beside them", () => {
    writeFileSync(join(folder, "station.yaml"), "drumtight: station/1\n");
    expect(profileNames(folder)).not.toContain("station");
    expect(profileNames(folder)).toContain("stream-pressure");
  });

  it("refuses a file that is not UTF-8, whose degree sign would match nothing", () => {
    writeFileSync(join(folder, "latin.yaml"), Buffer.from(GOOD.replace("Streaming", "\xb0C"), "latin1"));
    expect(() => loadProfile("latin", [folder])).toThrow(/latin\.yaml:1:1: found bytes that are not UTF-8/);
  });

  it("by its path says when no station file could name it", () => {
    const named = join(folder, "my gauge.yaml");
    writeFileSync(named, GOOD);
    expect(() => readProfileAt(named)).toThrow(/my gauge\.yaml:1:1: found a name no station file can give/);
    expect(readProfileAt(join(ownProfilesFolder(), "scpi-power.yaml")).name).toBe("scpi-power");
    expect(() => readProfileAt(join(folder, "none.yaml"))).toThrow(
      expect.objectContaining({ code: "PROFILE_INVALID" }),
    );
  });

  it("never leaves the folders", () => {
    expect(() => loadProfile("../profiles/scpi-power")).toThrow(
      expect.objectContaining({ code: "PROFILE_INVALID" }),
    );
  });
});
