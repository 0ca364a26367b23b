import type { ChildProcess } from "node:child_process";
import { once } from "node:events";
import { join } from "node:path";
import { createInterface } from "node:readline";
import { describe, expect, it } from "vitest";
import { RecordStore } from "../../station/records/store.ts";
import { facts, outcome, stoppedClock } from "./example-attempt.ts";
import { scratchDisk, scratchFolder, travellersIn } from "./scratch-folder.ts";
import { everyKill, type Killed, linesOf, runChild, startChild } from "./station-child.ts";

const ATTEMPTS = [
  { facts: facts("A1"), outcome: outcome() },
  {
    facts: facts("A2"),
    outcome: outcome({ verdict: "fail", reasons: [{ code: "GROSS_LEAK", sentence: "It leaks." }] }),
  },
];
/** In memory: a killed process leaves the kernel's view of the files as it is, whatever they lie on. */
const DISK_kB = 64 * 1024;
/** Recorded after the restart, to see that the station goes on. */
const AFTER = "after";

it("between any two file operations the disk is such that a station killed there leaves every attempt that was begun with exactly one traveller", async () => {
  const kills = await everyKill(scratchDisk(DISK_kB), ATTEMPTS);
  for (const killed of kills) await expectWhole(killed);
  expect(kills.length).toBeGreaterThan(40);
  expect(kills.at(-1)?.events.filter(({ shown }) => shown)).toHaveLength(ATTEMPTS.length);
});

describe("a station killed with SIGKILL", () => {
  it("before any of some file operations leaves what a copy of its folder says that it would", async () => {
    const disk = scratchDisk(DISK_kB);
    for (const killAt of [12, 25, 34]) {
      const folder = join(disk, String(killAt));
      const events = await runChild(folder, killAt, ATTEMPTS);
      expect(events.some(({ operations }) => operations !== undefined)).toBe(false);
      await expectWhole({ folder, events, at: `killed before operation ${killAt}` });
    }
  });

  it("while it is being killed over and over loses nothing and counts nothing twice", async () => {
    const folder = scratchDisk(DISK_kB);
    const begun: string[] = [];
    const shown = new Map<string, string>();
    for (let round = 0; round < 12; round++) {
      const attempts = [0, 1, 2].map((at) => ({ facts: facts(`R${round}-${at}`), outcome: outcome() }));
      for (const event of await runChild(folder, 25 + 5 * round, attempts)) {
        if (event.begun) begun.push(event.begun);
        if (event.shown) shown.set(event.shown, event.verdict ?? "");
      }
    }
    await restart(folder);
    const travellers = await travellersIn(folder);
    const serials = travellers.map(({ serial }) => serial);
    expect(new Set(serials).size).toBe(serials.length);
    for (const serial of begun) expect(serials).toContain(serial);
    for (const [serial, verdict] of shown) {
      expect(travellers.find((traveller) => traveller.serial === serial)?.verdict).toBe(verdict);
    }
    expect(shown.size).toBeGreaterThan(5);
    expect(begun.length).toBeGreaterThan(shown.size);
  });

  it("gives the records folder back at once", async () => {
    const folder = scratchFolder();
    const child = startChild("hold", folder);
    await opened(child);
    const clock = stoppedClock();
    await expect(RecordStore.open({ folder, clock, station: "line 1" })).rejects.toMatchObject({
      code: "FOLDER_IN_USE",
      message: expect.stringContaining(`Station "child" (process ${child.pid} on `),
    });
    child.kill("SIGKILL");
    await once(child, "exit");
    const { store } = await RecordStore.open({ folder, clock, station: "line 1" });
    await store.close();
  });
});

it("whatever file operation fails, once, for a while or from then on, what was shown is on disk and nothing is lost or doubled", async () => {
  const root = scratchDisk(DISK_kB);
  let runs = 0;
  const codes = new Set<string>();
  for (const { folder = "", begun = [], shown = {}, failures = [] } of await faultyRuns(root)) {
    runs++;
    for (const code of failures) codes.add(code);
    await restart(folder);
    const travellers = (await travellersIn(folder)).filter(({ serial }) => serial !== AFTER);
    const serials = travellers.map(({ serial }) => serial);
    expect(new Set(serials).size, folder).toBe(serials.length);
    expect(serials, folder).toEqual(expect.arrayContaining(begun));
    for (const { serial, verdict } of travellers) {
      if (shown[serial]) expect(verdict, folder).toBe(shown[serial]);
      else if (!failures.includes("IN_DOUBT")) expect(verdict, folder).toBe("void");
    }
  }
  expect(runs).toBeGreaterThan(150);
  expect([...codes].sort()).toEqual(["IN_DOUBT", "IO_FAILED"]);
});

it("puts a traveller's bytes on the disk before its name, and its name before it is shown", async () => {
  const trace = await traceOfFirstCommit();
  expectOrder(trace, ["writeFile temp", "sync temp", "link record", "sync 05", "shown"]);
});

it("puts each new folder's name on the disk before a record goes into it", async () => {
  const trace = await traceOfFirstCommit();
  expectOrder(trace, ["mkdir 2026", "sync records", "link record"]);
  expectOrder(trace, ["mkdir 01", "sync 2026", "link record"]);
  expectOrder(trace, ["mkdir 05", "sync 01", "link record"]);
});

async function traceOfFirstCommit(): Promise<string[]> {
  const events = await runChild(join(scratchFolder(), "records"), 0, ATTEMPTS.slice(0, 1));
  return events.slice(events.findIndex(({ begun }) => begun)).map(({ operation, path = "", shown }) => {
    if (shown) return "shown";
    return `${operation} ${path.endsWith(".part") ? "temp" : path.endsWith(".json") ? "record" : path}`;
  });
}

function expectOrder(trace: readonly string[], names: readonly string[]): void {
  const places = names.map((name) => trace.indexOf(name));
  expect(places, trace.join("\n")).not.toContain(-1);
  expect(places, trace.join("\n")).toEqual([...places].sort((a, b) => a - b));
}

/** After a restart everything that was begun is there, once, and as it was shown. */
async function expectWhole({ folder, events, at }: Killed): Promise<void> {
  await restart(folder);
  const travellers = (await travellersIn(folder)).filter(({ serial }) => serial !== AFTER);
  const serials = travellers.map(({ serial }) => serial);
  expect(new Set(serials).size, at).toBe(serials.length);
  for (const { begun } of events) if (begun) expect(serials, at).toContain(begun);
  for (const traveller of travellers) {
    const tested = ATTEMPTS.find((attempt) => attempt.facts.serial === traveller.serial);
    const shown = events.find((event) => event.shown === traveller.serial);
    // What was shown stands; what was not is either whole or void, never something in between.
    if (shown) expect(traveller.verdict, at).toBe(shown.verdict);
    else expect([tested?.outcome.verdict, "void"], at).toContain(traveller.verdict);
    if (traveller.verdict === "void") expect(traveller.reasons, at).toMatchObject([{ code: "INTERRUPTED" }]);
    else expect(traveller.curves, at).toEqual(tested?.outcome.curves);
  }
}

/** Starts the station again, checks that its index agrees with the files, and that it can go on. */
async function restart(folder: string): Promise<void> {
  const { store } = await RecordStore.open({ folder, clock: stoppedClock(), station: "line 1" });
  for (const traveller of await travellersIn(folder)) {
    expect(await store.history(traveller.serial)).toMatchObject([
      { id: traveller.id, verdict: traveller.verdict },
    ]);
  }
  await store.commit(await store.begin(facts(AFTER)), outcome());
  await store.close();
}

interface FaultyRun {
  readonly folder?: string;
  readonly begun?: string[];
  readonly shown?: Record<string, string>;
  readonly failures?: string[];
}

async function faultyRuns(folder: string): Promise<FaultyRun[]> {
  return linesOf<FaultyRun>(startChild("faults", folder, "0", JSON.stringify(ATTEMPTS)));
}

async function opened(child: ChildProcess): Promise<void> {
  for await (const line of createInterface({ input: child.stdout ?? process.stdin })) {
    if (JSON.parse(line).opened) return;
  }
}
