import { copyFileSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, test, vi } from "vitest";
import { loadLimitFile } from "../limits/limit-file.ts";
import { limitsCommand } from "../station/commands/limits.ts";
import { limits } from "./run-limits.ts";

const TUB = join(import.meta.dirname, "limits/good.yaml");

let folder = "";
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "limits-command-"));
  vi.stubEnv("DRUMTIGHT_PASSPHRASE", "river stone");
});
afterEach(() => {
  rmSync(folder, { recursive: true });
  vi.unstubAllEnvs();
});

test("check says OK for a good file and names every problem of a bad one", async () => {
  const bad = join(folder, "bad.yaml");
  writeFileSync(
    bad,
    readFileSync(TUB, "utf8").replace("settle: 28 s", "settle: 28").replace("revision: 1", "revision: 0"),
  );
  const result = await limits("check", TUB, bad);
  expect(result.exitCode).toBe(1);
  expect(result.out).toBe(`${TUB}: OK, TUB-12 revision 1\n`);
  expect(result.err.split("\n").map((line) => line.split(": found")[0])).toEqual([
    `${bad}:5:11: revision`,
    `${bad}:28:13: steps[0].settle`,
    "Not checked of ASTM E2930: resolution, accuracy, deformable vessel. They depend on the station: add --station FILE.",
    "",
  ]);
});

test("check names every mistake also where a key is repeated and a number is not whole", async () => {
  const bad = join(folder, "bad.yaml");
  const text = readFileSync(TUB, "utf8")
    .replace("revision: 1", "revision: 1.5\nmodel: TUB-13")
    .replace("test_pressure: -8 kPa", "test_pressure: -28 kPa")
    .replace("samples_least: 8", "samples_least: 8.5")
    .replace("lower: 1010 W", "lower: 1400 W")
    .replace("after_void: 2", "after_void: 1e99");
  writeFileSync(bad, text);
  const { err, exitCode } = await limits("check", bad);
  expect(err.split("\n").map((line) => line.split(": found")[0])).toEqual([
    `${bad}:5:11: revision`,
    `${bad}:6:1: model`,
    `${bad}:23:20: steps[0].test_pressure`,
    `${bad}:53:78: steps[1].points[0].samples_least`,
    `${bad}:90:12: characteristics[4].lower`,
    `${bad}:108:15: retest.after_void`,
    "",
  ]);
  expect(err).toContain("model: found a key that is there already, in line 3");
  expect(exitCode).toBe(1);
});

test("check answers 2 for a file that is not there", async () => {
  expect(await limits("check", join(folder, "none.yaml"), TUB)).toMatchObject({ exitCode: 2 });
});

test("check --json prints one object per file", async () => {
  const { out, exitCode } = await limits("check", "--json", TUB, join(folder, "none.yaml"));
  const [good, missing] = out
    .trim()
    .split("\n")
    .map((line) => JSON.parse(line));
  expect(good).toEqual({
    file: TUB,
    ok: true,
    model: "TUB-12",
    revision: 1,
    sha256: loadLimitFile(TUB).source.sha256,
    warnings: [],
    unchecked: ["resolution", "accuracy", "deformable vessel"],
  });
  expect(missing).toMatchObject({ ok: false, problems: [{ line: 1, found: "nothing of that name" }] });
  expect(exitCode).toBe(2);
});

test("check says of a folder that it is one", async () => {
  const { err, exitCode } = await limits("check", folder);
  expect(err).toBe(`${folder}:1:1: found a folder, expected a limit file that can be read\n`);
  expect(exitCode).toBe(2);
});

describe("check warns", () => {
  const STATION = join(import.meta.dirname, "../sim/demo-station.yaml");

  /** The good file with one thing changed, by a fixed timer, which needs no calibration. */
  function changed(name: string, from: string, to: string): string {
    const path = join(folder, name);
    const text = readFileSync(TUB, "utf8")
      .replace("{ kind: fitted }", "{ kind: slope, subtract_mean_curve: false }")
      .replace(/early_verdict:\n(?: {6}.*\n)+/, "early_verdict: off\n");
    if (!text.includes(from)) throw new Error(`The good file has no ${from}.`);
    writeFileSync(path, text.replace(from, to));
    return path;
  }
  const notChecked = (err: string) => err.split("\n").filter((line) => line.startsWith("Not checked"));

  test("of a pressure change beyond a tenth of the test pressure, from the limit file alone", async () => {
    const long = changed("long.yaml", "measure_longest: 10 s", "measure_longest: 100 s");
    const { out, err, exitCode } = await limits("check", long);
    expect(exitCode).toBe(0);
    expect(out).toBe(`${long}: OK, TUB-12 revision 1\n`);
    expect(err.split("\n")[0]).toBe(
      `${long}: warning: leak rate: A leak at the limit changes the pressure by 844 Pa in the longest measuring time, ` +
        "and ASTM E2930 asks for less than a tenth of the test pressure, 800 Pa: set measure_longest below 94 s.",
    );
    const asJson = await limits("check", "--json", long);
    expect(asJson.err).toBe("");
    expect(JSON.parse(asJson.out)).toMatchObject({
      ok: true,
      warnings: [{ characteristic: "leak rate", rule: "pressure change" }],
    });
  });

  test("of a limit finer than the station can measure", async () => {
    const fine = changed("fine.yaml", "upper: 60 mL/min", "upper: 1.6 mL/min");
    const { out, exitCode } = await limits("check", "--json", "--station", STATION, fine);
    expect(exitCode).toBe(0);
    expect(JSON.parse(out)).toMatchObject({
      warnings: [
        { rule: "resolution" },
        { rule: "accuracy" },
        { rule: "settling" },
        { rule: "guard band" },
        { rule: "revision" },
      ],
      unchecked: [],
    });
  });

  test("of nothing where limit and station suit each other, and says once what it could not look at", async () => {
    const files = [changed("a.yaml", "revision: 1", "revision: 5"), changed("b.yaml", "TUB-12", "TUB-13")];
    const [, other = ""] = files;
    writeFileSync(other, readFileSync(other, "utf8").replace("^TUB", "^TUC").replace("TUB000", "TUC000"));
    const alone = await limits("check", ...files);
    expect(alone.err).not.toContain("warning");
    expect(notChecked(alone.err)).toEqual([expect.stringContaining("--station FILE")]);
    const atStation = await limits("check", "--station", STATION, ...files);
    expect(atStation.err).not.toContain("warning");
    expect(notChecked(atStation.err)).toEqual([
      "Not checked of ASTM E2930: deformable vessel. First learn on the tight reference piece how the body settles: " +
        "drumtight study settle.",
    ]);
  });

  test("of nothing in a file without a leak step", async () => {
    const text = readFileSync(TUB, "utf8");
    const [leakStep, airflowStep] = [text.indexOf("  - step: leak"), text.indexOf("  - step: airflow")];
    const [leakRate, suction] = [
      text.indexOf("  - name: leak rate"),
      text.indexOf("  - name: sealed suction"),
    ];
    const path = join(folder, "airflow.yaml");
    writeFileSync(path, text.slice(0, leakStep) + text.slice(airflowStep, leakRate) + text.slice(suction));
    expect(await limits("check", path)).toMatchObject({ exitCode: 0, err: "" });
  });
});

test("schema prints a JSON Schema, in which counts are bounded integers", async () => {
  expect(JSON.parse((await limits("schema")).out)).toMatchObject({
    properties: {
      revision: { type: "integer", minimum: 1 },
      retest: { properties: { after_fail: { type: "integer", minimum: 0, maximum: 10 } } },
    },
  });
  expect(JSON.parse((await limits("schema")).out)).toMatchObject({
    type: "object",
    additionalProperties: false,
  });
});

describe("check holds a file against those it is to lie beside", () => {
  const text = readFileSync(TUB, "utf8");
  const lay = (name: string, content: string) => {
    const path = join(folder, name);
    writeFileSync(path, content);
    return path;
  };
  const other = () => lay("other.yaml", text.replace("model: TUB-12", "model: TUB-13"));

  test("of one folder or of none: serials that fit two models, two files of one revision", async () => {
    const tub = lay("tub-12.yaml", text);
    const { exitCode, out, err } = await limits("check", tub, other(), lay("twice.yaml", text));
    expect(exitCode).toBe(1);
    expect(out).toBe(`${tub}: OK, TUB-12 revision 1\n`);
    expect(err).toMatch(/other\.yaml:\d+:\d+: serial\.pattern: found a serial pattern that takes TUB/);
    expect(err).toMatch(/twice\.yaml:\d+:\d+: revision: found 1, as .*tub-12\.yaml has of TUB-12/);
  });

  test("of the station, whose own file of the model is the one to be replaced", async () => {
    const station = "sim/demo-station.yaml";
    const clash = await limits("check", other(), "--station", station);
    expect(clash).toMatchObject({ exitCode: 1, err: expect.stringMatching(/as .*tub-12\.yaml does/) });
    expect((await limits("check", "limits/models/tub-12.yaml", "--station", station)).exitCode).toBe(0);
    const copy = lay("tub-12.yaml", readFileSync("limits/models/tub-12.yaml", "utf8"));
    expect((await limits("check", copy, "--station", station)).exitCode).toBe(0);
  });
});

test("a draft that lies ready in the station's folder is held against the limits that judge there", async () => {
  for (const name of ["tub-12.yaml", "tub-12.yaml.approval.json"])
    copyFileSync(join("limits/models", name), join(folder, name));
  const next = join(folder, "tub-12.revision-5.yaml");
  const tub = readFileSync("limits/models/tub-12.yaml", "utf8");
  writeFileSync(next, tub.replace("revision: 4", "revision: 5"));
  const station = join(folder, "demo-station.txt");
  writeFileSync(station, readFileSync("sim/demo-station.yaml", "utf8").replace("../limits/models", folder));
  const { exitCode, err } = await limits("check", next, "--station", station);
  expect(exitCode).toBe(0);
  expect(err).toContain("The reason is that of revision 4");
});

test.each(["check", "schema", "approve", "new-key"])("the help of %s has an example", (name) => {
  let help = "";
  const command = limitsCommand().commands.find((candidate) => candidate.name() === name);
  command?.configureOutput({ writeOut: (text) => (help += text) }).outputHelp();
  expect(help).toContain(`$ drumtight limits ${name}`);
});

describe("diff", () => {
  const tighter = () => {
    const path = join(folder, "tighter.yaml");
    const text = readFileSync(TUB, "utf8");
    writeFileSync(
      path,
      text.replace("60 mL/min @ 20 degC", "0.9 cm3/s @ 20 degC").replace("revision: 1", "revision: 2"),
    );
    return path;
  };

  test("answers 1 and says in words and numbers what changed, in both units", async () => {
    const path = tighter();
    expect(await limits("diff", TUB, path)).toEqual({
      exitCode: 1,
      out:
        `TUB-12: ${TUB} (revision 1) -> ${path} (revision 2)\n` +
        "revision 1 -> 2 (raised)\n" +
        "upper limit of the leak rate\n" +
        "  from 60 mL/min @ 20 degC\n" +
        "  to 0.9 cm3/s @ 20 degC\n" +
        "  (= 54 mL/min @ 20 degC, tighter, 10 %)\n",
      err: "",
    });
  });

  test("answers 0 where only the writing differs, and says so", async () => {
    const path = join(folder, "written.yaml");
    writeFileSync(path, readFileSync(TUB, "utf8").replace("60 mL/min @", "1 cm3/s @"));
    const { exitCode, out } = await limits("diff", TUB, path);
    expect(out.split("\n").slice(1)).toEqual([
      "no difference in what they say; units, comments or layout differ",
      "upper limit of the leak rate 60 mL/min @ 20 degC = 1 cm3/s @ 20 degC, the same",
      "",
    ]);
    expect(exitCode).toBe(0);
  });

  test("--json gives places, texts, SI values and which way it goes", async () => {
    const { exitCode, out } = await limits("diff", "--json", TUB, tighter());
    expect(exitCode).toBe(1);
    const { same, changes } = JSON.parse(out);
    expect(same).toBe(false);
    expect(changes[1]).toEqual({
      kind: "changed",
      place: "characteristics[leak rate].upper",
      words: "upper limit of the leak rate",
      from: "60 mL/min @ 20 degC",
      to: "0.9 cm3/s @ 20 degC",
      from_SI: expect.closeTo(1e-6, 15),
      to_SI: expect.closeTo(9e-7, 15),
      to_in_unit_of_from: "54 mL/min @ 20 degC",
      effect: "tighter",
      by: expect.closeTo(0.1, 12),
    });
  });

  test("refuses two models, and names what is wrong in both files", async () => {
    const other = join(folder, "other.yaml");
    writeFileSync(other, readFileSync(TUB, "utf8").replace("model: TUB-12", "model: TUB-13"));
    await expect(limits("diff", TUB, other)).rejects.toThrow(/give two limit files of one model/);
    const none = join(folder, "none.yaml");
    writeFileSync(other, "drumtight: limits/1\n");
    await expect(limits("diff", none, other)).rejects.toThrow(
      /none\.yaml:1:1: found nothing of that name[\s\S]*other\.yaml/,
    );
  });
});
