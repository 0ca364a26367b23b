import { mkdtempSync, readdirSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { Tally } from "../../station/report.ts";
import { drumtight, type Event, events, type Finished } from "./command-line.ts";

const scratch = mkdtempSync(join(tmpdir(), "drumtight-batch-"));
afterAll(() => rmSync(scratch, { recursive: true, force: true }));

/** Every file that is a record, by its path below the folder. */
function travellers(folder: string): Map<string, string> {
  const paths = readdirSync(folder, { recursive: true, encoding: "utf8" }).filter((path) =>
    /^\d{4}\/.*\.json$/.test(path),
  );
  return new Map(paths.sort().map((path) => [path, readFileSync(join(folder, path), "utf8")]));
}

describe("a batch of twelve simulated units without a terminal", () => {
  let lines: Finished;
  const records = join(scratch, "twelve");
  beforeAll(async () => {
    lines = await drumtight(["run", "--simulate", "--records", records]);
  });

  it("prints a line with serial, model, verdict, leak rate with uncertainty and limit, and suction per unit", () => {
    const units = lines.stdout.split("\n").filter((line) => /^(POD|TUB)\d{6} /.test(line));
    expect(units).toHaveLength(12);
    for (const line of units) {
      expect(line).toMatch(
        /^\w+ +(POD-4|TUB-12) +(PASS|FAIL) +leak -?[\d.]+ \+- [\d.]+ \(<= (25|60)(, sure after \d+\.\d s)?\) mL\/min +(suction|airflow) /,
      );
    }
    expect(units.some((line) => line.includes("sure after"))).toBe(true);
    expect(units.some((line) => line.includes("PASS"))).toBe(true);
    expect(
      units
        .filter((line) => line.includes("FAIL"))
        .every((line) => /(suction|airflow).*(kPa|W|measured) +\w+/.test(line)),
    ).toBe(true);
  });

  it("closes with what was tested, the first pass yield, failures by reason and where the travellers lie", () => {
    expect(lines.stdout).toMatch(/Tested 12: \d+ pass, \d+ fail, 0 void\./);
    expect(lines.stdout).toMatch(/First pass yield [\d.]+ % \(\d+ of 12 units\)\./);
    expect(lines.stdout).toMatch(/Failures by reason: .*leak rate \d/);
    expect(lines.stdout).toContain(`Travellers in ${records}`);
    expect(lines.code).toBe(0);
  });

  it("leaves one traveller per attempt in an unbroken chain, the six reference pieces first", () => {
    const kept = [...travellers(records).values()].map((text) => JSON.parse(text));
    expect(kept.map((it) => it.kind)).toEqual([...Array(6).fill("reference"), ...Array(12).fill("unit")]);
    expect(kept.map((it) => it.chain.sequence)).toEqual(Array.from({ length: 18 }, (_, i) => i + 1));
    expect(new Set(kept.map((it) => it.serial)).size).toBe(18);
  });

  it("repeats to the byte with the same seed, and differs with another", async () => {
    const again = join(scratch, "again");
    const other = join(scratch, "other");
    await drumtight(["run", "--simulate", "--records", again]);
    await drumtight(["run", "--simulate", "--records", other, "--seed", "8"]);
    expect([...travellers(again)]).toEqual([...travellers(records)]);
    expect([...travellers(other)]).not.toEqual([...travellers(records)]);
  });

  it("finds a unit's attempts again by its serial", async () => {
    const found = await drumtight(["find", "POD531811", "--records", records]);
    expect(found.code).toBe(0);
    expect(found.stdout).toMatch(/POD531811[\s\S]*pass/i);
    const unknown = await drumtight(["find", "POD999999", "--records", records]);
    expect(unknown.code).toBe(1);
    expect(unknown.stderr).toContain("POD999999");
  });

  it("refuses to test a unit that has passed again, and says that it has", async () => {
    const again = await drumtight(["run", "--simulate", "--units", "1", "--records", records]);
    expect(again.stdout).toMatch(/POD531811: not started\. .*passed/);
    expect(again.code).toBe(1);
  });
});

describe("a tally", () => {
  it("counts no draft in the first pass yield", () => {
    const tally = new Tally();
    const finished = (isDraft: boolean, serial: string) =>
      ({
        attempt: { serial, isDraft, kind: "first" },
        traveller: { verdict: "pass", characteristics: [], reasons: [] },
      }) as unknown as Parameters<Tally["add"]>[0];
    tally.add(finished(true, "A"));
    expect([tally.tested, tally.inspected, tally.firstPassYield]).toEqual([1, 0, null]);
    tally.add(finished(false, "B"));
    expect([tally.tested, tally.inspected, tally.firstPassYield]).toEqual([2, 1, 1]);
  });
});

describe("the verdicts of 120 simulated units", () => {
  let truths: Event[];
  let tested: Event[];
  let phases: Event[];
  beforeAll(async () => {
    const args = ["--seed", "7", "--json"];
    const units = drumtight(["sim", "units", "--count", "120", ...args]);
    const run = drumtight([
      "run",
      "--simulate",
      "--units",
      "120",
      "--records",
      join(scratch, "120"),
      ...args,
    ]);
    truths = (await units).stdout
      .split("\n")
      .filter((line) => line !== "")
      .map((line) => JSON.parse(line));
    const told = events((await run).stdout);
    tested = told.filter((event) => event.event === "unit");
    phases = told.filter((event) => event.event === "phase");
  });

  it("come in the order of the population, one for each", () => {
    expect(tested.map((unit) => unit.serial)).toEqual(truths.map((unit) => unit.serial));
    expect(tested).toHaveLength(120);
  });

  it("are led up to by the phases of each test, with the step and the point they belong to", () => {
    const passed = tested.find(({ verdict, attempt }) => verdict === "pass" && attempt === 1);
    const ways = phases
      .filter(({ serial }) => serial === passed?.serial)
      .map(({ phase, step, point }) => [phase, step, point].filter((word) => word !== undefined).join(" "));
    expect(ways).toEqual([
      ...["opening", "ambient", "rest leak", "fill leak", "settle leak", "measure leak", "vent leak"],
      ...["run_up airflow closed", "hold airflow closed", "hold airflow working", "hold airflow open"],
      ...["coast airflow", "recording"],
    ]);
  });

  it("equal the truth wherever the true values are clear of the limits by more than the uncertainty", () => {
    const clear = tested.flatMap((unit, i) => {
      const truth = truths[i] as Event & { conforms: boolean };
      return isClear(unit, truth) ? [{ unit, truth }] : [];
    });
    expect(clear.length).toBeGreaterThan(105);
    for (const { unit, truth } of clear) {
      expect(`${unit.serial} ${unit.verdict}`).toBe(`${truth.serial} ${truth.conforms ? "pass" : "fail"}`);
    }
  });

  it("hold the true leak rate within their expanded uncertainty for at least nine in ten units near or under the limit", () => {
    const near = tested.flatMap((unit, i) => {
      const leak = characteristic(unit, "leak rate");
      const true_mLmin = Number((truths[i] as Event).leak_mLmin);
      return leak?.uncertainty != null && true_mLmin < 2 * (leak.upper ?? 0) ? [{ leak, true_mLmin }] : [];
    });
    const covered = near.filter(
      ({ leak, true_mLmin }) => Math.abs((leak.value ?? 0) - true_mLmin) <= 2 * (leak.uncertainty ?? 0),
    );
    expect(near.length).toBeGreaterThan(90);
    expect(covered.length / near.length).toBeGreaterThan(0.9);
  });
});

interface Measured {
  readonly name: string;
  readonly value: number | null;
  readonly uncertainty: number | null;
  readonly unit: string;
  readonly lower?: number;
  readonly upper?: number;
}

function characteristic(unit: Event, name: string): Measured | undefined {
  return (unit.characteristics as Measured[]).find((it) => it.name === name);
}

/**
 * Every true value further from its limits than twice the expanded uncertainty of a typical reading, and no motor that comes
 * up slowly: whether that is too slow is a matter of its run-up, not of its values.
 */
function isClear(unit: Event, truth: Event): boolean {
  if ((truth.defects as string[]).includes("tight_bearing")) return false;
  const typical: Record<string, number> = { "mL/min": 2.5, kPa: 0.1, "L/s": 0.5, W: 5, "%": 0.2 };
  return (unit.characteristics as Measured[]).every((it) => {
    const true_value = trueValue(truth, it);
    const margin = 2 * Math.max(typical[it.unit] ?? Number.NaN, it.uncertainty ?? 0);
    return [it.lower, it.upper].every(
      (limit) => limit === undefined || Math.abs(true_value - limit) > margin,
    );
  });
}

function trueValue(truth: Event, { name, unit }: Measured): number {
  const found = (truth.characteristics as { name: string; value_SI: number }[]).find(
    (it) => it.name === name,
  );
  const perSI: Record<string, number> = { "mL/min": 6e7, kPa: 1e-3, "L/s": 1e3, W: 1, "%": 100 };
  return (found?.value_SI ?? Number.NaN) * (perSI[unit] ?? Number.NaN);
}
