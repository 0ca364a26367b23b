import { readdirSync } from "node:fs";
import { join } from "node:path";
import { expect, it } from "vitest";
import { RecordStore } from "../../station/records/store.ts";
import { facts, outcome, stoppedClock } from "./example-attempt.ts";
import { checked, checkFacts, endedAs, PIECE } from "./held-units.ts";
import { scratchDisk, travellersIn } from "./scratch-folder.ts";
import { type ChildAttempt, runChild } from "./station-child.ts";

const ATTEMPTS: readonly ChildAttempt[] = [
  { facts: facts("A1"), outcome: outcome() },
  { facts: facts("A2"), outcome: endedAs("fail") },
  { facts: checkFacts(1), outcome: checked("fail"), holds: true },
];
/** In memory: a killed process leaves the kernel's view of the files as it is, whatever they lie on. */
const DISK_kB = 64 * 1024;

it("a station killed between any two file operations after a failed check holds its units once, at the latest at its next start", async () => {
  const disk = scratchDisk(DISK_kB);
  const whole = await runChild(join(disk, "whole"), 0, ATTEMPTS);
  const begun = whole.findIndex(({ shown }) => shown === "A2");
  const first = whole.slice(0, begun).filter(({ operation }) => operation !== undefined).length + 1;
  const last = whole.filter(({ operation }) => operation !== undefined).length;
  const next = { killAt: first };
  const seen = { before: 0, between: 0, after: 0 };
  const lane = async () => {
    while (next.killAt <= last) {
      const killAt = next.killAt++;
      seen[await killedAndRestarted(join(disk, String(killAt)), killAt)]++;
    }
  };
  await Promise.all([lane(), lane()]);
  // Kills fell before the check's traveller, between that and the hold, and after the hold.
  expect(seen).toEqual({
    before: expect.any(Number),
    between: expect.any(Number),
    after: expect.any(Number),
  });
  expect(Math.min(...Object.values(seen))).toBeGreaterThan(0);
  expect(last - first).toBeGreaterThan(20);
});

async function killedAndRestarted(folder: string, killAt: number): Promise<keyof typeof STAGES> {
  const events = await runChild(folder, killAt, ATTEMPTS);
  const at = `killed before operation ${killAt}`;
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

const STAGES = { before: 0, between: 0, after: 0 };
