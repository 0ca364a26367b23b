import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { drumtight } from "./command-line.ts";
import { ServedStation } from "./served-station.ts";

const scratch = mkdtempSync(join(tmpdir(), "drumtight-wrong-"));
afterAll(() => rmSync(scratch, { recursive: true, force: true }));

const demo = readFileSync("sim/demo-station.yaml", "utf8").replace(
  "../limits/models",
  resolve("limits/models"),
);

function stationFile(name: string, text: string): string {
  const path = join(scratch, name);
  writeFileSync(path, text);
  return path;
}

describe("used wrongly, every command ends with exit code 2 and says what to do", () => {
  it.each([
    ["no station", ["run", "--json"], /--station FILE, or --simulate/],
    ["a speed no clock has", ["run", "--simulate", "--speed", "0"], /Give a number from 1 to 20/],
    ["a station file that is not there", ["run", "--station", "nowhere.yaml"], /nowhere\.yaml can't be read/],
    [
      "an empty station file name",
      ["run", "--station", ""],
      /^No station file is named\..*--station FILE\.\n$/,
    ],
    ["a folder for a station file", ["run", "--station", "sim"], /sim can't be read: it is a folder\./],
    ["an unknown model", ["run", "--simulate", "--model", "TUB-13"], /no model TUB-13.*POD-4, TUB-12/],
    ["a seed that is no number", ["run", "--simulate", "--seed", "seven"], /whole number/],
    ["an unknown option", ["run", "--simulate", "--fast"], /unknown option '--fast'/],
    ["an unknown command", ["rum"], /unknown command 'rum'[\s\S]*run/],
    [
      "a records folder that is a file",
      ["run", "--simulate", "--units", "1", "--records", "package.json"],
      /package\.json/,
    ],
    ["a records folder that is not there", ["find", "POD000001", "--records", "nowhere"], /nowhere/],
    [
      "one option twice",
      ["run", "--simulate", "--seed", "7", "--seed=8"],
      /^--seed is given twice: give it once\.\n$/,
    ],
    [
      "one option of a command's command twice",
      ["calc", "hole", "--pressure", "8 kPa", "--pressure", "-8 kPa"],
      /^--pressure is given twice/,
    ],
    ["no serial to find", ["find"], /missing required argument 'serial'/],
  ])("%s", async (_, args, words) => {
    const { code, stdout, stderr } = await drumtight(args);
    expect(stderr).toMatch(words);
    expect(stderr).not.toMatch(/\n\s+at /);
    expect(stdout).toBe("");
    expect(code).toBe(2);
  });

  it.each([
    ["find", "POD000001"],
    ["print", "POD000001", "--pdf", "-"],
    ["yield"],
    ["index", "check"],
    ["index", "rebuild"],
    ["suspects"],
    ["audit"],
    ["hold", "POD000001", "--reason", "dented"],
  ])("%s of records that are a file", async (...args) => {
    const { code, stdout, stderr } = await drumtight([...args, "--records", "package.json"]);
    expect(stderr).toMatch(/^The .*package\.json.* can't be listed .*a file, not a folder.*\.\n$/);
    expect({ code, stdout }).toEqual({ code: 2, stdout: "" });
  });

  it("a port that is not there is named with its instrument", async () => {
    const text = demo.replace(
      "profile: stream-pressure\n    transport: { kind: memory }",
      "profile: stream-pressure\n    transport: { kind: serial, port: /dev/no-such-port }",
    );
    const tcp = text.replaceAll("{ kind: memory }", "{ kind: tcp, host: 127.0.0.1, port: 9 }");
    const { code, stderr } = await drumtight(["run", "--station", stationFile("ports.yaml", tcp)]);
    expect(stderr).toMatch(/io_block.*127\.0\.0\.1:9/);
    expect(code).toBe(2);
  });

  it("a serial port that is not there is named by its path", async () => {
    const text = demo.replaceAll("{ kind: memory }", "{ kind: serial, port: /dev/no-such-port }");
    const { code, stderr } = await drumtight(["run", "--station", stationFile("serial.yaml", text)]);
    expect(stderr).toMatch(/io_block.*\/dev\/no-such-port/);
    expect(code).toBe(2);
  });

  it.each([
    ["io_block", "ASCII-IO"],
    ["power_meter", "POWER"],
  ])(
    "%s that is not the one the station file wants is named, with what it says of itself",
    async (name, identity) => {
      const served = new ServedStation("tcp", []);
      try {
        await served.ready();
        const text = readFileSync(served.stationFile, "utf8").replace(
          new RegExp(`(${name}:\\n(?:  .*\\n)*? +identity: )"${identity}"`),
          '$1"BLOCK 7"',
        );
        const { code, stderr } = await drumtight(["run", "--station", stationFile("other.yaml", text)]);
        expect(stderr).toMatch(
          new RegExp(`^${name} answers as ".*${identity}.*", expected was one with "BLOCK 7"`),
        );
        expect(code).toBe(2);
      } finally {
        await served.close();
      }
    },
  );

  it("an orifice on an output the I/O block does not have is refused", async () => {
    const text = demo
      .replaceAll("{ kind: memory }", "{ kind: tcp, host: 127.0.0.1, port: 9 }")
      .replace("output: orifice_2", "output: orifice_9");
    const { code, stderr } = await drumtight(["run", "--station", stationFile("orifice.yaml", text)]);
    expect(stderr).toMatch(
      /orifice\.yaml:\d+:\d+: orifices\.open\.output: found "orifice_9", expected one of .*orifice_1/,
    );
    expect(code).toBe(2);
  });

  it("memory transports are refused on a real station", async () => {
    const { code, stderr } = await drumtight(["run", "--station", stationFile("memory.yaml", demo)]);
    expect(stderr).toMatch(
      /memory\.yaml:\d+:\d+: io_block\.transport\.kind: found "memory", expected "serial" or "tcp"; .* runs with drumtight run --simulate$/m,
    );
    expect(code).toBe(2);
  });

  it("every mistake in a station file is named at once, with line and column", async () => {
    const text = demo
      .replace('volume: "0.40 L"', 'volume: "0.40"')
      .replace("calibration_due: 2027-02-28", "calibration_due: 2027-02-30")
      .replace("least_free_disk_MB: 50", "least_free_disk: 50")
      .replace(
        '{ uncertainty: "1 W", uncertainty_of_reading: "0.1 %" }',
        '{ uncertainty: "1 V", uncertainty_of_reading: "0.1 %" }',
      )
      .replace("leak_pressure: {", "leek_pressure: {")
      .replace("profile: scpi-ambient", "profile: scpi-ambent")
      .replace("output: orifice_2", "output: vent")
      .replace("model: POD-4", "model: POD-5")
      .replace("public_key: MCow", "public_key: ACow");
    const { code, stderr } = await drumtight(["run", "--station", stationFile("mistakes.yaml", text)]);
    for (const words of [
      /mistakes\.yaml:\d+:\d+: fixture\.volume: .*unit is missing/,
      /mistakes\.yaml:\d+:\d+: gauges\.airflow_gauge\.calibration_due: .*date/,
      /mistakes\.yaml:\d+:\d+: .*least_free_disk.*least_free_disk_MB/,
      /mistakes\.yaml:\d+:\d+: gauges\.power_meter\.channels\.power\.uncertainty: .*power/,
      /mistakes\.yaml:\d+:\d+: gauges: .*leak_pressure/,
      /mistakes\.yaml:\d+:\d+: gauges\.leak_gauge\.channels\.leek_pressure: .*did you mean leak_pressure/,
      /mistakes\.yaml:\d+:\d+: gauges\.ambient\.profile: found "scpi-ambent".*did you mean scpi-ambient/,
      /mistakes\.yaml:\d+:\d+: gauges\.ambient\.transport\.kind: found "memory"/,
      /mistakes\.yaml:\d+:\d+: orifices\.open\.output: found "vent"/,
      /mistakes\.yaml:\d+:\d+: reference_check\.pieces\[0\]\.model: found "POD-5"/,
      /mistakes\.yaml:\d+:\d+: approvers\[0\]\.public_key: .*Ed25519/,
    ]) {
      expect(stderr).toMatch(words);
    }
    expect(code).toBe(2);
  });

  it("a station without a gauge for a channel is refused by the channel's name", async () => {
    const text = demo.replace(/ {2}source_gauge:[\s\S]*?(?= {2}airflow_gauge:)/, "");
    const { code, stderr } = await drumtight(["run", "--station", stationFile("missing.yaml", text)]);
    expect(stderr).toMatch(/source_pressure/);
    expect(code).toBe(2);
  });
});

describe("help", () => {
  it.each([
    ["--help"],
    ["run", "--help"],
    ["find", "--help"],
    ["limits", "check", "--help"],
    ["sim", "units", "--help"],
    ["sim", "serve", "--help"],
  ])("of %s %s %s is printed with exit code 0", async (...args) => {
    const { code, stdout } = await drumtight(args.filter((it) => it !== undefined));
    expect(stdout).toMatch(/Usage: drumtight/);
    if (args[0] !== "--help") expect(stdout).toMatch(/Example/);
    expect(code).toBe(0);
  });
});
