import { type ChildProcess, spawn } from "node:child_process";
import { cpSync, existsSync, readdirSync, rmSync, writeFileSync } from "node:fs";
import { basename, join } from "node:path";
import { fileURLToPath } from "node:url";
import Database from "libsql";
import { expect, it, onTestFinished } from "vitest";
import { canonicalText } from "../../station/records/chain.ts";
import { checkIndex } from "../../station/records/index-check.ts";
import { RecordIndex } from "../../station/records/index-db.ts";
import { rebuildIndex } from "../../station/records/index-rebuild.ts";
import { readAttempts } from "../../station/records/read-attempts.ts";
import { readDispositions } from "../../station/records/read-dispositions.ts";
import { EVENTS } from "../../station/records/station-logs.ts";
import { collectYield } from "../../station/yield-data/collect-yield.ts";
import { check, decision, PIECE, test } from "./held-units.ts";
import { close, open } from "./running-store.ts";
import { scratchDisk } from "./scratch-folder.ts";
import { linesOf } from "./station-child.ts";

const CHILD = fileURLToPath(new URL("rebuild-child.mjs", import.meta.url));
/** In memory: a killed process leaves the kernel's view of the files as it is, whatever they lie on. */
const DISK_kB = 256 * 1024;
const INDEX = ".index.db";
const UNFINISHED = ".index.unfinished.db";
const VERDICTS = ["pass", "pass", "fail", "void"] as const;
const UNITS = 28;
/** A reference piece's, each unit's, and those of two that were tested twice. */
const TRAVELLERS = 1 + UNITS + 2;
const DECIDED = 4;

/** What is there when a rebuild begins. */
interface Former {
  readonly what: string;
  /** A killed station's is in part in the journal beside it. */
  readonly index: "made anew" | "of a killed station" | "missing" | "no database";
  /** Whether somebody reads it meanwhile, so that its journal can't be settled. */
  readonly isRead: boolean;
}

const FORMERS: readonly Former[] = [
  { what: "an index that was made anew", index: "made anew", isRead: false },
  { what: "a killed station's index", index: "of a killed station", isRead: false },
  { what: "a killed station's index that somebody reads", index: "of a killed station", isRead: true },
  { what: "no index", index: "missing", isRead: false },
  { what: "an index that is no database", index: "no database", isRead: false },
];

it.each(FORMERS)(
  "a rebuild in the place of $what that is killed between any two of its disk operations leaves all told as before, and the next rebuild or start makes up for it",
  async (former) => {
    const disk = scratchDisk(DISK_kB);
    const origin = join(disk, "origin");
    await recordAll(origin, former);
    const before = await told(origin);
    const run = join(disk, "run");
    cpSync(origin, run, { recursive: true });
    const kills = await linesOf<Killed>(child("copies", disk, 0, former));
    const making = kills.filter(({ at }) => existsSync(join(disk, `${at}`, UNFINISHED)));
    // While it was made, and once it was in its place.
    expect(making.length).toBeGreaterThan(5);
    expect(making.at(-1)).not.toEqual(kills.at(-1));
    // What a copy says of a kill, a kill says, too.
    const last = making.at(-1)?.at ?? 0;
    const folder = join(disk, "killed");
    cpSync(origin, folder, { recursive: true });
    const isKilled = linesOf(child("run", folder, last, former));
    for (const { at, operation, path } of kills)
      await expectWhole(join(disk, `${at}`), `${at}, ${operation} ${path}`, { former, before });
    await isKilled;
    expect(leftIn(folder)).toContain(UNFINISHED);
    await expectWhole(folder, `killed before operation ${last}`, { former, before });
    await expectWhole(run, "not killed", { former, before });
  },
);

interface Killed {
  readonly at: number;
  readonly operation: string;
  readonly path: string;
}

function child(mode: "copies" | "run", folder: string, at: number, { isRead }: Former): ChildProcess {
  const args = [CHILD, mode, folder, String(at), ...(isRead ? ["read"] : [])];
  const started = spawn(process.execPath, args, { stdio: ["ignore", "pipe", "inherit"] });
  onTestFinished(() => {
    started.kill("SIGKILL");
  });
  return started;
}

async function recordAll(folder: string, { index }: Former): Promise<void> {
  const running = `${folder} running`;
  const { store } = await open(running);
  await store.note({ event: "signed_in", who: { name: "Ines", sign_in: "stated" } });
  await check(store, "pass");
  const [first, second, third] = await Promise.all(
    Array.from({ length: UNITS }, (_, at) => test(store, `A${at}`, VERDICTS[at % 4])),
  );
  if (!first || !second || !third) throw new Error("Too few units.");
  settleJournal(running);
  await test(store, "A2", "pass");
  await test(store, "A3", "pass", { attempt: { number: 2, kind: "first" } });
  await store.dispose(decision("hold", first));
  await store.dispose(decision("rework", third));
  await store.dispose(decision("hold", second));
  await store.dispose(decision("accept", second));
  cpSync(running, folder, { recursive: true, filter: isNoLock });
  await close(store);
  expect(leftIn(folder)).toContain(`${INDEX}-wal`);
  if (index === "of a killed station") return;
  await rebuildIndex({ folder, at_ms: 0 });
  if (index !== "made anew") rmSync(join(folder, INDEX));
  if (index === "no database") writeFileSync(join(folder, INDEX), index);
}

/** What comes later is in the journal; without what came before it is no index. */
function settleJournal(folder: string): void {
  const database = new Database(join(folder, INDEX));
  database.exec("PRAGMA wal_checkpoint(TRUNCATE)");
  database.close();
}

/** The files are whole, whatever the index is; and so it stays, or becomes, after the next rebuild, and after the next start. */
async function expectWhole(
  folder: string,
  at: string,
  { former, before }: { readonly former: Former; readonly before: string },
): Promise<void> {
  expect(await told(folder), at).toBe(before);
  const had = known(folder);
  // One that somebody reads is under no name for a moment.
  if (isSound(former) && !former.isRead) expect(had, at).not.toBeNull();
  if (had !== null)
    expect(had, at).toEqual({ records: TRAVELLERS, decided: DECIDED, events: eventsOf(former) });
  const started = `${folder} started`;
  cpSync(folder, started, { recursive: true });
  await close((await open(started)).store);
  await expectInOrder(started, at);
  expect(
    leftIn(started).filter((name) => !isOfStation(name)),
    at,
  ).toEqual([]);
  expect(await rebuildIndex({ folder, at_ms: 0 }), at).toBe(TRAVELLERS);
  await expectInOrder(folder, at);
  expect(leftIn(folder), at).toEqual([INDEX]);
}

async function expectInOrder(folder: string, at: string): Promise<void> {
  expect(await checkIndex(folder), at).toMatchObject({
    isThere: true,
    travellers: TRAVELLERS,
    differences: [],
  });
}

/** What the index gives away of the ends; null where there is none that can be read. */
function known(folder: string): unknown {
  const index = RecordIndex.openToRead(folder);
  if (index === undefined) return null;
  const { records } = index.end();
  const [decided, events] = [index.decided.end(), index.headOf(EVENTS)];
  index.close();
  return { records, decided: decided?.sequence, events: events?.sequence };
}

/** Of the end of the events an index that is made of files alone knows nothing. */
function eventsOf(former: Former): number | undefined {
  return isSound(former) ? 1 : undefined;
}

function isSound({ index }: Former): boolean {
  return index === "made anew" || index === "of a killed station";
}

/** In this process SQLite may not have let go of it yet. */
function isOfStation(name: string): boolean {
  return [INDEX, `${INDEX}-wal`, `${INDEX}-shm`].includes(name);
}

function leftIn(folder: string): string[] {
  return readdirSync(folder).filter((name) => name.startsWith(".") && name !== ".open" && isNoLock(name));
}

function isNoLock(path: string): boolean {
  return basename(path) !== ".station-lock.db";
}

/** What `find` and a yield are made of. */
async function told(folder: string): Promise<string> {
  const units: unknown[] = [];
  for (const serial of ["A1", "A2", PIECE.serial]) {
    const { attempts, open: begun, gaps } = await readAttempts(folder, serial);
    units.push({ serial, attempts, begun, gaps, decided: await readDispositions(folder, serial) });
  }
  const days = { from: null, to: null, by: ["model" as const], shifts: [], listsUnits: true };
  const counted = await collectYield({ folder, ...days, now_ms: Date.parse("2026-12-01T00:00:00Z") });
  expect(counted.total.tests).toBe(TRAVELLERS - 1);
  // Members are in the order of the file or of the schema.
  return canonicalText(JSON.parse(JSON.stringify({ units, counted }))).replaceAll(folder, "records");
}
