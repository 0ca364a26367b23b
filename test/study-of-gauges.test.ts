import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, it, onTestFinished, vi } from "vitest";
import { studyCommand } from "../station/commands/study.ts";
import { explain } from "../station/explain.ts";
import { aiagReadings } from "./quality/measurement-system/aiag-gauge-data.ts";

const GAUGE = [
  "part,appraiser,trial,value",
  ...aiagReadings().map(({ part, appraiser, trial, value }) => [part, appraiser, trial, value].join()),
];
const READINGS = ["value", ..."6.01 5.99 6.02 6.00 6.03 5.98 6.01 6.02 6.00 5.99".split(" ")];
const REFERENCES = ["reference,value", "2,2.1", "2,2.2", "2,2.0", "6,6.1", "6,6.0", "6,6.2"];
const RATINGS = [
  "unit,appraiser,trial,rating,reference",
  ...Array.from({ length: 30 }, (_, k) => {
    const truth = k % 3 === 0 ? "fail" : "pass";
    return ["A", "B"].flatMap((by) => [1, 2].map((trial) => `${k},${by},${trial},${truth},${truth}`));
  }).flat(),
];

let folder = "";

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "drumtight-gauges-"));
});

afterEach(() => {
  rmSync(folder, { recursive: true, force: true });
});

interface Told {
  readonly out: string;
  readonly code: number | string | undefined;
}

/** Runs the command as the command line does. */
async function study(...args: readonly string[]): Promise<Told> {
  const before = process.exitCode;
  let out = "";
  const spy = vi.spyOn(process.stdout, "write").mockImplementation((text) => {
    out += String(text);
    return true;
  });
  onTestFinished(() => spy.mockRestore());
  try {
    await studyCommand().parseAsync([...args], { from: "user" });
    return { out, code: process.exitCode };
  } finally {
    process.exitCode = before;
    spy.mockRestore();
  }
}

function csv(lines: readonly string[]): string {
  const path = join(folder, "values.csv");
  writeFileSync(path, lines.join("\n"));
  return path;
}

describe("drumtight study, of gauges", () => {
  it("prints a study of repeatability, and ends with 1 where the gauge is not fit", async () => {
    const path = csv(GAUGE);
    const fit = await study("repeatability", path, "--method", "range", "--unit", "kPa");
    expect(fit.code).toBe(0);
    expect(fit.out).toContain("10 parts x 3 appraisers x 3 trials, average and range");
    expect(fit.out).toMatch(/repeatability \(EV\) +0\.2019 /);
    expect(fit.out).toContain("std dev, kPa");
    const unfit = await study("repeatability", path, "--lower", "-2", "--upper", "2");
    expect(unfit.code).toBe(1);
    expect(unfit.out).toContain("45.36 % of the tolerance: it is not fit");
  });

  it.each([
    {
      name: "repeatability",
      lines: GAUGE,
      args: [],
      has: { method: "anova", ndc: 4, pct_tolerance_GRR: null },
    },
    { name: "repeatability", lines: GAUGE, args: ["--tolerance", "8"], has: { answer: "marginal" } },
    {
      name: "repeatability",
      lines: GAUGE,
      args: ["--interaction", "keep"],
      has: { interaction: "kept", var_int: 0 },
    },
    { name: "repeatability", lines: GAUGE, args: ["--pool-above", "0.99"], has: { interaction: "kept" } },
    {
      name: "type1",
      lines: READINGS,
      args: ["--reference", "6", "--tolerance", "1.2"],
      has: { n: 10, spread: 6 },
    },
    {
      name: "type1",
      lines: READINGS,
      args: ["--reference", "6", "--tolerance", "1.2", "--spread", "4", "--share", "15"],
      has: { spread: 4, share_pct: 15 },
    },
    { name: "bias", lines: REFERENCES, args: ["--tolerance", "2"], has: { df: 4 } },
    { name: "agreement", lines: RATINGS, args: ["--bad", "fail"], has: { bad: ["fail"], answer: "yes" } },
  ])("prints one JSON object for a program: $name $args", async ({ name, lines, args, has }) => {
    const { out, code } = await study(name, csv(lines), ...args, "--json");
    expect(code).toBe(0);
    expect(out.trimEnd()).not.toContain("\n");
    expect(JSON.parse(out)).toMatchObject(has);
  });

  it.each([
    { name: "repeatability", lines: GAUGE, args: [] },
    { name: "type1", lines: READINGS, args: ["--reference", "6", "--tolerance", "1.2"] },
    { name: "bias", lines: REFERENCES, args: [] },
    { name: "agreement", lines: RATINGS, args: [] },
  ])(
    "writes a page with charts that says where its values are from: $name",
    async ({ name, lines, args }) => {
      const page = join(folder, "study.html");
      await study(name, csv(lines), ...args, "--html", page);
      const html = readFileSync(page, "utf8");
      expect(html).toContain("values.csv");
      expect(html).toContain("<svg");
    },
  );

  it.each([
    {
      name: "repeatability",
      lines: GAUGE,
      wrong: "1,A,4,five",
      says: 'line 92: value is "five", expected a number',
    },
    { name: "repeatability", lines: GAUGE, wrong: "1,,4,5", says: "line 92: appraiser is empty." },
    {
      name: "repeatability",
      lines: GAUGE,
      wrong: "1,A,4,5",
      says: "Part 1 has 4 values by appraiser A where 3 values",
    },
    {
      name: "repeatability",
      lines: ["part,value"],
      wrong: "1,2",
      says: "its header has no appraiser, trial",
    },
    {
      name: "bias",
      lines: REFERENCES,
      wrong: "7",
      says: "line 8: it has more or fewer cells than the header; a decimal sign is a point",
    },
    { name: "bias", lines: REFERENCES, wrong: "7,x", says: 'line 8: value is "x"' },
    {
      name: "agreement",
      lines: RATINGS,
      wrong: "0,A,1,pass,fail",
      says: "line 122: unit 0, appraiser A, trial 1 is there twice",
    },
    { name: "agreement", lines: RATINGS, wrong: "0,A,9,,fail", says: "line 122: rating is empty." },
  ])(
    "refuses a wrong line with a sentence that names it: $name $wrong",
    async ({ name, lines, wrong, says }) => {
      const told = await study(name, csv([...lines, wrong])).catch(explain);
      expect(told).toMatchObject({ exitCode: 2 });
      expect("text" in told && told.text).toContain(says);
    },
  );

  it.each([
    { name: "repeatability", args: [] },
    { name: "bias", args: [] },
    { name: "agreement", args: [] },
    { name: "type1", args: ["--reference", "6", "--tolerance", "1"] },
  ])(
    "asks for a file where none is given, and says which columns it must have: $name",
    async ({ name, args }) => {
      const told = await study(name, ...args).catch(explain);
      expect(told).toMatchObject({
        exitCode: 2,
        text: expect.stringMatching(/^Give a CSV file with the column/),
      });
    },
  );

  it.each([
    { args: ["repeatability", "--tolerance", "0"], says: "--tolerance: give a width above zero" },
    { args: ["repeatability", "--lower", "3", "--upper", "3"], says: "--lower must be below --upper" },
    {
      args: ["repeatability", "--method", "range", "--interaction", "keep"],
      says: "--interaction goes with",
    },
    { args: ["bias", "--tolerance", "-1"], says: "--tolerance: give a width above zero" },
    { args: ["type1", "--reference", "6", "--tolerance", "0"], says: "--tolerance: give a width above zero" },
    {
      args: ["type1", "--reference", "6", "--tolerance", "1", "--share", "0"],
      says: "--share: give a number above 0",
    },
  ])("refuses $args", async ({ args: [name = "", ...args], says }) => {
    const told = await study(name, csv(GAUGE), ...args).catch(explain);
    expect("text" in told && told.text).toContain(says);
  });
});
