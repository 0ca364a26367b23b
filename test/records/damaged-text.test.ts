import { cpSync, readFileSync, renameSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { awaitedBeside } from "../../station/records/awaited-beside.ts";
import { checkIndex } from "../../station/records/index-check.ts";
import { rebuildIndex } from "../../station/records/index-rebuild.ts";
import { readAttempts } from "../../station/records/read-attempts.ts";
import { readDispositions } from "../../station/records/read-dispositions.ts";
import type { AttemptOutcome } from "../../station/records/traveller.ts";
import { collectAnswer } from "../../station/yield-page/collect-answer.ts";
import { randomLine } from "../yield-data/random-line.ts";
import { facts, outcome } from "./example-attempt.ts";
import { check, decision, test as tested } from "./held-units.ts";
import { close, open } from "./running-store.ts";
import { scratchFolder } from "./scratch-folder.ts";
import { settleIndex } from "./settled-index.ts";

const QUERY = {
  ...{ from: null, to: null, by: ["model" as const, "cavity" as const], shifts: [] },
  now_ms: Date.parse("2026-12-01T00:00:00Z"),
};

/** What a folder's records say of its days, and of these units. */
async function told(folder: string, serials: readonly string[]) {
  const { report, detail } = await collectAnswer({ folder, ...QUERY }, { warnings: true, detail: true });
  const { notes: _, source, ...counted } = report;
  const units: unknown[] = [];
  for (const serial of serials) {
    const { attempts } = await readAttempts(folder, serial);
    const { dispositions } = await readDispositions(folder, serial);
    units.push([serial, attempts.map(({ sha256, problem }) => [sha256, problem]), dispositions]);
  }
  return { counted, tests: [source.firstTest_at, source.lastTest_at, source.broken], detail, units };
}

function within(told: unknown, from: string, to: string): unknown {
  return JSON.parse(JSON.stringify(told).replaceAll(from, to));
}

/** @returns places of these bytes in a file, the first so many */
function placesOf(bytes: Buffer, needle: string, most: number): number[] {
  const places: number[] = [];
  for (let at = bytes.indexOf(needle); at >= 0 && places.length < most; at = bytes.indexOf(needle, at + 1))
    places.push(at);
  return places;
}

/** Texts of a unit that is held and of others, each with how many of its places in the index are damaged. */
const TEXTS = [
  ["H1", 40],
  ["demo-body", 8],
  ["GROSS_LEAK", 4],
  ["2026-01-06T", 6],
  ["DECIDED", 3],
] as const;

describe("an index in which the disk has turned a bit of a text", () => {
  it("ends no process, changes no answer, and keeps no station from testing, whichever text it is", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    await randomLine(store, 11, "2026-01-05T05:00:00.000Z", 25);
    await store.dispose(decision("hold", await tested(store, "H1", "fail")));
    await tested(store, "H2", "pass");
    await close(store);
    const sound = join(scratchFolder(), "sound.db");
    renameSync(settleIndex(folder), sound);
    const bytes = readFileSync(sound);
    const serials = ["H1", "H2"];
    const expected = await told(folder, serials);
    for (const [needle, most] of TEXTS) {
      const places = placesOf(bytes, needle, most);
      expect([needle, places.length]).not.toEqual([needle, 0]);
      for (const at of places) {
        const copy = join(scratchFolder(), "records");
        cpSync(folder, copy, { recursive: true });
        const damaged = Buffer.from(bytes);
        damaged.writeUInt8(damaged.readUInt8(at) ^ 0x80, at);
        writeFileSync(join(copy, ".index.db"), damaged);
        const where = { needle, at };
        expect([where, await told(copy, serials)]).toEqual([where, within(expected, folder, copy)]);
        const { store: later } = await open(copy);
        await tested(later, "H3", "pass");
        await close(later);
        expect([where, (await readAttempts(copy, "H3")).attempts]).toMatchObject([
          where,
          [{ problem: null }],
        ]);
        // A station makes anew what it can't go on with; what it does not ask for stays as it is.
        await rebuildIndex({ folder: copy, at_ms: 0, onProgress: () => undefined });
        expect([where, await checkIndex(copy)]).toMatchObject([where, { isThere: true, differences: [] }]);
      }
    }
  });

  it("hides no attempt and no hold of a unit, where it has made another serial of it in one of the index's copies", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    // On a day each: whoever misses an attempt does not find its file beside another one's.
    const on = async (day: number, serial: string, attempt: number, more: Partial<AttemptOutcome> = {}) => {
      const at = `2026-01-0${day}T06:00:00.000Z`;
      const begun = await store.begin({ ...facts(serial, attempt), started_at: at });
      return store.commit(begun, outcome({ ended_at: at, ...more }));
    };
    const reasons = [{ code: "OUT_OF_LIMITS", sentence: "The leak rate is above its limit." }];
    await on(5, "H1", 1);
    await store.dispose(decision("hold", await on(6, "H1", 2, { verdict: "fail", reasons })));
    await on(7, "H2", 1);
    // What it puts in doubt is asked for by serial, too.
    await check(store, "fail");
    await close(store);
    const sound = join(scratchFolder(), "sound.db");
    renameSync(settleIndex(folder), sound);
    const bytes = readFileSync(sound);
    const awaited = await awaitedBeside(folder, () => () => []);
    expect(awaited.flatMap(({ units }) => units.map(({ serial }) => serial))).toEqual(["H1", "H2"]);
    const expected = await told(folder, ["H1"]);
    expect(expected.units).toMatchObject([["H1", [{}, {}], [{ kind: "hold" }]]]);
    const places = placesOf(bytes, "H1", 100);
    expect(places.length).toBeGreaterThan(10);
    for (const at of places) {
      const damaged = Buffer.from(bytes);
      // "H" becomes "I".
      damaged.writeUInt8(damaged.readUInt8(at) ^ 0x01, at);
      writeFileSync(join(folder, ".index.db"), damaged);
      const { units } = await told(folder, ["H1"]);
      expect([at, units]).toEqual([at, expected.units]);
      expect([at, await awaitedBeside(folder, () => () => [])]).toEqual([at, awaited]);
      rmSync(join(folder, ".index.db"));
    }
  });
});
