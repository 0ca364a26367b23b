import { mkdtempSync, readdirSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it, onTestFinished } from "vitest";
import { bodyDesign } from "../../sim/bodies.ts";
import { readCalibrationFile } from "../../station/calibration-file.ts";
import { drumtight, Running } from "./command-line.ts";
import { ServedStation } from "./served-station.ts";

const scratch = mkdtempSync(join(tmpdir(), "drumtight-study-"));
afterAll(() => rmSync(scratch, { recursive: true, force: true }));

function folder(): string {
  return mkdtempSync(join(scratch, "out-"));
}

const study = (what: string, ...args: readonly string[]) => drumtight(["study", what, ...args]);

describe("drumtight study settle", () => {
  // What the plant's own equations give after a fill, without noise: heat, time constants, and the part of the creep
  // that is left at shut-off.
  it.each([
    ["TUB-12", { tau_s: 3.74, heat_Pa: -1088, slow_Pa: -2.8 }],
    ["POD-4", { tau_s: 3.13, heat_Pa: 804, slow_Pa: 1.9 }],
  ])("learns of %s on the simulator what the plant is", async (model, truth) => {
    const out = folder();
    const { code, stdout, stderr } = await study(
      "settle",
      "--model",
      model,
      "--simulate",
      "--out",
      out,
      "--json",
    );
    expect(stderr).toBe("");
    expect(code).toBe(0);
    const told = JSON.parse(stdout);
    expect(told.tau_s / truth.tau_s).toBeCloseTo(1, 1);
    expect(told.heat_Pa / truth.heat_Pa).toBeCloseTo(1, 1);
    expect(Math.abs(told.slow_Pa - truth.slow_Pa)).toBeLessThan(2 * told.slowSpread_Pa);
    const { value, uncertainty, unit } = told.background;
    // The fixture leaks 0.1 mL/min at 5 kPa.
    expect(Math.abs(value - 0.15)).toBeLessThan(3 * uncertainty);
    expect(unit).toMatch(/mL\/min/);
    const [name = ""] = readdirSync(out);
    expect(told.file).toBe(join(out, name));
    expect(readCalibrationFile(name, readFileSync(join(out, name), "utf8"))).toMatchObject({
      kind: "settle",
      facts: { model, station: "Demo station 1", simulated: true, who: null, pieces: [`REF-TIGHT-${model}`] },
    });
  });

  it("says in lines what it learned and saved, and who did it; a second study overwrites nothing", async () => {
    const out = folder();
    const args = [
      "--model",
      "POD-4",
      "--simulate",
      "--runs",
      "4",
      "--watch",
      "30 s",
      "--rest",
      "20 s",
      "--out",
      out,
    ];
    const { code, stdout } = await study("settle", ...args, "--as", "C. Holm");
    expect(code).toBe(0);
    expect(stdout).toMatch(/run 4 of 4: filled in 3\.\d s, watched for 30 s/);
    expect(stdout).toMatch(/time constant +3\.\d+ s, expected to spread by \d+(\.\d)? %/);
    expect(stdout).toMatch(/background +-?[\d.]+ \+- [\d.]+ mL\/min/);
    expect(stdout).toMatch(
      /Saved: .*POD-4\.settle\..*\.json\nTo put it in force, run it again with --out .*sim: nothing there/,
    );
    const [first = ""] = readdirSync(out);
    const text = readFileSync(join(out, first), "utf8");
    expect(text).toMatch(/"who": "C\. Holm"/);
    expect((await study("settle", ...args)).code).toBe(0);
    expect(readdirSync(out)).toHaveLength(2);
    expect(readFileSync(join(out, first), "utf8")).toBe(text);
  });

  it("on the simulator leaves the demo station's own calibrations alone, and says where the new one is", async () => {
    const before = readdirSync("sim");
    const { stdout } = await study(
      "settle",
      "--model",
      "POD-4",
      "--simulate",
      "--runs",
      "4",
      "--watch",
      "25 s",
      "--json",
    );
    const { file } = JSON.parse(stdout);
    onTestFinished(() => rmSync(file));
    expect(file).toMatch(/simulated-records\/calibrations\/demo-station\.POD-4\.settle\./);
    expect(readdirSync("sim")).toEqual(before);
  });

  it("answers no, and saves nothing, where the runs are too short to tell heat from a leak", async () => {
    const out = folder();
    const { code, stderr } = await study(
      "settle",
      "--model",
      "TUB-12",
      "--simulate",
      "--watch",
      "12 s",
      "--out",
      out,
    );
    expect(stderr).toMatch(
      /^Nothing was saved\. The gas settles with a time constant of about [\d.]+ s.*watch for \d+ s or longer\.\n$/,
    );
    expect(code).toBe(1);
    expect(readdirSync(out)).toEqual([]);
  });
});

describe("drumtight study volume", () => {
  /** What a slow leak feels: the rest volume, and what the walls yield at the pressure reached. */
  function effective_L(model: string): number {
    const { volume_m3, elasticCompliance_m3_Pa, creepCompliance_m3_Pa, leakPressure_Pa } = bodyDesign(model);
    const yields = elasticCompliance_m3_Pa + creepCompliance_m3_Pa;
    const reached_Pa = leakPressure_Pa * 0.85;
    return 1000 * (volume_m3 + 0.0004 + yields * (101_325 + 2 * reached_Pa));
  }

  it.each([
    ["TUB-12", "the reference pieces", ["--leak-uncertainty", "1 %"]],
    ["POD-4", "the reference pieces", ["--leak-uncertainty", "1 %", "--leak-kind", "capillary"]],
    [
      "TUB-12",
      "a calibrated leak",
      [
        "--leak",
        "40 mL/min @ 20 degC",
        "--leak-uncertainty",
        "0.2 mL/min @ 20 degC",
        "--leak-kind",
        "capillary",
      ],
    ],
    [
      "POD-4",
      "a calibrated leak",
      ["--leak", "0.5 mL/s @ 0 degC", "--leak-uncertainty", "0.5 %", "--leak-kind", "capillary"],
    ],
    [
      "TUB-12",
      "an added volume",
      ["--added-volume", "3 L", "--added-uncertainty", "3 mL", "--leak-kind", "capillary"],
    ],
    ["POD-4", "an added volume", ["--added-volume", "1 L", "--added-uncertainty", "0.2 %"]],
  ])("of %s by %s is the plant's, within its uncertainty", async (model, _, args) => {
    const out = folder();
    const { code, stdout, stderr } = await study(
      "volume",
      "--model",
      model,
      "--simulate",
      "--out",
      out,
      "--json",
      ...args,
    );
    expect(stderr).toBe("");
    expect(code).toBe(0);
    const { value, unit, uncertainty, budget, file } = JSON.parse(stdout);
    expect(unit).toBe("L");
    expect(Math.abs(value - effective_L(model))).toBeLessThan(2 * uncertainty);
    expect(uncertainty / value).toBeLessThan(0.05);
    const variance = budget.reduce(
      (sum: number, line: { contribution_L: number }) => sum + line.contribution_L ** 2,
      0,
    );
    expect(Math.sqrt(variance) / uncertainty).toBeCloseTo(1, 9);
    const calibration = readCalibrationFile(file, readFileSync(file, "utf8"));
    expect(calibration).toMatchObject({ kind: "volume", facts: { model }, evidence: { runs: 9 } });
    expect(calibration.kind === "volume" && 1000 * calibration.values.volume_m3).toBeCloseTo(value, 6);
  });

  it("says in lines the volume, its expanded uncertainty and where that comes from", async () => {
    const args = ["--model", "POD-4", "--simulate", "--out", folder(), "--leak-uncertainty", "1 %"];
    const { stdout } = await study("volume", ...args, "--leak-kind", "capillary");
    expect(stdout).toMatch(/POD-4 and fixture: 4\.4\d+ \+- 0\.0\d+ L, by the known leak, from 9 runs\./);
    expect(stdout).toMatch(/known leak +0\.04\d* L {2}\(9\d %\)/);
  });

  it("answers no, and saves nothing, where the added volume is too small to be seen", async () => {
    const out = folder();
    const args = [
      "--model",
      "TUB-12",
      "--simulate",
      "--added-volume",
      "20 mL",
      "--added-uncertainty",
      "1 mL",
    ];
    const { code, stderr } = await study("volume", ...args, "--out", out);
    expect(stderr).toMatch(/^Nothing was saved\. The added volume does not stand out/);
    expect(code).toBe(1);
    expect(readdirSync(out)).toEqual([]);
  });
});

describe("on a station with real ports a study", () => {
  const settle = (served: ServedStation) =>
    new Running([
      "study",
      "settle",
      "--model",
      "POD-4",
      "--station",
      served.stationFile,
      "--watch",
      "5 s",
      "--json",
    ]);

  async function asked(running: Running): Promise<void> {
    const { stderr } = running.child;
    await new Promise<void>((resolve) => {
      let told = "";
      stderr?.on("data", (text: string) => {
        told += text;
        if (/scan REF-TIGHT-POD-4 or press Enter/.test(told)) resolve();
      });
    });
  }

  it("warns of the body first, waits for the piece, and ends on a signal with safe outputs and nothing saved", async () => {
    const served = new ServedStation("tcp", ["--hands"]);
    onTestFinished(() => served.close());
    await served.ready();
    await served.mount("REF-TIGHT-POD-4");
    const before = readdirSync(served.folder);
    const running = settle(served);
    await asked(running);
    running.type("");
    running.child.kill("SIGINT");
    const { code, stdout, stderr } = await running.ended;
    expect(stderr).toMatch(/^The body is pressurised 5 times by itself[\s\S]*Local safety rules come first/);
    expect(stderr).toMatch(
      /The study has ended, and nothing was saved\. The program was stopped during the study\.\n$/,
    );
    expect(stdout).toBe("");
    expect(code).toBe(2);
    expect(readdirSync(served.folder)).toEqual(before);
  });

  it("does not begin where nobody says that the piece is on, or while the station tests units", async () => {
    const served = new ServedStation("tcp", ["--hands"]);
    onTestFinished(() => served.close());
    await served.ready();
    const alone = await drumtight(["study", "settle", "--model", "POD-4", "--station", served.stationFile]);
    expect(alone.stderr).toMatch(/Nobody said that REF-TIGHT-POD-4 is on the fixture/);
    expect(alone.code).toBe(2);
    const shift = served.run(["--start", "button"]);
    shift.type("POD9");
    await shift.waitFor((event) => event.event === "refused");
    const during = await drumtight(["study", "settle", "--model", "POD-4", "--station", served.stationFile]);
    expect(during.stderr).toMatch(/The station is testing units.*end the shift first\.\n$/);
    expect(during.code).toBe(2);
    shift.child.stdin?.end();
    await shift.ended;
  });
});

describe("a study used wrongly ends with exit code 2 and says what to do", () => {
  it.each<[string, readonly string[], RegExp]>([
    ["no station", ["settle", "--model", "POD-4"], /--station FILE, or --simulate/],
    [
      "two stations",
      ["settle", "--model", "POD-4", "--simulate", "--station", "x.yaml"],
      /cannot be used with/,
    ],
    ["no model", ["settle", "--simulate"], /required option '--model <name>'/],
    ["an unknown model", ["settle", "--simulate", "--model", "TUB-13"], /no model TUB-13.*POD-4, TUB-12/],
    ["too few runs", ["settle", "--simulate", "--model", "POD-4", "--runs", "3"], /from 4 to 50/],
    [
      "a time without a unit",
      ["settle", "--simulate", "--model", "POD-4", "--watch", "60"],
      /--watch: found "60".*unit is missing/,
    ],
    [
      "a time too short",
      ["settle", "--simulate", "--model", "POD-4", "--watch", "1 s"],
      /--watch: found "1 s", expected 5 s to 600 s/,
    ],
    [
      "a spread of nothing",
      ["settle", "--simulate", "--model", "POD-4", "--tau-spread", "0 %"],
      /--tau-spread.*above zero/,
    ],
    [
      "a spread wider than what it spreads about",
      ["settle", "--simulate", "--model", "POD-4", "--tau-spread", "500 %"],
      /^--tau-spread: found "500 %", expected 50 % at most.*\n$/,
    ],
    [
      "a folder that is not there",
      ["settle", "--simulate", "--model", "POD-4", "--runs", "4", "--watch", "25 s", "--out", "nowhere"],
      /nowhere can't be used/,
    ],
    ["an empty name", ["settle", "--simulate", "--model", "POD-4", "--as", " "], /--as: give a name/],
    [
      "a leak without its uncertainty",
      ["volume", "--simulate", "--model", "POD-4"],
      /--leak-uncertainty is missing/,
    ],
    [
      "a volume without its uncertainty",
      ["volume", "--simulate", "--model", "POD-4", "--added-volume", "1 L"],
      /--added-uncertainty is missing/,
    ],
    [
      "an uncertainty without its volume",
      ["volume", "--simulate", "--model", "POD-4", "--added-uncertainty", "1 %"],
      /--added-volume/,
    ],
    [
      "leak and volume",
      ["volume", "--simulate", "--model", "POD-4", "--leak", "30 mL/min @ 20 degC", "--added-volume", "1 L"],
      /cannot be used with/,
    ],
    [
      "a leak without conditions",
      ["volume", "--simulate", "--model", "POD-4", "--leak", "30 mL/min", "--leak-uncertainty", "1 %"],
      /--leak.*20 degC/,
    ],
    [
      "an uncertainty of more than all",
      ["volume", "--simulate", "--model", "POD-4", "--leak-uncertainty", "120 %"],
      /less than 100 %/,
    ],
    [
      "an unknown kind of leak",
      ["volume", "--simulate", "--model", "POD-4", "--leak-uncertainty", "1 %", "--leak-kind", "slit"],
      /Allowed choices are capillary, orifice, unknown/,
    ],
  ])("%s", async (_, args, words) => {
    const { code, stdout, stderr } = await drumtight(["study", ...args]);
    expect(stderr).toMatch(words);
    expect(stderr).not.toMatch(/\n\s+at /);
    expect(stdout.replace(/^This station is simulated.*\n|^REF-.*\n/gm, "")).toBe("");
    expect(code).toBe(2);
  });

  it.each(["settle", "volume"])("and --help of %s shows the formula and an example", async (what) => {
    const { code, stdout } = await study(what, "--help");
    expect(code).toBe(0);
    expect(stdout).toMatch(what === "settle" ? /p\(t\) = c \+ s t/ : /V = q p_ref/);
    expect(stdout).toMatch(/Examples:/);
    expect(stdout).toMatch(/one standard|one tight piece/i);
  });
});
