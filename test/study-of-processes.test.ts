import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, it, onTestFinished, vi } from "vitest";
import { studyCommand } from "../station/commands/study.ts";
import { explain } from "../station/explain.ts";

const VALUES = ["value", ..."9.8 10.1 10.0 9.9 10.2 10.0 9.9 10.1 10.0 10.1".split(" ")];
const COUNTS = [
  "label,count,size",
  "Mon,7,212",
  "Tue,5,198",
  "Wed,9,240",
  "Thu,6,205",
  "Fri,8,231",
  "Sat,22,215",
];
const LOTS = ["subgroup,value", "a,1.0", "a,1.2", "b,1.1", "b,1.3", "a,1.1", "c,0.9", "c,1.1"];
const CHECKS = [
  "value,reference,time",
  ...VALUES.slice(1).map((value, day) => `${value},10,2026-01-${10 + day}`),
];

let folder = "";

beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "drumtight-processes-"));
});

afterEach(() => {
  rmSync(folder, { recursive: true, force: true });
});

/** Runs the command as the command line does. */
async function study(...args: readonly string[]): Promise<{ readonly out: string; readonly code: unknown }> {
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
  const path = join(folder, "data.csv");
  writeFileSync(path, lines.join("\n"));
  return path;
}

async function refusal(...args: readonly string[]): Promise<string> {
  try {
    await study(...args);
  } catch (error) {
    const { text, exitCode } = explain(error);
    expect(exitCode).toBe(2);
    return text;
  }
  throw new Error("It was not refused.");
}

describe("study chart", () => {
  it("tells signals by the names of their points, and ends with 1", async () => {
    const { out, code } = await study("chart", csv(COUNTS), "--kind", "p", "--baseline", "5");
    expect(out).toMatch(
      /the\s+first\s+at\s+sample\s+6\s+\(Sat\),\s+beyond\s+a\s+control\s+limit;\s+find\s+out\s+what\s+changed\s+there\./,
    );
    expect(code).toBe(1);
  });

  it("prints one object with the figures, and ends with 0 without a signal", async () => {
    const { out, code } = await study(
      "chart",
      csv(VALUES),
      "--kind",
      "individuals",
      "--target",
      "10",
      "--sigma",
      "0.1",
      "--json",
    );
    expect(JSON.parse(out)).toMatchObject({
      answer: "yes",
      CL: 10,
      first_signal: null,
      out: [],
      baseline: 0,
    });
    expect(JSON.parse(out).UCL).toBeCloseTo(10.3, 12);
    expect(code).toBe(0);
  });

  it("puts the values of a subgroup together wherever they stand in the file", async () => {
    const { out } = await study("chart", csv(LOTS), "--kind", "xbar-s", "--json");
    expect(JSON.parse(out)).toMatchObject({ names: ["a", "b", "c"], n: [3, 2, 2] });
    expect(JSON.parse(out).xbar[0]).toBeCloseTo(1.1, 12);
  });

  it("counts a sample without a size as one unit", async () => {
    const { out } = await study("chart", csv(["count", "3", "5", "4", "6"]), "--kind", "u", "--json");
    expect(JSON.parse(out)).toMatchObject({ cbar: 4.5, LCL: 0 });
  });

  it("writes a page with a drawing of each chart", async () => {
    const page = join(folder, "chart.html");
    await study("chart", csv(LOTS), "--kind", "xbar-r", "--html", page);
    expect(readFileSync(page, "utf8").match(/<svg/g)).toHaveLength(2);
  });

  it.each([
    [["value", "1", "two", "3"], ["--kind", "individuals"], /line 3: value is "two", expected a number/],
    [["count,size", "1,9", "12,9"], ["--kind", "p"], /line 3: count is 12 of 9/],
    [["count,size", "1,0"], ["--kind", "u"], /line 2: size is 0/],
    [["count,size", "1.5,9"], ["--kind", "p"], /line 2: count is 1.5/],
    [["count", "1", "2"], ["--kind", "p"], /no size/],
    [VALUES, ["--kind", "individuals", "--lambda", "0.2"], /--lambda says nothing for --kind individuals/],
    [VALUES, ["--kind", "ewma", "--rules", "all"], /--rules says nothing for --kind ewma/],
    [VALUES, ["--kind", "individuals", "--rules", "seven"], /"seven" is no rule's name/],
    [COUNTS, ["--kind", "p", "--sigma", "1"], /--sigma says nothing/],
  ] as const)("refuses %j with %j in a sentence", async (lines, options, words) => {
    expect(await refusal("chart", csv(lines), ...options)).toMatch(words);
  });
});

describe("study stability", () => {
  it("reads checks with their certified values and days", async () => {
    const { out, code } = await study("stability", csv(CHECKS), "--tolerance", "1", "--json");
    expect(JSON.parse(out)).toMatchObject({ n: 10, drift_per: "day", answer: "none", is_drifting: false });
    expect(code).toBe(0);
  });

  it.each([
    [["value,time", "1,2026-02-31"], /line 2: time is "2026-02-31", expected a date/],
    [["value,time", "1,yesterday"], /expected a date or moment/],
    [["value,reference", "1,"], /line 2: reference is empty/],
    [["value", "1", "2"], /2 checks are too few/],
  ] as const)("refuses %j in a sentence", async (lines, words) => {
    expect(await refusal("stability", csv(lines))).toMatch(words);
  });

  it("takes a time with its zone for what it is", async () => {
    const lines = [
      "value,time",
      "1,2026-01-05T06:00Z",
      "2,2026-01-05T08:30+02:00",
      "3,2026-01-05 07:00",
      "4.5,2026-01-05T07:30Z",
    ];
    const { out } = await study("stability", csv(lines), "--json");
    // Half an hour apart: 48 steps of about 1.15 a day.
    expect(JSON.parse(out).drift / 48).toBeCloseTo(1.15, 9);
  });
});
