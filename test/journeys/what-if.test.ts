import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import Database from "libsql";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { drumtight, type Finished } from "./command-line.ts";

const pod = "limits/models/pod-4.yaml";
const UNITS = 24;
const scratch = mkdtempSync(join(tmpdir(), "drumtight-what-if-"));
const records = join(scratch, "records");
afterAll(() => rmSync(scratch, { recursive: true, force: true }));

interface Yields {
  readonly units: number;
  readonly pass_both: number;
  readonly fail_both: number;
  readonly fail_without_value: number;
  readonly pass_to_fail: number;
  readonly fail_to_pass: number;
  readonly to_void: number;
  readonly not_judged_again: Readonly<Record<string, number>>;
  readonly changed: readonly { readonly serial: string; readonly from: string; readonly because: string }[];
}

interface WhatIfJson {
  readonly attempts: number;
  readonly values_from_index: number;
  readonly references_left_out: number;
  readonly units: number;
  readonly first_pass_yield: Yields;
  readonly final_yield: Yields;
  readonly by_part: Readonly<Record<string, Readonly<Record<string, Yields>> | null>>;
  readonly by_shift: Readonly<Record<string, Yields>>;
  readonly characteristics: readonly { readonly judged: number; readonly not_judged_again: object }[];
}

function replay(file: string, ...args: string[]): Promise<Finished> {
  const folder = args.includes("--records") ? [] : ["--records", records];
  return drumtight(["limits", "replay", file, ...folder, ...args]);
}

async function json(file: string, ...args: string[]): Promise<WhatIfJson> {
  const { code, stdout, stderr } = await replay(file, "--json", ...args);
  expect({ code, stderr }).toEqual({ code: 0, stderr: "" });
  return JSON.parse(stdout) as WhatIfJson;
}

/** The compact body's limits with this changed; a draft. */
function changed(name: string, from: RegExp, to: string): string {
  const text = readFileSync(pod, "utf8");
  expect(text).toMatch(from);
  const path = join(scratch, name);
  writeFileSync(path, text.replace(from, to));
  return path;
}

beforeAll(async () => {
  const run = ["run", "--simulate", "--units", String(UNITS), "--model", "POD-4", "--seed", "11"];
  expect((await drumtight([...run, "--records", records])).code).toBe(0);
}, 120_000);

describe("a quality engineer asks what other limits would have said of a recorded shift", () => {
  it("the same limits: every verdict is the recorded one", async () => {
    const report = await json(pod);
    expect(report).toMatchObject({ units: UNITS, values_from_index: report.attempts });
    expect(report.references_left_out).toBeGreaterThan(0);
    for (const it of [report.first_pass_yield, report.final_yield]) {
      expect(it).toMatchObject({ units: UNITS, pass_to_fail: 0, fail_to_pass: 0, to_void: 0, changed: [] });
      expect(it.not_judged_again).toEqual({});
      expect(it.pass_both).toBeGreaterThan(UNITS / 2);
      expect(it.fail_both).toBeGreaterThan(it.fail_without_value);
    }
    expect(report.characteristics).toHaveLength(10);
  });

  it("a lower limit of the leak rate: which units fail, by what value, in which cavity and shift", async () => {
    const report = await json(pod, "--limit", "6 mL/min @ 20 degC");
    const { changed: units, pass_to_fail, fail_to_pass, to_void } = report.first_pass_yield;
    expect(pass_to_fail).toBeGreaterThan(0);
    expect(fail_to_pass).toBe(0);
    expect(units).toHaveLength(pass_to_fail + to_void);
    for (const { from, because } of units) {
      expect(from).toBe("pass");
      expect(because).toMatch(/^leak rate -?[\d.]+ ± [\d.]+ mL\/min/);
    }
    const sum = (groups: Readonly<Record<string, Yields>>) =>
      Object.values(groups).reduce((total, it) => total + it.pass_to_fail, 0);
    expect(sum(report.by_part.tub_cavity ?? {})).toBe(pass_to_fail);
    expect(sum(report.by_shift)).toBe(pass_to_fail);
    expect(report.by_part.motor_serial).toBeNull();
  });

  it("a limit of another characteristic is judged too, from a file of its own", async () => {
    const file = changed("suction.yaml", /lower: 12\.4 kPa/, "lower: 14.2 kPa");
    const { changed: units } = (await json(file)).first_pass_yield;
    expect(units.length).toBeGreaterThan(0);
    for (const { because } of units) expect(because).toMatch(/sealed suction/);
  });

  it("another settling time can't be told from values, and the table says so", async () => {
    const file = changed("settle.yaml", /settle: 0\.3 s/, "settle: 2 s");
    const { stdout } = await replay(file);
    expect(stdout).toMatch(/\d+ can't be judged again: \d+ after another settling time \(--from-curves\)/);
  });

  it("without an index the travellers tell the same, and an index that is behind is added to", async () => {
    const report = await json(pod, "--limit", "6 mL/min @ 20 degC");
    const copy = join(scratch, "copy");
    cpSync(join(records, "2026"), join(copy, "2026"), { recursive: true });
    const options = ["--limit", "6 mL/min @ 20 degC", "--records", copy];
    const fromFiles = await json(pod, ...options);
    expect(fromFiles).toEqual({ ...report, records: copy, values_from_index: 0 });
    cpSync(join(records, ".index.db"), join(copy, ".index.db"));
    const index = new Database(join(copy, ".index.db"));
    index.exec("DELETE FROM stored_values WHERE sequence > 20; DELETE FROM attempts WHERE sequence > 20");
    index.close();
    expect(await json(pod, ...options)).toEqual({ ...report, records: copy, values_from_index: 20 });
  });

  it("a value changed in the index is found by the audit", async () => {
    const copy = join(scratch, "audited");
    cpSync(records, copy, { recursive: true });
    const index = new Database(join(copy, ".index.db"));
    index.exec("UPDATE stored_values SET numbers = zeroblob(length(numbers)) WHERE sequence = 5");
    index.close();
    const found = await drumtight(["audit", "--records", copy]);
    expect(`${found.stdout}${found.stderr}`).toMatch(/index/);
    expect(found.code).toBe(1);
    expect((await drumtight(["audit", "--records", records])).code).toBe(0);
  });

  it("is told in words, with the yields of the same units and what separates them", async () => {
    const { stdout, code } = await replay(pod, "--limit", "6 mL/min @ 20 degC");
    expect(code).toBe(0);
    expect(stdout).toMatch(
      /^POD-4 revision 4, approved by C\. Holm; changed here: --limit 6 mL\/min @ 20 degC\n/,
    );
    expect(stdout).toMatch(/\nwas \d+\.\d\d % \(\d+ of \d+\), 95 % sure: \d+\.\d\d to \d+\.\d\d %\nnow /);
    expect(stdout).toMatch(/difference -\d+\.\d\d points, 95 % sure: .*; p .*, McNemar's exact test\n/);
    expect(stdout).toMatch(
      /\n\d+ units change at their first inspection\npass to fail:\n {2}POD\d+: leak rate/,
    );
  });

  it.each([
    [
      "days without an attempt",
      ["--from", "2027-01-01"],
      1,
      /No attempt of POD-4 in .*check the folder, the dates/,
    ],
    ["days in the wrong order", ["--from", "2026-01-06", "--to", "2026-01-05"], 2, /is after --to/],
  ])("%s are answered with a sentence", async (_, args, code, words) => {
    const finished = await replay(pod, ...args);
    expect(finished.code).toBe(code);
    expect(finished.stdout).toBe("");
    expect(finished.stderr).toMatch(words);
  });

  it("days and a serial choose attempts", async () => {
    expect((await json(pod, "--from", "2026-01-05", "--to", "2026-01-05")).units).toBe(UNITS);
    const [unit] = (await json(pod, "--limit", "6 mL/min @ 20 degC")).first_pass_yield.changed;
    expect((await json(pod, "--serial", unit?.serial ?? "")).units).toBe(1);
    const other = await replay("limits/models/tub-12.yaml");
    expect(other).toMatchObject({ code: 1, stdout: "" });
    expect(other.stderr).toMatch(/No attempt of TUB-12/);
  });
});
