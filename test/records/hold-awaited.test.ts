import { existsSync, readdirSync, rmSync } from "node:fs";
import { join } from "node:path";
import { expect, it } from "vitest";
import { commandInProcess } from "../journeys/command-in-process.ts";
import { facts, outcome } from "./example-attempt.ts";
import { check, checked, checkFacts, endedAs, PIECE, test } from "./held-units.ts";
import { close, open } from "./running-store.ts";
import { scratchDisk, travellersIn } from "./scratch-folder.ts";
import { type ChildAttempt, everyKill, type Killed } from "./station-child.ts";

const ATTEMPTS: readonly ChildAttempt[] = [
  { facts: facts("A1"), outcome: outcome() },
  { facts: facts("A2"), outcome: endedAs("fail") },
  { facts: checkFacts(1), outcome: checked("fail"), holds: true },
];
const DISK_kB = 64 * 1024;

const YIELD = ["yield", "--from", "2026-01-01", "--format", "csv", "--what"];

/** What each command tells of a unit: only how it stands. */
async function said(folder: string, serial: string) {
  const at = ["--records", folder];
  const found = JSON.parse((await commandInProcess(["find", serial, "--json", ...at])).stdout);
  const printed = await commandInProcess(["print", serial, "--pdf", "-", ...at]);
  const suspects = JSON.parse((await commandInProcess(["suspects", "--json", ...at])).stdout);
  const held = await commandInProcess([...YIELD, "held", ...at]);
  const summary = await commandInProcess([...YIELD, "summary", ...at]);
  return {
    find: found.state.state as string,
    reason: found.state.reason as string | null,
    isPrinted: printed.code === 0,
    notPrinted: printed.stderr,
    suspects: suspects.units.filter((it: { serial: string }) => it.serial === serial),
    held: held.stdout.includes(`${serial},`),
    good: /"?good, units"?,(\d+)/.exec(summary.stdout)?.[1],
  };
}

it("find, print, suspects and yield all doubt a unit from the moment that a failed check is on disk", async () => {
  const kills = await everyKill(scratchDisk(DISK_kB), ATTEMPTS);
  const stages = { before: [] as Killed[], between: [] as Killed[], after: [] as Killed[] };
  for (const killed of kills) {
    const stage = await stageOf(killed.folder);
    if (stage) stages[stage].push(killed);
  }
  const { before, between, after } = stages;
  expect(between.length).toBeGreaterThan(3);
  const tried = [
    ...before.slice(-1).map((it) => ({ ...it, stage: "before" })),
    ...[...between.slice(0, 2), ...between.slice(-1)].map((it) => ({ ...it, stage: "between" })),
    ...after.slice(0, 1).map((it) => ({ ...it, stage: "after" })),
  ];
  expect(tried).toHaveLength(5);
  for (const { folder, at, stage } of tried) {
    for (const hasIndex of [true, false]) {
      if (!hasIndex) for (const name of indexFiles(folder)) rmSync(join(folder, name));
      const where = `${at}, ${hasIndex ? "with" : "without"} its index`;
      const told = await said(folder, "A1");
      expect([told.find, told.suspects.length, told.held, told.good], where).toEqual(
        stage === "before" ? ["good", 0, false, "1"] : ["in_doubt", 1, true, "0"],
      );
      // A hold that is recorded is printed on the page; of one that is not nothing is known there.
      expect(told.isPrinted, where).toBe(stage !== "between");
      if (stage === "between") expect(told.notPrinted, where).toContain(told.reason);
    }
  }
});

/** @returns what of the failed check is on disk; null before all units are */
async function stageOf(folder: string): Promise<"before" | "between" | "after" | null> {
  const travellers = existsSync(folder) ? await travellersIn(folder) : [];
  if (!travellers.some(({ serial }) => serial === "A2")) return null;
  if (!travellers.some(({ serial }) => serial === PIECE.serial)) return "before";
  const dispositions = join(folder, "dispositions");
  const isHeld = existsSync(dispositions) && readdirSync(dispositions).some((name) => name.endsWith(".json"));
  return isHeld ? "after" : "between";
}

function indexFiles(folder: string): string[] {
  return readdirSync(folder).filter((name) => name.startsWith(".index.db"));
}

it("a unit awaits no hold where the piece passed after its test, however long ago, or it was tested again since", async () => {
  const folder = scratchDisk(DISK_kB);
  const { store } = await open(folder);
  await test(store, "PROVEN");
  await check(store, "pass");
  for (let number = 1; number <= 205; number++) await test(store, `N${number}`);
  await test(store, "AGAIN", "fail");
  await test(store, "OTHER", "pass", { model: "other-body" });
  await test(store, "DOUBTED");
  await check(store, "fail");
  await test(store, "AGAIN", "pass", { attempt: { number: 2, kind: "retest" } });
  await close(store);
  for (const hasIndex of [true, false]) {
    if (!hasIndex) for (const name of indexFiles(folder)) rmSync(join(folder, name));
    const states = new Map<string, string>();
    for (const serial of ["PROVEN", "N1", "N205", "AGAIN", "OTHER", "DOUBTED"]) {
      const found = await commandInProcess(["find", serial, "--json", "--records", folder]);
      states.set(serial, JSON.parse(found.stdout).state.state);
    }
    const all = JSON.parse((await commandInProcess(["suspects", "--json", "--records", folder])).stdout);
    const suspects = all.units.map(({ serial }: { serial: string }) => serial);
    expect(suspects).toHaveLength(206);
    for (const [serial, state] of states)
      expect(suspects.includes(serial), serial).toBe(state === "in_doubt");
    expect(Object.fromEntries(states)).toEqual({
      PROVEN: "good",
      N1: "in_doubt",
      N205: "in_doubt",
      AGAIN: "good",
      OTHER: "good",
      DOUBTED: "in_doubt",
    });
  }
});
