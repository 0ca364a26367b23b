import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { studyLimit } from "../station/commands/study/limit.ts";
import { studyTimingOf } from "../station/commands/study/timing.ts";
import { explain } from "../station/explain.ts";

const scratch = mkdtempSync(join(tmpdir(), "drumtight-refusals-"));
afterAll(() => rmSync(scratch, { recursive: true, force: true }));
const csv = join(scratch, "returns.csv");
writeFileSync(csv, "leak,returned\n1,0\n2,1\n3,0\n4,1\n");

async function refusal(study: Promise<unknown>): Promise<{ text: string; exitCode: number }> {
  return study.then(
    () => ({ text: "", exitCode: 0 }),
    (error: unknown) => explain(error),
  );
}

describe("drumtight study limit, used wrongly", () => {
  const common = { model: "TUB-12" };
  const fan = { sealedSuction: "22 kPa", openFlow: "68 L/s", workingFlow: "20 L/s" };

  it.each([
    [undefined, {}, /^Say what the limit is for/],
    [csv, { leastSuction: "14 kPa" }, /^Give one of them/],
    [csv, {}, /^Say which chance of a return is to be kept/],
    [csv, { returnedAtMost: "1 %", unit: "kPa" }, /^--unit: /],
    [undefined, { leastSuction: "14 kPa", sealedSuction: "22 kPa" }, /^A stated fan needs/],
    [undefined, { leastSuction: "14 kPa", records: "nowhere" }, /nowhere/],
    [undefined, { leastSuction: "14 kPa", point: "x" }, /^--point: found "x".* closed, working, open\.$/],
    [
      undefined,
      { leastSuction: "14 kPa", returnedAtMost: "1 %" },
      /^--returned-at-most goes with field data/,
    ],
    [csv, { returnedAtMost: "1 %", ...fan }, /^--sealed-suction goes with --least-suction-power/],
    [
      undefined,
      { leastSuction: "14 kPa", ...fan, records: "x" },
      /^--sealed-suction states a fan and --records/,
    ],
    [
      undefined,
      { leastSuction: "14 kPa", from: "2026-02-01", to: "2026-01-01" },
      /^--from 2026-02-01 is after/,
    ],
    [undefined, { leastSuction: "30 kPa", ...fan }, /^The cleaner has less than 30 kPa/],
    [undefined, { leastSuction: "14 kPa", ...fan, fanSpread: "60 %" }, /^--fan-spread: .*less than 50 %/],
    [undefined, { leastSuction: "15 kPa", ...fan, fanSpread: "3 %" }, /^Where fans differ by 3 %, not 95 %/],
  ])("%s %j: says what to write", async (file, options, sentence) => {
    const { text, exitCode } = await refusal(studyLimit(file, { ...common, ...options }));
    expect(text).toMatch(sentence);
    expect(exitCode).toBe(2);
  });
});

describe("drumtight study timing, used wrongly", () => {
  it.each([
    [{ model: "TUB12" }, /^--model: found "TUB12".*did you mean TUB-12\?$/],
    [{ model: "TUB-12", records: "nowhere" }, /nowhere/],
    [{ model: "TUB-12", settle: "1" }, /^--settle: /],
    [{ model: "TUB-12", falseAccept: "60 %" }, /^--false-accept: .*less than 50 %/],
    [{ model: "TUB-12", from: "2026-02-01", to: "2026-01-01" }, /^--from 2026-02-01 is after/],
  ])("%j: says what to do", async (options, sentence) => {
    const { text, exitCode } = await refusal(studyTimingOf(options));
    expect(text).toMatch(sentence);
    expect(exitCode).toBe(2);
  });
});
