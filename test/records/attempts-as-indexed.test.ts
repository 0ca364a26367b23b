import {
  copyFileSync,
  cpSync,
  existsSync,
  mkdirSync,
  readFileSync,
  renameSync,
  rmSync,
  writeFileSync,
} from "node:fs";
import { dirname, join, relative } from "node:path";
import fc from "fast-check";
import Database from "libsql";
import { describe, expect, it } from "vitest";
import { intentFor } from "../../station/records/attempt-intent.ts";
import { attemptsAsIndexed } from "../../station/records/attempts-as-indexed.ts";
import { canonicalText, sha256Hex } from "../../station/records/chain.ts";
import { REAL_DISK } from "../../station/records/disk.ts";
import { RecordIndex } from "../../station/records/index-db.ts";
import { readAttempts } from "../../station/records/read-attempts.ts";
import { searchAttempts } from "../../station/records/search-attempts.ts";
import { RecordStore } from "../../station/records/store.ts";
import { facts, outcome, stoppedClock } from "./example-attempt.ts";
import { scratchFolder } from "./scratch-folder.ts";

const SERIALS = ["A1", "B2", "D4", "E?5"];
const reasons = [{ code: "OUT_OF_LIMITS", sentence: "The leak rate is above its limit." }];

/** Records 1 to 8 of a stopped station, on two days. */
async function stoppedStation() {
  const folder = scratchFolder();
  const clock = stoppedClock();
  const { store } = await RecordStore.open({ folder, clock, station: "line 1" });
  const paths: string[] = [];
  for (const [at, [serial, attempt]] of (
    [
      ["A1", 1],
      ["B2", 1],
      ["A1", 2],
      ["C3", 1],
      ["E/5", 1],
      ["B2", 2],
      ["E?5", 1],
      ["A1", 3],
    ] as const
  ).entries()) {
    clock.wall = `2026-01-0${at < 4 ? 5 : 6}T06:0${at}:00.000Z`;
    const is = { ended_at: clock.wall, ...(at % 2 === 0 ? { verdict: "fail" as const, reasons } : {}) };
    const open = await store.begin({ ...facts(serial, attempt), started_at: clock.wall });
    paths.push(relative(folder, (await store.commit(open, outcome(is))).path));
  }
  await store.close();
  return { folder, paths };
}

async function byIndex(folder: string, serial: string) {
  const index = RecordIndex.openToRead(folder);
  if (!index) return "no index";
  try {
    return await attemptsAsIndexed(folder, serial, index, REAL_DISK);
  } finally {
    index.close();
  }
}

function inIndex(folder: string, sql: string, ...values: readonly (string | number)[]): void {
  if (!existsSync(join(folder, ".index.db"))) return;
  const index = new Database(join(folder, ".index.db"));
  index.prepare(sql).run(...values);
  index.close();
}

/** What somebody may have done to record number `at + 1`; on files only where they are still there. */
const TAMPERINGS = {
  nothing: () => undefined,
  "a letter changed": (folder: string, path: string) => {
    const text = readFileSync(join(folder, path), "utf8");
    writeFileSync(join(folder, path), text.replace('"inspector":"Ines"', '"inspector":"Otto"'));
  },
  "changed together with the index": (folder: string, path: string) => {
    const text = readFileSync(join(folder, path), "utf8").replace('"inspector":"Ines"', '"inspector":"Otto"');
    writeFileSync(join(folder, path), text);
    inIndex(folder, "UPDATE attempts SET sha256 = ? WHERE path = ?", sha256Hex(text), path);
  },
  "no traveller any more, and the index says so": (folder: string, path: string) => {
    const { chain } = JSON.parse(readFileSync(join(folder, path), "utf8"));
    const text = canonicalText({ chain, verdict: "pass" });
    writeFileSync(join(folder, path), text);
    inIndex(folder, "UPDATE attempts SET sha256 = ? WHERE path = ?", sha256Hex(text), path);
  },
  emptied: (folder: string, path: string) => writeFileSync(join(folder, path), ""),
  deleted: (folder: string, path: string) => rmSync(join(folder, path)),
  "named for another serial": (folder: string, path: string) =>
    renameSync(join(folder, path), join(folder, path.replace(/-[^-]+-(\d)\.json$/, "-D4-$1.json"))),
  "moved to another day": (folder: string, path: string) => {
    const moved = join(folder, path.replace("2026/01/0", "2026/02/0"));
    mkdirSync(dirname(moved), { recursive: true });
    renameSync(join(folder, path), moved);
  },
  "copied under another attempt": (folder: string, path: string) =>
    copyFileSync(join(folder, path), join(folder, path.replace(/\d\.json$/, "9.json"))),
  "copied under the next number": (folder: string, path: string) =>
    copyFileSync(join(folder, path), join(folder, path.replace(/\/\d{8}/, "/00000009"))),
  "forgotten by the index": (folder: string, path: string) =>
    inIndex(folder, "DELETE FROM attempts WHERE path = ?", path),
  "lost by the index, all of it": (folder: string) => {
    for (const end of ["", "-wal", "-shm"]) rmSync(join(folder, `.index.db${end}`), { force: true });
  },
} as const;
const KINDS = Object.keys(TAMPERINGS) as (keyof typeof TAMPERINGS)[];

describe("a unit found by its index", () => {
  it("is found without a search, and is the same as a search finds, where nothing is wrong", async () => {
    const { folder } = await stoppedStation();
    for (const [serial, tests] of [
      ["A1", 3],
      ["B2", 2],
      ["C3", 1],
    ] as const) {
      const found = await byIndex(folder, serial);
      expect(found).toHaveLength(tests);
      expect(found).toEqual((await searchAttempts(folder, serial)).attempts);
    }
    expect(await byIndex(folder, "D4")).toBeNull();
  });

  it("is told as a search tells it, whatever somebody has done to the folder and its index", async () => {
    const { folder: recorded, paths } = await stoppedStation();
    const tampering = fc.tuple(fc.constantFrom(...KINDS), fc.nat({ max: 7 }));
    await fc.assert(
      fc.asyncProperty(fc.array(tampering, { minLength: 2, maxLength: 2 }), async (tamperings) => {
        const folder = `${recorded}-tampered`;
        cpSync(recorded, folder, { recursive: true });
        for (const [what, at] of tamperings) {
          const path = paths[at] ?? "";
          if (existsSync(join(folder, path))) TAMPERINGS[what](folder, path);
        }
        for (const serial of SERIALS) {
          const { indexHasAll: _, ...read } = await readAttempts(folder, serial);
          expect(read, `${serial} after ${JSON.stringify(tamperings)}`).toEqual(
            await searchAttempts(folder, serial),
          );
        }
        rmSync(folder, { recursive: true });
      }),
      {
        numRuns: 36,
        // Each alone, done to the first and to the last record; then any two.
        examples: [0, 7].flatMap((at) => KINDS.map((what): [[typeof what, number][]] => [[[what, at]]])),
      },
    );
  });

  it("is searched for while it is under test, and while the station has a record that the index lacks", async () => {
    const { folder } = await stoppedStation();
    const note = intentFor({ ...facts("A1", 4), started_at: "2026-01-06T07:00:00.000Z" });
    mkdirSync(join(folder, ".open"), { recursive: true });
    writeFileSync(join(folder, ".open", "x.json"), canonicalText(note));
    expect(await byIndex(folder, "A1")).toBeNull();
    expect((await readAttempts(folder, "A1")).open).toMatchObject([{ serial: "A1", attempt: { number: 4 } }]);
    expect(await byIndex(folder, "B2")).toHaveLength(2);
    inIndex(folder, "DELETE FROM attempts WHERE sequence = ?", 8);
    expect(await byIndex(folder, "B2")).toBeNull();
    expect((await readAttempts(folder, "A1")).attempts).toHaveLength(3);
  });
});
