import { createHash } from "node:crypto";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, test } from "vitest";
import { parse } from "yaml";
import { z } from "zod";
import {
  limitFileJsonSchema,
  loadLimitFile,
  loadLimitFolder,
  readLimitFile,
  UnreadableFile,
} from "../../limits/limit-file.ts";
import { CORRECTION, changed, EARLY, GOOD, METHOD, problemsIn, problemsOf, STEADY } from "./good-file.ts";

const MODELS = join(import.meta.dirname, "../../limits/models");
test("a good file comes out in SI", () => {
  const tub = readLimitFile("m.yaml", GOOD);
  expect(tub).toMatchObject({ volume_m3: 0.012, ratedPressure_Pa: -25_000, effectiveDate: "2026-01-05" });
  expect(tub.steps[0]).toMatchObject({
    kind: "leak",
    testPressure_Pa: -8000,
    fillShortest_s: 2,
    fillLongest_s: 8,
    settle_s: 28,
    method: { kind: "fitted" },
    measureLongest_s: 10,
    ventShortest_s: 0.5,
    ventLongest_s: 8,
    earlyVerdict: { measureShortest_s: 3, lookEvery_s: 0.25, falseAccept: 0.0005, falseReject: 0.001 },
    ifFailed: "stop",
  });
  expect(tub.steps[1]).toMatchObject({
    kind: "airflow",
    stoppedBelow_W: 5,
    powerHighest_W: 1600,
    inrushLongest_s: 2,
    steady: { within: 0.01, window_s: 0.4, ahead_s: 2 },
    correction: { speedPerDensity: -0.17, speedPerVoltage: 0.55, exponentUncertainty: 0.05 },
  });
  expect(tub.steps[1]).toHaveProperty("points.1", {
    name: "working",
    orifice: "working",
    knownWithin: 0.003,
    samplesLeast: 8,
    holdLongest_s: 5,
  });
  expect(tub.characteristics[0]).toEqual({
    name: "leak rate",
    step: "leak",
    measurand: "leak_rate",
    upper: 1e-6,
    unit: "mL/min",
    rule: { kind: "guarded", conformance: 0.95 },
  });
});

test("a rated input gives the upper limit that IEC 60335-1 allows, alone or beside a lower one", () => {
  // 879 W and 15 % more are 1010.85 W, just above the lower limit.
  const limits = "    lower: 1010 W\n    upper: 1290 W";
  for (const [written, upper] of [
    ["    rated_input: 1.12 kW", 1288],
    ["    lower: 1010 W\n    rated_input: 879 W", 1010.85],
  ] as const) {
    const power = readLimitFile("m.yaml", changed([limits, written])).characteristics[4];
    expect(power?.upper).toBeCloseTo(upper, 9);
    expect(power).toMatchObject({ measurand: "power", unit: "W" });
    expect(power?.ratedInput_W).toBeDefined();
  }
});

test("airflow results may be left as they were measured", () => {
  expect(readLimitFile("m.yaml", changed([CORRECTION, "    correction: off\n"])).steps[1]).toMatchObject({
    correction: null,
  });
});

test("what the fan curve gives has no point, and efficiency is a part", () => {
  const [largest, efficiency] = readLimitFile("m.yaml", GOOD).characteristics.slice(5);
  expect(largest).toEqual({
    name: "largest suction power",
    step: "airflow",
    measurand: "largest_suction_power",
    lower: 240,
    unit: "W",
    rule: { kind: "simple" },
  });
  expect(efficiency).toMatchObject({ measurand: "efficiency", point: "working", lower: 0.18, unit: "%" });
});

test("a curve through one point is refused", () => {
  const [from, to] = [GOOD.indexOf("      - { name: closed"), GOOD.indexOf("      - { name: open")];
  const text = (GOOD.slice(0, from) + GOOD.slice(to)).replaceAll(/point: (closed|working)/g, "point: open");
  expect(problemsIn(text)).toMatchObject([
    { path: "characteristics[5].measure", expected: expect.stringContaining("one point makes no fan curve") },
  ]);
});

test("suspects come out in their order, their ratios as bounds", () => {
  const { suspects } = readLimitFile("m.yaml", GOOD);
  expect(suspects.map(({ cause }) => cause)).toEqual([
    "gasket missing or lid not seated",
    "porous tub",
    "blocked path",
  ]);
  expect(suspects[2]?.when).toEqual([
    { kind: "ratio", of: "open flow", to: "lower", atMost: 0.97 },
    { kind: "ratio", of: "working suction", to: "lower", atLeast: 0.98, atMost: 1.25 },
  ]);
  expect(suspects[1]?.when).toEqual([
    { kind: "verdict", of: "working suction", is: "fail" },
    { kind: "part", part: "tub_cavity", pattern: /^T3$/u },
  ]);
  expect(suspects[0]).toMatchObject({
    lookAt: "Take the unit from the mains, then open the lid and look at its gasket.",
    when: [{ kind: "finding", codes: ["GROSS_LEAK", "UNIT_NOT_SEALED"] }],
  });
});

test("a file need not suspect anything", () => {
  expect(readLimitFile("m.yaml", GOOD.slice(0, GOOD.indexOf("suspects:"))).suspects).toEqual([]);
});

test.each([
  ["of: open flow", "of: opn flow", "did you mean open flow?"],
  ["part: tub_cavity", "part: tub_cavty", "did you mean tub_cavity?"],
  ["UNIT_NOT_SEALED", "UNIT_NOT_SEELED", "did you mean UNIT_NOT_SEALED?"],
  ["measure: efficiency", "measure: eficiency", "did you mean efficiency?"],
])("%s mistyped as %s: %s", (from, to, hint) => {
  expect(problemsIn(changed([from, to]))[0]?.hint).toBe(hint);
});

test("two rules may suspect the same", () => {
  const text = changed(["cause: blocked path", "cause: porous tub"]);
  expect(readLimitFile("m.yaml", text).suspects).toHaveLength(3);
});

test.each(["slope", "difference"])("a fixed timer takes the %s, with the mean curve or without", (kind) => {
  for (const subtracts of [true, false]) {
    const method = `method: { kind: ${kind}, subtract_mean_curve: ${subtracts} }`;
    const { steps } = readLimitFile("m.yaml", changed([METHOD, method], [EARLY, "early_verdict: off\n"]));
    expect(steps[0]).toMatchObject({ method: { kind, subtractsMeanCurve: subtracts }, earlyVerdict: null });
  }
});

test("nothing has to settle before a fit", () => {
  expect(readLimitFile("m.yaml", changed(["settle: 28 s", "settle: 0 s"])).steps[0]).toMatchObject({
    settle_s: 0,
  });
});

describe("the demo models", () => {
  const models = loadLimitFolder(MODELS);

  test("are two, with different bodies, and their serials never overlap", () => {
    expect(models.map(({ model }) => model)).toEqual(["POD-4", "TUB-12"]);
    for (const { serialExample } of models) {
      expect(models.filter(({ serialPattern }) => serialPattern.test(serialExample))).toHaveLength(1);
    }
  });

  test("carry the SHA-256 of the file's bytes", () => {
    for (const { source } of models) {
      expect(source.sha256).toBe(createHash("sha256").update(readFileSync(source.path)).digest("hex"));
    }
  });
});

describe("reference conditions of the file", () => {
  const cold = ["serial:\n", "reference: { temperature: 0 degC, pressure: 101.325 kPa }\nserial:\n"] as const;

  test("hold for leak rates without conditions, and go with the unit", () => {
    const [leak] = readLimitFile(
      "m.yaml",
      changed(cold, ["60 mL/min @ 20 degC", "60 mL/min"]),
    ).characteristics;
    expect(leak?.upper).toBeCloseTo((1e-6 * 293.15) / 273.15, 18);
    expect(leak?.unit).toBe("mL/min @ 0 degC");
  });

  test("do not touch a leak rate that states its own", () => {
    const [leak] = readLimitFile("m.yaml", changed(cold)).characteristics;
    expect(leak).toMatchObject({ upper: 1e-6, unit: "mL/min" });
  });

  test("are the house's where the file states none", () => {
    const [leak] = readLimitFile("m.yaml", changed(["60 mL/min @ 20 degC", "60 mL/min"])).characteristics;
    expect(leak).toMatchObject({ upper: 1e-6, unit: "mL/min" });
  });
});

describe("a folder", () => {
  let folder = "";
  beforeEach(() => {
    folder = mkdtempSync(join(tmpdir(), "limits-"));
  });
  afterEach(() => rmSync(folder, { recursive: true }));
  const put = (name: string, text: string | Uint8Array) => writeFileSync(join(folder, name), text);

  test("gives the problems of all its files", () => {
    put("a.yaml", changed(["revision: 1", "revision: 0"]));
    put("b.yaml", "x: 1");
    put("notes.txt", "not a limit file");
    const files = new Set(problemsOf(() => loadLimitFolder(folder)).map(({ file }) => file));
    expect(files).toEqual(new Set([join(folder, "a.yaml"), join(folder, "b.yaml")]));
  });

  test("with two files of one revision is refused, and with the next revision beside it is not", () => {
    put("a.yaml", GOOD);
    put("b.yaml", changed(["settle: 28 s", "settle: 29 s"]));
    expect(problemsOf(() => loadLimitFolder(folder))).toMatchObject([
      { file: join(folder, "b.yaml"), line: 5, expected: "one file for each revision of a model" },
    ]);
    put("b.yaml", changed(["revision: 1", "revision: 2"]));
    expect(loadLimitFolder(folder).map(({ revision }) => revision)).toEqual([1, 2]);
  });

  test.each(["b.yml", "b.YAML", "b.Yml"])(
    "with a %s is refused, which nobody would ever judge by",
    (name) => {
      put("a.yaml", GOOD);
      put(name, changed(["revision: 1", "revision: 2"]));
      expect(problemsOf(() => loadLimitFolder(folder))).toMatchObject([
        { file: join(folder, name), expected: "the ending .yaml of a limit file" },
      ]);
    },
  );

  test("with serials that fit two models is refused", () => {
    put("a.yaml", GOOD);
    put("b.yaml", changed(["model: TUB-12", "model: TUB-13"], ["^TUB[0-9]{6}$", "^[A-Z]{3}[0-9]{6}$"]));
    expect(problemsOf(() => loadLimitFolder(folder))).toMatchObject([
      { file: join(folder, "b.yaml"), expected: "serials that belong to one model only" },
    ]);
  });

  test("with serials that some text would fit in both, though no example does, is refused with that text", () => {
    put("a.yaml", GOOD);
    put(
      "b.yaml",
      changed(
        ["model: TUB-12", "model: TUB-13"],
        ["^TUB[0-9]{6}$", "^TU(B|C)9[0-9]{5}$"],
        ["TUB000123", "TUC900123"],
      ),
    );
    expect(problemsOf(() => loadLimitFolder(folder))).toMatchObject([
      {
        file: join(folder, "b.yaml"),
        path: "serial.pattern",
        found: expect.stringMatching(/takes TUB9[0-9]{5}, as .*a.yaml does/),
      },
    ]);
  });

  test.each([
    ["a.yaml", "b.yaml"],
    ["b.yaml", "a.yaml"],
  ])("where a part in %s looks like a unit of %s is refused at the part", (withPart, other) => {
    put(withPart, changed(['"^G[0-9]{4}$"', '"^[GP]OD[0-9]{6}$"']));
    put(
      other,
      changed(
        ["model: TUB-12", "model: POD-4"],
        ["^TUB[0-9]{6}$", "^POD[0-9]{6}$"],
        ["TUB000123", "POD000123"],
      ),
    );
    expect(problemsOf(() => loadLimitFolder(folder))).toMatchObject([
      {
        file: join(folder, withPart),
        path: "parts[2].pattern",
        found: expect.stringMatching(/takes POD[0-9]{6}, as the serials of/),
      },
    ]);
  });

  test("without limit files, or that is not there, is refused", () => {
    expect(problemsOf(() => loadLimitFolder(folder))).toMatchObject([{ found: "no *.yaml file" }]);
    expect(() => loadLimitFolder(join(folder, "nowhere"))).toThrow(UnreadableFile);
  });

  test("a file that is not UTF-8 is refused", () => {
    put("a.yaml", new Uint8Array([0x61, 0x3a, 0x20, 0xff]));
    expect(problemsOf(() => loadLimitFile(join(folder, "a.yaml")))).toMatchObject([
      { expected: "UTF-8 text" },
    ]);
  });

  test("a byte order mark is allowed and counts in the hash", () => {
    const bytes = Buffer.from(`\ufeff${GOOD}`);
    put("a.yaml", bytes);
    const sha256 = createHash("sha256").update(bytes).digest("hex");
    expect(loadLimitFile(join(folder, "a.yaml")).source.sha256).toBe(sha256);
  });
});

describe("the JSON Schema", () => {
  const jsonSchema = limitFileJsonSchema();
  const fromJson = z.fromJSONSchema(jsonSchema);

  test.each([
    [METHOD, "method: { kind: difference, subtract_mean_curve: true }"],
    [EARLY, "early_verdict: off\n"],
    [CORRECTION, "    correction: off\n"],
    ["    upper: 1290 W", "    rated_input: 1120 W"],
  ])("takes %j written as %s", (from, to) => {
    expect(fromJson.safeParse(parse(changed([from, to]))).success).toBe(true);
  });

  test("is draft 2020-12 and describes each key", () => {
    expect(jsonSchema.$schema).toBe("https://json-schema.org/draft/2020-12/schema");
    expect(JSON.stringify(jsonSchema)).toContain("gauge pressure the body is filled to");
    expect(JSON.stringify(jsonSchema)).toContain("filled sooner than this, the way to the body is blocked");
    expect(JSON.stringify(jsonSchema)).toContain("the deviation that IEC 60335-1 allows");
    expect(JSON.stringify(jsonSchema)).toContain("what a failed unit is suspected of");
    expect(JSON.stringify(jsonSchema)).toContain("probability, over all looks together");
  });

  test.each(["tub-12.yaml", "pod-4.yaml"])("takes %s", (name) => {
    expect(fromJson.safeParse(parse(readFileSync(join(MODELS, name), "utf8"))).success).toBe(true);
  });

  test.each([
    ["settle: 28 s", "setle: 28 s"],
    ["revision: 1", "revision: one"],
    ["settle: 28 s", "settle: 28"],
    ["if_failed: stop", "if_failed: perhaps"],
    ["    fill_shortest: 2 s\n", ""],
    ["    vent_shortest: 0.5 s\n", ""],
    ["known_within: 0.3 %", "known_within: 0.3"],
    [STEADY, ""],
    [CORRECTION, ""],
    ["GROSS_LEAK", "A_LEAK"],
    ["to: lower", "to: least"],
    [METHOD, "method: { kind: slope }"],
    [METHOD, "method: fitted"],
    [EARLY, "early_verdict: never\n"],
    ["      look_every: 0.25 s\n", ""],
  ])("refuses %s written as %s", (from, to) => {
    expect(fromJson.safeParse(parse(changed([from, to]))).success).toBe(false);
  });
});
