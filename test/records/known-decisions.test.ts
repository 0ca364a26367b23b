import {
  copyFileSync,
  existsSync,
  mkdirSync,
  readFileSync,
  renameSync,
  rmSync,
  writeFileSync,
} from "node:fs";
import { join } from "node:path";
import fc from "fast-check";
import Database from "libsql";
import { describe, expect, it } from "vitest";
import { audit } from "../../station/records/audit.ts";
import { canonicalText, sha256Hex } from "../../station/records/chain.ts";
import type { LogEntry } from "../../station/records/chained-log.ts";
import { Disposition, type DispositionDraft, dispositionAt } from "../../station/records/disposition.ts";
import { DispositionLog } from "../../station/records/disposition-log.ts";
import { recordedDisposition } from "../../station/records/disposition-shape.ts";
import { openDispositions } from "../../station/records/dispositions.ts";
import { checkIndex } from "../../station/records/index-check.ts";
import { RecordIndex } from "../../station/records/index-db.ts";
import { knownDecisions } from "../../station/records/known-decisions.ts";
import { DISPOSITIONS, logFile } from "../../station/records/numbered-log.ts";
import { readDispositions } from "../../station/records/read-dispositions.ts";
import { decision, test as tested } from "./held-units.ts";
import { close, open } from "./running-store.ts";
import { scratchFolder } from "./scratch-folder.ts";

const SERIALS = ["A1", "B2", 'C"3', "D4\u{1f600}"];
const SUPERVISOR = { name: "S. Ode", sign_in: "pin", role: "supervisor" } as const;
const [DOUBT] = [decision("doubt")];

interface Drawn {
  readonly kind: "doubt" | "hold" | "accept" | "rework" | "scrap";
  readonly units: readonly { readonly unit: number; readonly attempt: number }[];
  /** Of an acceptance: how far back the holds lie that it names; null: it names none. */
  readonly lifts: readonly number[] | null;
}

const drawn: fc.Arbitrary<Drawn> = fc.record({
  kind: fc.constantFrom("doubt", "hold", "hold", "accept", "accept", "rework", "scrap"),
  units: fc.uniqueArray(
    fc.record({ unit: fc.nat(SERIALS.length - 1), attempt: fc.integer({ min: 1, max: 2 }) }),
    { minLength: 1, maxLength: 3, selector: ({ unit, attempt }) => `${unit} ${attempt}` },
  ),
  lifts: fc.option(fc.uniqueArray(fc.integer({ min: 1, max: 4 }), { minLength: 1, maxLength: 2 })),
});

function draftOf({ kind, units, lifts }: Drawn, sequence: number): DispositionDraft {
  const holds = (lifts ?? []).map((back) => sequence - back).filter((hold) => hold > 0);
  return {
    kind: kind === "doubt" ? "hold" : kind,
    by: kind === "doubt" ? { name: null, sign_in: "station" } : SUPERVISOR,
    units: units.map(({ unit, attempt }) => ({
      serial: SERIALS[unit] ?? "",
      attempt,
      traveller: sha256Hex(`${unit} ${attempt}`),
    })),
    reason: kind === "doubt" ? (DOUBT as DispositionDraft).reason : { code: "DECIDED", sentence: "So." },
    ...(kind === "doubt" ? { reference: sha256Hex(`check ${sequence}`) } : {}),
    ...(kind === "rework" ? { rework: { cause: "gasket", action: "new one" } } : {}),
    ...(kind === "accept" && holds.length > 0 ? { lifts: holds } : {}),
  };
}

/** A folder with a log of these, all of them on disk. */
function written(decisions: readonly Drawn[]) {
  const folder = scratchFolder();
  mkdirSync(join(folder, DISPOSITIONS), { recursive: true });
  let previous: string | null = null;
  const entries: LogEntry<Disposition>[] = [];
  for (const [at, one] of decisions.entries()) {
    const sequence = at + 1;
    const draft = dispositionAt(draftOf(one, sequence), Date.UTC(2026, 0, 5) + at);
    const content = Disposition.parse({ ...draft, chain: { sequence, previous } });
    const text = canonicalText(content);
    writeFileSync(join(folder, logFile(DISPOSITIONS, sequence)), text);
    previous = sha256Hex(text);
    entries.push({ sequence, sha256: previous, content, text });
  }
  return { folder, entries };
}

function told(folder: string, batches: readonly (readonly LogEntry<Disposition>[])[]): void {
  const index = RecordIndex.open(folder);
  for (const batch of batches) expect(index.decided.add(batch)).toBe(true);
  index.close();
}

/** In the folder's index; one that another process may have open is left to it. */
function inIndex(folder: string, sql: string): void {
  const file = join(folder, ".index.db");
  renameSync(file, `${file}.old`);
  copyFileSync(`${file}.old`, file);
  const database = new Database(file);
  database.exec(sql);
  database.close();
}

async function byFiles(folder: string) {
  const log = new DispositionLog(folder);
  await log.refresh();
  return log;
}

describe("what was decided, by the index and the files after it", () => {
  it("is what all files say, whatever was decided and however much of it the index knows", async () => {
    const known = fc.array(fc.nat({ max: 5 }), { maxLength: 4 });
    await fc.assert(
      fc.asyncProperty(fc.array(drawn, { maxLength: 14 }), known, async (decisions, batches) => {
        const { folder, entries } = written(decisions);
        const ends = batches.map((_, at) => batches.slice(0, at + 1).reduce((sum, size) => sum + size, 0));
        told(
          folder,
          ends.map((end, at) => entries.slice(ends[at - 1] ?? 0, end)),
        );
        const [table, files] = [await knownDecisions(folder), await byFiles(folder)];
        expect(table.held).toEqual(files.held);
        expect([...table.held.untrusted.keys()]).toEqual([...files.held.untrusted.keys()]);
        expect([...table.held.byHand.keys()]).toEqual([...files.held.byHand.keys()]);
        expect(new Set(table.serials())).toEqual(new Set(files.serials()));
        for (const serial of [...SERIALS, "E5"]) {
          expect(table.of(serial)).toEqual(files.of(serial));
          expect(await readDispositions(folder, serial)).toEqual({
            dispositions: files.of(serial),
            problem: null,
          });
        }
        await table.requireFiles(SERIALS);
        rmSync(folder, { recursive: true });
      }),
      { numRuns: 60 },
    );
  });

  it("is taken from the index without a look at what its answer does not rest on", async () => {
    const { folder, entries } = written(SEVEN);
    told(folder, [entries]);
    change(folder, 2);
    const table = await knownDecisions(folder);
    expect(table.of("B2")).toEqual([entries[1]?.content, entries[4]?.content]);
    await table.requireFiles(["A1"]);
    await expect(table.requireFiles(["A1", "B2"])).rejects.toMatchObject({ code: "CORRUPT" });
    const { findings } = await audit({ folder, keys: null, copiesFolder: null });
    expect(findings.filter(({ kind }) => kind === "altered")).toMatchObject([
      { path: logFile(DISPOSITIONS, 2) },
    ]);
  });

  it.each([
    "UPDATE dispositions SET text = replace(text, 'A1', 'E5')",
    "UPDATE dispositions SET text = replace(text, 'A1', 'E5') WHERE sequence = 7",
    "UPDATE dispositions SET text = '{}' WHERE sequence = 7",
    "UPDATE dispositions SET sha256 = '0' WHERE sequence = 3",
    "DELETE FROM dispositions WHERE sequence = 1",
    "DELETE FROM dispositions WHERE sequence = 4",
    "DELETE FROM dispositions",
    "DROP TABLE dispositions",
  ])("is what the files say where the index was spoilt: %s", async (sql) => {
    const { folder, entries } = written(SEVEN);
    told(folder, [entries]);
    inIndex(folder, sql);
    const [table, files] = [await knownDecisions(folder), await byFiles(folder)];
    expect(table.held).toEqual(files.held);
    for (const serial of SERIALS) {
      expect(table.of(serial)).toEqual(files.of(serial));
      expect((await readDispositions(folder, serial)).dispositions).toEqual(files.of(serial));
    }
  });
});

it.each([
  "UPDATE dispositions SET sha256 = '0' WHERE sequence = 7",
  "UPDATE dispositions SET sequence = 9 WHERE sequence = 7",
])("is not told where the index knows of an end that the files have not: %s", async (sql) => {
  const { folder, entries } = written(SEVEN);
  told(folder, [entries]);
  inIndex(folder, sql);
  await expect(knownDecisions(folder)).rejects.toMatchObject({ code: "CORRUPT" });
  expect((await readDispositions(folder, "A1")).problem).toContain("is not as it was recorded");
});

const hold = (unit: number): Drawn => ({ kind: "hold", units: [{ unit, attempt: 1 }], lifts: null });
/** About A1, B2, C3, A1, B2, C3, A1. */
const SEVEN = [0, 1, 2, 0, 1, 2, 0].map(hold);
const OF_A1 = [1, 4, 7];

function change(
  folder: string,
  number: number,
  how = (text: string) => text.replace("DECIDED", "DEMANDED"),
): string {
  const path = join(folder, logFile(DISPOSITIONS, number));
  const text = readFileSync(path, "utf8");
  const changed = how(text);
  expect(changed).not.toBe(text);
  writeFileSync(path, changed);
  return text;
}

/** What somebody may have done to the file of a number. */
const CHANGES: readonly ((text: string) => string)[] = [
  (text) => text.replace("DECIDED", "DEMANDED"),
  (text) => text.replace('"A1"', '"E5"'),
  (text) => text.replace(/"sequence":\d/, '"sequence":9'),
  (text) => text.replace(/"previous":(null|"[0-9a-f]+")/, `"previous":"${"0".repeat(64)}"`),
  (text) => `${text} `,
  (text) => text.slice(0, -1),
  () => "",
];

const NOT_RECORDED_SO = CHANGES.slice(2);

describe.each([
  ["all of which the index knows", 7],
  ["of which the index knows four", 4],
  ["of which the index knows none", 0],
])("of decisions %s, a reader that wants one unit's notices", (_, known) => {
  function folderOf() {
    const { folder, entries } = written(SEVEN);
    told(folder, [entries.slice(0, known)]);
    return { folder, entries };
  }
  const isNoticed = async (folder: string) => (await readDispositions(folder, "A1")).problem !== null;

  it("any change of one about the unit", async () => {
    const { folder } = folderOf();
    for (const number of OF_A1) {
      // What nothing vouches for yet, and may have been recorded so, is believed.
      for (const how of number < 7 || known === 7 ? CHANGES : NOT_RECORDED_SO) {
        const text = change(folder, number, how);
        expect(await isNoticed(folder), `${number} ${how}`).toBe(true);
        writeFileSync(join(folder, logFile(DISPOSITIONS, number)), text);
      }
    }
    expect(await isNoticed(folder)).toBe(false);
  });

  it("any that has gone, also about another unit", async () => {
    const { folder } = folderOf();
    for (let number = 1; number <= 7; number++) {
      const path = join(folder, logFile(DISPOSITIONS, number));
      renameSync(path, `${path}.aside`);
      // What the index does not know of may have ended with the one before.
      expect(await isNoticed(folder), String(number)).toBe(number < 7 || known === 7);
      renameSync(`${path}.aside`, path);
    }
  });

  it("any that was planted, and any that was changed beyond what the index knows", async () => {
    const { folder } = folderOf();
    for (const [from, to] of [
      [1, logFile(DISPOSITIONS, 8)],
      [7, logFile(DISPOSITIONS, 8)],
      [2, logFile(DISPOSITIONS, 9)],
      [2, `${DISPOSITIONS}/00000002 copy.json`],
      [2, `${DISPOSITIONS}/000000002.json`],
    ] as const) {
      copyFileSync(join(folder, logFile(DISPOSITIONS, from)), join(folder, to));
      expect(await isNoticed(folder), to).toBe(true);
      rmSync(join(folder, to));
    }
    for (let number = known + 1; number <= 7; number++) {
      const text = change(folder, number, (it) => `${it} `);
      expect(await isNoticed(folder)).toBe(true);
      writeFileSync(join(folder, logFile(DISPOSITIONS, number)), text);
    }
    expect(existsSync(join(folder, logFile(DISPOSITIONS, 8)))).toBe(false);
    expect(await isNoticed(folder)).toBe(false);
  });

  it("one that was changed together with the index, by the hash the next one carries", async () => {
    const { folder, entries } = folderOf();
    for (const number of OF_A1.filter((it) => it < 7)) {
      const text = change(folder, number);
      const changed = readFileSync(join(folder, logFile(DISPOSITIONS, number)), "utf8");
      inIndex(
        folder,
        `UPDATE dispositions SET sha256 = '${sha256Hex(changed)}', text = '${changed}' WHERE sequence = ${number}`,
      );
      expect(await isNoticed(folder)).toBe(true);
      await expect(knownDecisions(folder)).rejects.toMatchObject({ code: "CORRUPT" });
      writeFileSync(join(folder, logFile(DISPOSITIONS, number)), text);
      inIndex(
        folder,
        `UPDATE dispositions SET sha256 = '${entries[number - 1]?.sha256}', text = '${text}' WHERE sequence = ${number}`,
      );
    }
    expect(await isNoticed(folder)).toBe(false);
  });
});

it("takes by hand what the schema takes, and leaves to it whatever lacks a member or has another kind in it", () => {
  fc.assert(
    fc.property(drawn, fc.integer({ min: 5, max: 9 }), (one, sequence) => {
      const content = {
        ...dispositionAt(draftOf(one, sequence), 0),
        chain: { sequence, previous: sha256Hex("") },
      };
      expect(Disposition.safeParse(content).success).toBe(true);
      expect(recordedDisposition(content)).toBe(content);
      for (const member of Object.keys(content)) {
        const lacking = Object.fromEntries(Object.entries(content).filter(([name]) => name !== member));
        if (!Disposition.safeParse(lacking).success && !["reference", "chain"].includes(member))
          expect(recordedDisposition(lacking), member).toBeNull();
        expect(recordedDisposition({ ...content, [member]: 7 }), member).toBeNull();
      }
    }),
  );
});

describe("a check of the index and an audit name", () => {
  const COLUMNS = [
    ["the hash", "UPDATE dispositions SET sha256 = '0' WHERE sequence = 3", 3, "otherwise: sha256"],
    ["the text", "UPDATE dispositions SET text = '{}' WHERE sequence = 3", 3, "otherwise: text"],
    ["a unit", "UPDATE disposed_units SET serial = 'X' WHERE sequence = 3", 3, "otherwise: units"],
    ["a unit too many", "INSERT INTO disposed_units VALUES ('X', 3)", 3, "otherwise: units"],
    ["a unit's lack", "DELETE FROM disposed_units WHERE sequence = 3", 3, "otherwise: units"],
    ["a unit of nothing", "INSERT INTO disposed_units VALUES ('X', 0)", 0, "it is not there"],
    ["a row's lack", "DELETE FROM dispositions WHERE sequence = 3", 3, "does not have it, and later ones"],
    ["a row of nothing", "INSERT INTO dispositions VALUES (0, '0', '{}')", 0, "it is not there"],
    ["a row beyond the end", "INSERT INTO dispositions VALUES (8, '0', '{}')", 8, "it is not there"],
  ] as const;

  it.each(COLUMNS)("%s that the index has otherwise", async (_, sql, number, what) => {
    const { folder, entries } = written(SEVEN);
    told(folder, [entries]);
    const path = logFile(DISPOSITIONS, number);
    expect((await checkIndex(folder)).differences).toEqual([]);
    inIndex(folder, sql);
    expect((await checkIndex(folder)).differences).toEqual([{ path, what: expect.stringContaining(what) }]);
    const { findings } = await audit({ folder, keys: null, copiesFolder: null });
    // Nothing was tested in this folder.
    expect(findings.filter((it) => it.path !== "travellers")).toMatchObject([
      number === 8 ? { kind: "truncated", path } : { kind: "index", what: expect.stringContaining(path) },
    ]);
  });

  it("no decision that the station has not looked at yet", async () => {
    const { folder, entries } = written(SEVEN);
    told(folder, [entries.slice(0, 4)]);
    expect((await checkIndex(folder)).differences).toEqual([]);
    const { findings } = await audit({ folder, keys: null, copiesFolder: null });
    expect(findings.filter((it) => it.path !== "travellers")).toEqual([]);
  });

  it("a decision that has gone, and one that was changed at the end, which the index knew", async () => {
    const { folder, entries } = written(SEVEN);
    told(folder, [entries]);
    const path = join(folder, logFile(DISPOSITIONS, 7));
    const found = async () =>
      (await audit({ folder, keys: null, copiesFolder: null })).findings.filter(
        (it) => it.path !== "travellers",
      );
    const text = change(folder, 7);
    expect(await found()).toMatchObject([{ kind: "altered", path: logFile(DISPOSITIONS, 7) }]);
    writeFileSync(path, text);
    rmSync(path);
    expect(await found()).toMatchObject([{ kind: "truncated", path: logFile(DISPOSITIONS, 7) }]);
    expect((await checkIndex(folder)).differences).toMatchObject([{ path: logFile(DISPOSITIONS, 7) }]);
  });
});

describe("a station that starts", () => {
  it("puts its table of decisions right, and takes in what commands recorded beside it", async () => {
    for (const sql of [
      "UPDATE dispositions SET text = '{}' WHERE sequence = 1",
      "DELETE FROM dispositions WHERE sequence = 1",
      "DELETE FROM dispositions",
      "DELETE FROM disposed_units",
    ]) {
      const folder = scratchFolder();
      const first = await open(folder);
      for (const serial of ["A1", "B2"])
        await first.store.dispose(decision("hold", await tested(first.store, serial)));
      await close(first.store);
      const decisions = await openDispositions(folder);
      const { attempts } = await decisions.standingOf("B2");
      const unit = { serial: "B2", attempt: 1, traveller: attempts[0]?.sha256 ?? "" };
      await decisions.dispose({
        kind: "scrap",
        by: SUPERVISOR,
        units: [unit],
        reason: { code: "SCRAP", sentence: "So." },
      });
      inIndex(folder, sql);
      const again = await open(folder);
      await close(again.store);
      expect((await checkIndex(folder)).differences, sql).toEqual([]);
      const index = RecordIndex.openToRead(folder);
      expect(index?.decided.end()?.sequence).toBe(3);
      expect(index?.decided.naming("B2").map(({ sequence }) => sequence)).toEqual([2, 3]);
      index?.close();
    }
  });
});
