import { appendFileSync, rmSync } from "node:fs";
import { expect, it } from "vitest";
import { approvalPath } from "../../limits/approval.ts";
import { loadLimitFile } from "../../limits/limit-file.ts";
import { judgedRevisions } from "../../station/judged-revisions.ts";
import { revisionWarnings } from "../../station/revision-warnings.ts";
import { OwnLimits } from "./own-limits.ts";
import { SimulatedShift } from "./simulated-shift.ts";
import { readEvents } from "./station-events.ts";

const RAISED = ["revision: 4", "revision: 5"] as const;
const LOOSER = ["upper: 25 mL/min @ 20 degC", "upper: 30 mL/min @ 20 degC"] as const;
const FROM_TOMORROW = ["effective_date: 2026-01-05", "effective_date: 2026-01-06"] as const;
const LAST_MINUTE = new Date(2026, 0, 5, 23, 59, 0).getTime();
const NEXT = "pod-4.revision-5.yaml";

async function evening(own: OwnLimits, setup: { startsAt_ms?: number; allowDrafts?: boolean } = {}) {
  const shift = await SimulatedShift.begin({
    stationPath: own.stationPath,
    startsAt_ms: LAST_MINUTE,
    ...setup,
  });
  const { station, population, unseen } = shift.simulated;
  const warned: string[] = [];
  station.listen({ warned: (sentence) => warned.push(sentence) });
  const revisionOf = async (k: number) =>
    (await shift.tryUnit(population.unitAt(k))).traveller?.limit_file.revision ?? null;
  return { shift, warned, unseen, revisionOf };
}

it("the next revision lies ready beside the one in force, which goes on until midnight; then it takes over, announced and kept", async () => {
  const own = new OwnLimits();
  own.lay(NEXT, own.text(RAISED, LOOSER, FROM_TOMORROW));
  const { shift, warned, unseen, revisionOf } = await evening(own);
  expect(unseen).toEqual([
    "Revision 5 of the limits of POD-4 lies ready and takes effect on 2026-01-06. Revision 4 judges until then.",
  ]);
  expect(await revisionOf(0)).toBe(4);
  await shift.pass(60);
  expect(warned, "told though nobody scans").toEqual([
    expect.stringMatching(/^The limits of POD-4 are revision 5 from now on instead of revision 4, approved/),
  ]);
  expect(await revisionOf(1)).toBe(5);
  const { recordsFolder } = await shift.close();
  const event = readEvents(recordsFolder).find(({ event }) => event === "limits_changed");
  expect(event).toMatchObject({ after_traveller: 1 });
  expect(event?.in_force?.map(({ name }) => name)).toEqual(
    expect.arrayContaining([NEXT, approvalPath(NEXT)]),
  );
});

it("a unit under test at midnight is judged by the revision it was started with, one that is armed by the new one", async () => {
  const own = new OwnLimits();
  own.lay(NEXT, own.text(RAISED, LOOSER, FROM_TOMORROW));
  const { shift, revisionOf } = await evening(own, { startsAt_ms: LAST_MINUTE + 50_000 });
  expect(await revisionOf(0)).toBe(4);
  expect(shift.simulated.clock.wall_ms()).toBeGreaterThan(LAST_MINUTE + 60_000);
  const other = await evening(own);
  const { station, plant, population, runUntil } = other.shift.simulated;
  const one = population.unitAt(0);
  plant.mount(one);
  const armed = new Promise<void>((resolve) => station.listen({ armed: () => resolve() }));
  station.scan({ serial: one.serial, parts: one.parts });
  await runUntil(armed);
  await other.shift.pass(90);
  const finished = new Promise<number>((resolve) =>
    station.listen({ finished: ({ traveller }) => resolve(traveller.limit_file.revision) }),
  );
  station.start();
  expect(await runUntil(finished)).toBe(5);
});

it("limits in the place of the old ones that take effect at midnight are announced then", async () => {
  const own = new OwnLimits();
  own.write(own.text(RAISED, FROM_TOMORROW));
  own.approve();
  const { shift, warned, revisionOf } = await evening(own);
  expect(await revisionOf(0)).toBeNull();
  await shift.pass(90);
  expect(warned).toEqual([
    expect.stringMatching(
      /^The limits of POD-4, revision 5, take effect today, 2026-01-06; approved by B\. Imani/,
    ),
  ]);
  expect(await revisionOf(0)).toBe(5);
});

it("the next revision may be laid beside while the station runs, is told once, and may be taken away again", async () => {
  const own = new OwnLimits();
  const { shift, warned, revisionOf } = await evening(own, { startsAt_ms: LAST_MINUTE - 60_000 });
  const path = own.lay(NEXT, own.text(RAISED, LOOSER, FROM_TOMORROW));
  expect(await revisionOf(0)).toBe(4);
  expect(warned).toEqual([expect.stringContaining("lies ready and takes effect on 2026-01-06")]);
  rmSync(path);
  rmSync(approvalPath(path));
  await shift.pass(150);
  expect(await revisionOf(1)).toBe(4);
  expect(warned).toHaveLength(1);
});

it("a next revision under a name that nobody reads is told of while the station runs", async () => {
  const own = new OwnLimits();
  const { warned, revisionOf } = await evening(own);
  own.lay("pod-4.revision-5.yml", own.text(RAISED, LOOSER));
  expect(await revisionOf(0)).toBe(4);
  expect(warned).toEqual([
    expect.stringMatching(
      /^A limit file beside those in force can't be used: .*revision-5\.yml:1:1: found the/,
    ),
  ]);
});

it("a draft beside the limits in force judges only with --draft, marked, and is spoken of without", async () => {
  const own = new OwnLimits();
  own.lay("draft.yaml", own.text(RAISED, LOOSER), false);
  const { unseen, revisionOf } = await evening(own);
  expect(unseen).toEqual([
    "POD-4 revision 5 is a draft: nobody has approved it. Have it approved before production. Revision 4 judges meanwhile.",
  ]);
  expect(await revisionOf(0)).toBe(4);
  const trying = await evening(own, { allowDrafts: true });
  const { population } = trying.shift.simulated;
  expect((await trying.shift.tryUnit(population.unitAt(0))).traveller).toMatchObject({
    draft: true,
    limit_file: { revision: 5, approved_by: null },
  });
});

it("a newer revision that was altered after its approval stops its model on its day, whatever lies beside it", async () => {
  const own = new OwnLimits();
  const path = own.lay(NEXT, own.text(RAISED, FROM_TOMORROW));
  appendFileSync(path, "# one more line\n");
  const { shift, unseen, revisionOf } = await evening(own);
  expect(unseen).toEqual([
    expect.stringMatching(
      /POD-4 revision 5 was changed after .* It would take effect on 2026-01-06\. Revision 4 judges meanwhile/,
    ),
  ]);
  expect(await revisionOf(0)).toBe(4);
  await shift.pass(90);
  expect((await shift.tryUnit(shift.simulated.population.unitAt(1))).refused).toContainEqual({
    code: "NOT_APPROVED",
    sentence: expect.stringMatching(/POD-4 revision 5 was changed after B\. Imani approved it/),
  });
});

it("while another file has a mistake, what lay ready stops its model on its day, and is taken up once that is put right", async () => {
  const own = new OwnLimits();
  own.lay(NEXT, own.text(RAISED, LOOSER, FROM_TOMORROW));
  const { shift, warned, revisionOf } = await evening(own);
  const other = own.lay("tub-12.yaml", "drumtight: limits/1\nmodel: TUB-12\n", false);
  expect(await revisionOf(0)).toBe(4);
  expect(warned).toEqual([
    expect.stringMatching(/^A limit file beside those in force can't be used: .*tub-12\.yaml:/),
  ]);
  await shift.pass(60);
  expect((await shift.tryUnit(shift.simulated.population.unitAt(1))).refused).toContainEqual({
    code: "LIMITS_UNUSABLE",
    sentence: expect.stringMatching(
      /^Revision 5 of the limits of POD-4 is there, effective since 2026-01-06, and can't be taken up: .*tub-12/,
    ),
  });
  rmSync(other);
  expect(await revisionOf(1)).toBe(5);
});

it("with the clock set back behind a revision that judged, neither it nor the one before judges, and the clock is named", async () => {
  const own = new OwnLimits();
  own.lay(NEXT, own.text(RAISED, FROM_TOMORROW));
  const { shift, revisionOf } = await evening(own, { startsAt_ms: LAST_MINUTE + 120_000 });
  expect(await revisionOf(0)).toBe(5);
  const { recordsFolder } = await shift.close();
  const again = await SimulatedShift.begin({
    stationPath: own.stationPath,
    recordsFolder,
    startsAt_ms: LAST_MINUTE - 3_600_000,
  });
  expect((await again.tryUnit(again.simulated.population.unitAt(1))).refused).toContainEqual({
    code: "NOT_APPROVED",
    sentence: expect.stringMatching(/revision 5 judged units already\..*set this computer's clock right/),
  });
});

it("other limits under the number that judged units are refused at the next start, however genuine their approval", async () => {
  const own = new OwnLimits();
  const { shift, revisionOf } = await evening(own);
  expect(await revisionOf(0)).toBe(4);
  const { recordsFolder, startsAt_ms } = await shift.close();
  own.write(own.text(LOOSER));
  const warned = revisionWarnings(
    loadLimitFile(own.path),
    null,
    await judgedRevisions(recordsFolder, "POD-4"),
  );
  expect(warned.map(({ sentence }) => sentence)).toContainEqual(
    expect.stringMatching(
      /^Revision 4 of POD-4 judged 1 attempt, POD5318\d\d on 2026-01-0\d first, and says something else: give this one revision 5/,
    ),
  );
  own.approve();
  const again = await SimulatedShift.begin({ stationPath: own.stationPath, recordsFolder, startsAt_ms });
  expect((await again.tryUnit(again.simulated.population.unitAt(1))).refused).toContainEqual({
    code: "NOT_APPROVED",
    sentence: expect.stringMatching(
      /says something else than revision 4 of POD-4 did when it judged POD5318\d\d .*give this one revision 5/,
    ),
  });
});
