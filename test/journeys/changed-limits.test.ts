import { mkdirSync, renameSync, rmSync, writeFileSync } from "node:fs";
import { expect, it } from "vitest";
import { approvalPath } from "../../limits/approval.ts";
import { OwnLimits } from "./own-limits.ts";
import { SimulatedShift } from "./simulated-shift.ts";
import { readEvents } from "./station-events.ts";

const RAISED = ["revision: 4", "revision: 5"] as const;
const LOOSER = ["upper: 25 mL/min @ 20 degC", "upper: 30 mL/min @ 20 degC"] as const;

async function begun(setup: { allowDrafts?: boolean } = {}) {
  const own = new OwnLimits();
  const shift = await SimulatedShift.begin({ stationPath: own.stationPath, ...setup });
  const warned: string[] = [];
  shift.simulated.station.listen({ warned: (sentence) => warned.push(sentence) });
  const unit = (k: number) => shift.simulated.population.unitAt(k);
  return { own, shift, warned, unit };
}

it("an approved change judges from the next unit on, is announced, and stands among the station's events with the files in force", async () => {
  const { own, shift, warned, unit } = await begun();
  expect((await shift.tryUnit(unit(0))).traveller?.limit_file).toMatchObject({ revision: 4 });
  own.write(own.text(RAISED, LOOSER, ["A retest needs a reason", "Looser for a while"]));
  own.approve();
  const { traveller } = await shift.tryUnit(unit(1));
  expect(traveller?.limit_file).toMatchObject({ revision: 5, approved_by: "B. Imani" });
  expect(traveller?.characteristics[0]?.upper).toBeCloseTo(30, 9);
  expect(warned).toEqual([
    expect.stringMatching(
      /^The limits of POD-4 are revision 5 from now on instead of revision 4, approved by B\. Imani: Looser/,
    ),
  ]);
  const { recordsFolder } = await shift.close();
  const event = readEvents(recordsFolder).find(({ event }) => event === "limits_changed");
  expect(event).toMatchObject({ after_traveller: 1, reasons: [{ code: "LIMITS_CHANGED" }] });
  expect(event?.in_force?.map(({ what }) => what)).toEqual(
    expect.arrayContaining(["limit_file", "approval"]),
  );
  expect(event?.in_force?.some(({ sha256 }) => sha256 === traveller?.limit_file.sha256)).toBe(true);
});

it("a change in the middle of a test judges the next unit, and not the one under test", async () => {
  const { own, shift, warned, unit } = await begun();
  let isChanged = false;
  shift.simulated.station.listen({
    phase: (_, phase) => {
      if (phase !== "measure" || isChanged) return;
      isChanged = true;
      own.write(own.text(RAISED, LOOSER));
      own.approve();
    },
  });
  const first = await shift.tryUnit(unit(0));
  expect(isChanged).toBe(true);
  expect(first.traveller?.limit_file.revision).toBe(4);
  expect(warned).toEqual([]);
  expect((await shift.tryUnit(unit(1))).traveller?.limit_file.revision).toBe(5);
});

it("a change while a unit is armed judges that unit when it is started", async () => {
  const { own, shift, warned, unit } = await begun();
  const { station, plant, runUntil } = shift.simulated;
  const one = unit(0);
  plant.mount(one);
  const armed = new Promise<void>((resolve) => station.listen({ armed: () => resolve() }));
  station.scan({ serial: one.serial, parts: one.parts });
  await runUntil(armed);
  own.write(own.text(RAISED, LOOSER));
  own.approve();
  await shift.pass(10);
  expect(warned, "told while nobody scans").toHaveLength(1);
  const finished = new Promise<number>((resolve) =>
    station.listen({ finished: ({ traveller }) => resolve(traveller.limit_file.revision) }),
  );
  station.start();
  expect(await runUntil(finished)).toBe(5);
});

it.each<[string, (own: OwnLimits) => void, string, RegExp]>([
  [
    "tampered with",
    (own) => own.write(own.text(LOOSER)),
    "NOT_APPROVED",
    /POD-4 revision 4 was changed after C\. Holm approved it on/,
  ],
  [
    "without approval",
    (own) => own.withdrawApproval(),
    "NOT_APPROVED",
    /POD-4 revision 4 is a draft: nobody has approved it/,
  ],
  [
    "half written",
    (own) => own.write(own.text().slice(0, 900)),
    "LIMITS_UNUSABLE",
    /The limits of POD-4 were changed and can't be used: .*pod-4\.yaml:/,
  ],
  ["taken away", (own) => rmSync(own.path), "LIMITS_UNUSABLE", /can't be used|are gone/],
  ["no YAML", (own) => own.write("model: [POD-4\n\tlimits: {"), "LIMITS_UNUSABLE", /can't be used/],
  [
    "a folder",
    (own) => {
      rmSync(own.path);
      mkdirSync(own.path);
    },
    "LIMITS_UNUSABLE",
    /can't be used: .*a folder/,
  ],
  [
    "approved with a file cut off",
    (own) => writeFileSync(approvalPath(own.path), '{ "format": "drumtight/approval/1", "mod'),
    "NOT_APPROVED",
    /The approval of POD-4 revision 4 cannot be read\. Have the limit file approved again/,
  ],
  [
    "approved with a folder",
    (own) => {
      rmSync(approvalPath(own.path));
      mkdirSync(approvalPath(own.path));
    },
    "NOT_APPROVED",
    /The approval of POD-4 revision 4 cannot be read\. Have the limit file approved again/,
  ],
  [
    "not yet effective",
    (own) => {
      own.write(own.text(RAISED, ["effective_date: 2026-01-05", "effective_date: 2026-02-01"]));
      own.approve();
    },
    "NOT_IN_FORCE",
    /POD-4 \(revision 5\) take effect on 2026-02-01/,
  ],
  [
    "older than those in force before",
    (own) => {
      own.write(own.text(["revision: 4", "revision: 3"]));
      own.approve();
    },
    "NOT_APPROVED",
    /is revision 3 of POD-4, and revision 4 was in force already/,
  ],
  [
    "for an orifice the station has not",
    (own) => {
      own.write(own.text(RAISED, ["orifice: working", "orifice: worn"]));
      own.approve();
    },
    "LIMITS_UNUSABLE",
    /can't be used: .*worn/,
  ],
])(
  "limits that are %s while the station runs stop the next unit with their sentence, and are mended by the right file",
  async (_, spoil, code, sentence) => {
    const { own, shift, warned, unit } = await begun();
    spoil(own);
    const first = await shift.tryUnit(unit(0));
    expect(first.traveller).toBeNull();
    expect(first.refused).toContainEqual({ code, sentence: expect.stringMatching(sentence) });
    expect(warned).toHaveLength(1);
    expect((await shift.tryUnit(unit(0))).refused, "asked again").toContainEqual({
      code,
      sentence: expect.anything(),
    });
    for (const path of [own.path, approvalPath(own.path)]) rmSync(path, { recursive: true, force: true });
    own.write(own.text());
    own.approve();
    expect((await shift.tryUnit(unit(0))).traveller?.limit_file.revision).toBe(4);
  },
);

it("of limits that change twice during one test the last count for the next, told once; put there by rename or not", async () => {
  const { own, shift, warned, unit } = await begun();
  const changes = [
    () => own.write(own.text().slice(0, 500)),
    () => {
      const aside = own.lay("pod-4.yaml.new", own.text(RAISED, LOOSER));
      renameSync(aside, own.path);
      renameSync(approvalPath(aside), approvalPath(own.path));
    },
  ];
  shift.simulated.station.listen({
    phase: (_, phase) => {
      if (phase === "settle" || phase === "measure") changes.shift()?.();
    },
  });
  expect((await shift.tryUnit(unit(0))).traveller).toMatchObject({
    verdict: "pass",
    limit_file: { revision: 4 },
  });
  expect(changes).toHaveLength(0);
  expect((await shift.tryUnit(unit(1))).traveller?.limit_file.revision).toBe(5);
  expect(warned).toEqual([expect.stringContaining("are revision 5 from now on instead of revision 4")]);
});

it("a change that nobody approved runs only with --draft, marked on its travellers", async () => {
  const { own, shift, unit } = await begun({ allowDrafts: true });
  expect((await shift.tryUnit(unit(0))).traveller?.draft).toBe(false);
  own.write(own.text(RAISED, LOOSER));
  expect((await shift.tryUnit(unit(1))).traveller).toMatchObject({
    draft: true,
    limit_file: { revision: 5, approved_by: null },
  });
});

it("half-written limits are not run with --draft either", async () => {
  const { own, shift, unit } = await begun({ allowDrafts: true });
  writeFileSync(own.path, "drumtight: limits/1\n");
  expect((await shift.tryUnit(unit(0))).refused).toContainEqual(
    expect.objectContaining({ code: "LIMITS_UNUSABLE" }),
  );
});

it("an older approved revision is refused where a newer one's approval stands beside it, though it never judged a unit", async () => {
  const own = new OwnLimits();
  const newer = own.text(RAISED, LOOSER);
  own.write(newer);
  own.approve();
  await own.remember();
  own.write(own.text());
  own.approve();
  const shift = await SimulatedShift.begin({ stationPath: own.stationPath });
  expect((await shift.tryUnit(shift.simulated.population.unitAt(0))).refused).toContainEqual({
    code: "NOT_APPROVED",
    sentence: expect.stringMatching(
      /is revision 4 of POD-4, and revision 5 is approved and in force\. Put that one in its place/,
    ),
  });
});
