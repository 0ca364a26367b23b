import { readdirSync } from "node:fs";
import { join } from "node:path";
import { expect, it } from "vitest";
import { RecordStore } from "../../station/records/store.ts";
import { facts, outcome, stoppedClock } from "./example-attempt.ts";
import { checked, checkFacts, endedAs, PIECE } from "./held-units.ts";
import { scratchDisk, scratchFolder, travellersIn } from "./scratch-folder.ts";
import { type ChildAttempt, everyKill, type Killed, runChild } from "./station-child.ts";

const ATTEMPTS: readonly ChildAttempt[] = [
  { facts: facts("A1"), outcome: outcome() },
  { facts: facts("A2"), outcome: endedAs("fail") },
  { facts: checkFacts(1), outcome: checked("fail"), holds: true },
];
/** In memory: a killed process leaves the kernel's view of the files as it is, whatever they lie on. */
const DISK_kB = 64 * 1024;

it("a station killed between any two file operations after a failed check holds its units once, at the latest at its next start", async () => {
  const kills = await everyKill(scratchDisk(DISK_kB), ATTEMPTS);
  const afterUnits = kills.filter(({ events }) => events.some(({ shown }) => shown === "A2"));
  const seen = { before: 0, between: 0, after: 0 };
  for (const killed of afterUnits) seen[await stageOf(killed)]++;
  // Before the check's traveller, between that and the hold, and after the hold.
  expect(Math.min(...Object.values(seen)), JSON.stringify(seen)).toBeGreaterThan(0);
  expect(afterUnits.length).toBeGreaterThan(20);
});

it("a station killed with SIGKILL before its hold is written makes it at its next start", async () => {
  const kills = await everyKill(scratchDisk(DISK_kB), ATTEMPTS);
  const said = ({ events }: Killed) => events.some(({ shown }) => shown === PIECE.serial);
  const killAt = kills.findIndex(said) + 1;
  const folder = join(scratchFolder(), "killed");
  const events = await runChild(folder, killAt, ATTEMPTS);
  expect(await stageOf({ folder, events, at: `killed before operation ${killAt}` })).toBe("between");
});

type Stage = "before" | "between" | "after";

/** Starts the station again, and checks that it holds what must be held. @returns when it was killed */
async function stageOf({ folder, events, at }: Killed): Promise<Stage> {
  const { store } = await RecordStore.open({ folder, clock: stoppedClock(), station: "line 1" });
  const held = await store.dispositionsOf("A1");
  const made = await store.ensureHolds();
  expect(await store.ensureHolds(), at).toEqual([]);
  const holds = await store.dispositionsOf("A1");
  const failed = (await store.history(PIECE.serial)).find(({ verdict }) => verdict === "fail");
  expect(holds, at).toHaveLength(failed ? 1 : 0);
  expect(held.length + made.length, at).toBe(holds.length);
  // What was said to be held stands; what was not is made up for.
  if (events.some((event) => event.held !== undefined)) expect(held, at).toHaveLength(1);
  if (events.some(({ shown }) => shown === PIECE.serial)) expect(failed, at).toBeDefined();
  const travellers = await travellersIn(folder);
  const units = travellers.filter(({ kind }) => kind === "unit").map(({ serial }) => serial);
  expect(units, at).toEqual(["A1", "A2"]);
  if (failed) {
    expect(holds, at).toMatchObject([
      { reference: failed.sha256, units: [{ serial: "A1" }, { serial: "A2" }] },
    ]);
    expect((await store.inDoubt()).inDoubt.size, at).toBe(2);
    expect(
      readdirSync(join(folder, "dispositions")).filter((name) => name.endsWith(".json")),
      at,
    ).toHaveLength(1);
  }
  await store.close();
  return failed ? (held.length > 0 ? "after" : "between") : "before";
}
