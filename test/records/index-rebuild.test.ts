import {
  copyFileSync,
  existsSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  writeFileSync,
} from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import fc from "fast-check";
import Database from "libsql";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { z } from "zod";
import { canonicalText, readRecord } from "../../station/records/chain.ts";
import { checkIndex } from "../../station/records/index-check.ts";
import { RecordIndex } from "../../station/records/index-db.ts";
import { rebuildIndex } from "../../station/records/index-rebuild.ts";
import { indexedAttempt } from "../../station/records/indexed-attempt.ts";
import { canReadSealed } from "../../station/records/read-sealed.ts";
import { travellerPath } from "../../station/records/record-name.ts";
import { SealedReader } from "../../station/records/sealed-traveller.ts";
import { Traveller } from "../../station/records/traveller.ts";
import { INSTANT, TRAVELLER_MEMBERS } from "../../station/records/traveller-rules.ts";
import { airflow, facts, outcome, SUSPECTS } from "./example-attempt.ts";
import { check, test } from "./held-units.ts";
import { close, open } from "./running-store.ts";
import { scratchFolder } from "./scratch-folder.ts";
import { writeTravellers } from "./written-travellers.ts";

/** So many that threads read them. */
const MANY = 1100;
const AT_MS = Date.UTC(2026, 0, 6);
const INDEX = ".index.db";

const rebuild = (folder: string) => rebuildIndex({ folder, at_ms: AT_MS });

function tables(folder: string): unknown {
  const copy = scratchFolder();
  // In this process SQLite may still hold the one that was there before under this name, or its journal.
  for (const name of readdirSync(folder).filter((it) => it === INDEX || it === `${INDEX}-wal`))
    copyFileSync(join(folder, name), join(copy, name));
  const database = new Database(join(copy, INDEX));
  const all = ["attempts", "units", "forms", "stored_values", "dispositions", "disposed_units", "heads"].map(
    (table) => database.prepare(`SELECT * FROM ${table} ORDER BY 1, 2`).all(),
  );
  database.close();
  return all;
}

function addAll(folder: string, paths: readonly string[]): void {
  const index = RecordIndex.open(folder);
  index.add(
    paths.map((path) => {
      const record = readRecord(readFileSync(join(folder, path)));
      if (!record.ok) throw new Error(record.problem);
      return indexedAttempt(Traveller.parse(record.content), record.sha256, path);
    }),
  );
  index.close();
}

describe("an index that is made anew", () => {
  it("is to the last value what it would be had a station added what it recorded", async () => {
    expect(canReadSealed()).toBe(true);
    const folder = scratchFolder();
    const paths = writeTravellers(folder, MANY);
    addAll(folder, paths);
    const one = tables(folder);
    expect(await rebuild(folder)).toBe(MANY);
    expect(tables(folder)).toEqual(one);
    rmSync(join(folder, INDEX));
    expect(await rebuild(folder)).toBe(MANY);
    expect(tables(folder)).toEqual(one);
    expect(await checkIndex(folder)).toMatchObject({ isThere: true, travellers: MANY, differenceCount: 0 });
    expect(readdirSync(folder).filter((name) => name.startsWith(".index"))).toEqual([INDEX]);
  });

  it("takes the place of one that is unreadable, or was cut off while it was made", async () => {
    const folder = scratchFolder();
    writeTravellers(folder, 30);
    writeFileSync(join(folder, INDEX), "no database");
    writeFileSync(join(folder, ".index.unfinished.db"), "half a database");
    expect(await rebuild(folder)).toBe(30);
    expect(await checkIndex(folder)).toMatchObject({ isThere: true, differenceCount: 0 });
    expect(existsSync(join(folder, ".index.unfinished.db"))).toBe(false);
  });

  it("leaves nothing behind for ever where its making was killed: the next start takes that away", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    await test(store, "A1");
    await close(store);
    for (const name of ["", "-journal"]) writeFileSync(join(folder, `.index.unfinished.db${name}`), "half");
    await close((await open(folder)).store);
    expect(readdirSync(folder).filter((name) => name.startsWith(".index.unfinished"))).toEqual([]);
  });

  it("is refused while a station runs, and keeps what it was told of the other logs", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    await test(store, "A1");
    await check(store, "fail");
    await store.ensureHolds();
    await expect(rebuild(folder)).rejects.toMatchObject({ code: "FOLDER_IN_USE" });
    await close(store);
    const before = tables(folder);
    await rebuild(folder);
    expect(tables(folder)).toEqual(before);
    const again = await open(folder);
    expect(await again.store.attemptsSince(0)).toHaveLength(2);
  });

  it("needs travellers", async () => {
    await expect(rebuild(scratchFolder())).rejects.toMatchObject({ code: "FOLDER_MISSING" });
    await expect(rebuild(join(scratchFolder(), "nowhere"))).rejects.toMatchObject({ code: "FOLDER_MISSING" });
  });
});

describe("a traveller that is not as it was recorded is named, and the old index left alone", () => {
  const folder = mkdtempSync(join(tmpdir(), "drumtight-rebuild-"));
  let paths: string[] = [];
  let before: Buffer;
  beforeAll(async () => {
    paths = writeTravellers(folder, MANY);
    await rebuild(folder);
    before = readFileSync(join(folder, INDEX));
  });
  afterAll(() => rmSync(folder, { recursive: true, force: true }));

  it.each([
    ["its verdict", '"verdict":"pass"', '"verdict":"fail"', 500],
    ["a digit of its budget", '"contribution":0.48', '"contribution":0.49', 500],
    ["a number that is not the shortest", '"contribution":0.48', '"contribution":4.8e-1', 500],
    ["what it follows", '"previous":"', '"previous":"0', 500],
  ])("where somebody changed %s", async (_, from, to, at) => {
    const path = join(folder, paths[at] ?? "");
    const text = readFileSync(path, "utf8");
    const changed = text.replace(from, to);
    expect(changed).not.toBe(text);
    writeFileSync(path, changed);
    const refusal = await rebuild(folder).catch((error: Error) => error);
    expect(refusal).toMatchObject({ code: "CORRUPT" });
    // Where only the next one tells, it is the next one that is named, and the words are of both.
    const named = [paths[at], paths[at + 1]].filter((it) => String(refusal).includes(it ?? "?"));
    expect(named).toHaveLength(1);
    if (named[0] === paths[at + 1]) expect(String(refusal)).toContain("one of the two was changed");
    expect(readFileSync(join(folder, INDEX)).equals(before)).toBe(true);
    expect(existsSync(join(folder, ".index.unfinished.db"))).toBe(false);
    expect((await checkIndex(folder)).differences.map((it) => it.path)).toContain(paths[at]);
    writeFileSync(path, text);
  });

  it("where the newest ones were cut off, of which the old index knows", async () => {
    const texts = paths
      .slice(-2)
      .map((path) => [join(folder, path), readFileSync(join(folder, path))] as const);
    for (const [path] of texts) rmSync(path);
    await expect(rebuild(folder)).rejects.toMatchObject({
      code: "CORRUPT",
      message: expect.stringContaining(paths.at(-1) ?? "?"),
    });
    expect(readFileSync(join(folder, INDEX)).equals(before)).toBe(true);
    for (const [path, text] of texts) writeFileSync(path, text);
  });

  it("where an attempt is recorded twice", async () => {
    const twice = scratchFolder();
    const paths = writeTravellers(twice, 20);
    const path = paths.at(-1) ?? "";
    const record = readRecord(readFileSync(join(twice, path)));
    const earlier = readRecord(readFileSync(join(twice, paths[3] ?? "")));
    if (!record.ok || !earlier.ok) throw new Error("No travellers were written.");
    const { serial, attempt } = Traveller.parse(earlier.content);
    const traveller = { ...Traveller.parse(record.content), serial, attempt };
    rmSync(join(twice, path));
    const own = travellerPath({ ...traveller, sequence: 20, attempt: attempt.number });
    writeFileSync(join(twice, own), canonicalText(traveller));
    await expect(rebuild(twice)).rejects.toMatchObject({
      code: "CORRUPT",
      message: expect.stringMatching(`${own}.*attempt ${attempt.number} of ${serial} is recorded twice`),
    });
    expect(readdirSync(twice).filter((name) => name.startsWith(".index"))).toEqual([]);
  });

  it("where the whole chain was written anew, of which the old index knows", async () => {
    const small = scratchFolder();
    writeTravellers(small, 20);
    await rebuild(small);
    rmSync(join(small, "2026"), { recursive: true });
    writeTravellers(small, 20, "line 2");
    await expect(rebuild(small)).rejects.toMatchObject({ code: "CORRUPT" });
    rmSync(join(small, INDEX));
    expect(await rebuild(small)).toBe(20);
  });
});

describe("a traveller that the next one vouches for", () => {
  const name = fc.oneof(
    fc.constantFrom("fit", "gauge", 'a "b"', "c\\d", "[e]", "],", '"],"', "é", "x".repeat(200)),
    fc.string({ minLength: 1, maxLength: 20 }),
  );
  const size = fc.double({ min: 0, max: 1e9, noNaN: true }).map((it) => it + 0);
  const line = fc.record(
    {
      component: name,
      estimate: fc.double({ min: -1e6, max: 1e6, noNaN: true }).map((it) => it + 0),
      value: size,
      unit: fc.oneof(fc.constantFrom("Pa/s", "", "mL/min"), fc.string({ maxLength: 8 })),
      sensitivity: fc.double({ min: -1e-6, max: 1e-6, noNaN: true }).map((it) => it + 0),
      contribution: size,
      share: fc.double({ min: 0, max: 1, noNaN: true }).map((it) => it + 0),
    },
    { requiredKeys: ["component", "value", "unit", "sensitivity", "contribution"] },
  );

  const point = fc.record({ point: name, orifice: name, efficiency: fc.boolean() });
  const step = fc.record({
    step: name,
    why: fc.option(name),
    orifices: fc.option(fc.array(name, { maxLength: 2 })),
    isStated: fc.boolean(),
    points: fc.array(point, { maxLength: 3 }),
  });
  type Step = typeof step extends fc.Arbitrary<infer T> ? T : never;
  const gauge = fc.record({
    name,
    profile: name,
    identity: fc.oneof(name, fc.constant("")),
    calibration_due: fc.constantFrom(null, "2026-06-30"),
  });

  function airflowOf({ step, why, orifices, isStated, points }: Step) {
    const whole = airflow();
    const [one] = whole.points;
    if (!one) throw new Error("The example has no point.");
    return {
      ...whole,
      step,
      stated_at: isStated ? whole.stated_at : null,
      flow_from: orifices
        ? {
            kind: "plenum_orifices" as const,
            orifices: orifices.map((orifice) => ({ orifice, opening: null })),
          }
        : whole.flow_from,
      curve: why === null ? whole.curve : { kind: "none" as const, why },
      points: points.map(({ efficiency, ...names }) => ({
        ...one,
        ...names,
        efficiency: efficiency ? one.efficiency : null,
      })),
    };
  }

  it("is read as a whole check reads it, whatever its budgets, curves, gauges and airflow hold", () => {
    let read = 0;
    const reader = new SealedReader();
    const drawn = fc.record({
      budgets: fc.array(fc.array(line, { maxLength: 4 }), { maxLength: 3 }),
      steps: fc.option(fc.array(step, { maxLength: 2 })),
      curves: fc.array(name, { maxLength: 2 }),
      gauges: fc.array(gauge, { maxLength: 3 }),
    });
    fc.assert(
      fc.property(drawn, ({ budgets, steps, curves, gauges }) => {
        const [characteristic] = outcome().characteristics;
        const [curve] = outcome().curves;
        const traveller = Traveller.parse({
          format: "drumtight/traveller/1",
          id: "0".repeat(32),
          ...facts("A1", 1, { gauges }),
          ...outcome({
            verdict: "fail",
            reasons: [{ code: "OUT_OF_LIMITS", sentence: 'It says "budget":[{"component":"fit"}],"air":{' }],
            suspects: SUSPECTS,
            ...(steps && { airflow: steps.map(airflowOf) }),
            curves: curves.map((step) => ({ ...(curve as NonNullable<typeof curve>), step })),
            characteristics: budgets.map((budget) => ({
              ...(characteristic as NonNullable<typeof characteristic>),
              budget,
            })),
          }),
          chain: { sequence: 1, previous: null },
        });
        const bytes = Buffer.from(canonicalText(traveller));
        const record = readRecord(bytes);
        if (!record.ok) throw new Error(record.problem);
        const whole = { chain: record.chain, attempt: indexedAttempt(traveller, record.sha256, "x") };
        const sealed = reader.read(bytes, "x");
        if (sealed === null) expect(bytes.includes("\\ud")).toBe(true);
        else expect(sealed).toEqual(whole);
        if (sealed !== null) read++;
      }),
      { numRuns: 300 },
    );
    expect(read).toBeGreaterThan(50);
  });

  it("is held against the members and the instants that the schema wants, without loading it", () => {
    expect(new Set(TRAVELLER_MEMBERS)).toEqual(new Set(Object.keys(Traveller.shape)));
    expect(INSTANT).toEqual(z.regexes.datetime({ precision: 3 }));
  });

  it.each([
    ["an unknown verdict", '"verdict":"pass"}],"curves"', '"verdict":"good"}],"curves"'],
    ["no pass", '"value":22.4', '"value":null'],
    [
      "a pass with a characteristic that failed",
      '"verdict":"pass"}],"curves"',
      '"verdict":"fail"}],"curves"',
    ],
    ["a pass without a characteristic", /"characteristics":\[.*\],"curves"/, '"characteristics":[],"curves"'],
    ["a pass that has a reason", '"reasons":[]', '"reasons":[{"code":"X","sentence":"x"}]'],
    ["a judgement without an end", /"ended_at":"[^"]*"/, '"ended_at":null'],
    ["a day that does not exist", '"started_at":"2026-01-05', '"started_at":"2026-02-30'],
    ["a text for a flag", '"draft":false', '"draft":"false"'],
    ["no serial", '"serial":"A1"', '"serial":""'],
    ["half a character", '"serial":"A1"', '"serial":"\\ud800"'],
    ["a number beyond all", '"value":22.4', '"value":1e999'],
    ["a rule with more to it", '"rule":{', '"rule":{"aside":1,'],
    ["a member that no version knows", '"attempt":{', '"aside":1,"attempt":{'],
    ["another format", '"format":"drumtight/traveller/1"', '"format":"drumtight/traveller/2"'],
    ["bytes that are no text", '"model":"demo-body"', '"model":"\u{fffd}"'],
  ])("is left to a whole check where it has %s", (_, from, to) => {
    const traveller = {
      format: "drumtight/traveller/1",
      id: "0".repeat(32),
      ...facts("A1"),
      ...outcome(),
      chain: { sequence: 1, previous: null },
    };
    const text = canonicalText(traveller);
    expect(new SealedReader().read(Buffer.from(text), "x")).not.toBeNull();
    const changed = text.replace(from, to);
    expect(changed).not.toBe(text);
    // As one byte, "\u{fffd}" is the beginning of nothing.
    const bytes = Buffer.from(changed, changed.includes("\u{fffd}") ? "latin1" : "utf8");
    expect(new SealedReader().read(bytes, "x")).toBeNull();
  });
});
