import { expect, it } from "vitest";
import { UsageError } from "../../station/explain.ts";
import type { AttemptOutcome } from "../../station/records/traveller.ts";
import { recordedValues } from "../../station/study-data/from-records.ts";
import type { RecordsQuery } from "../../station/study-data/record-asked.ts";
import { referenceReadings } from "../../station/study-data/reference-readings.ts";
import { facts, outcome } from "../records/example-attempt.ts";
import { check, decision, test } from "../records/held-units.ts";
import { open } from "../records/running-store.ts";
import { scratchFolder } from "../records/scratch-folder.ts";
import { leaking } from "./made-records.ts";

type Characteristic = AttemptOutcome["characteristics"][number];

const asked = (folder: string, more: Partial<RecordsQuery> = {}): RecordsQuery => ({
  folder,
  model: "demo-body",
  characteristic: "leak_rate",
  shifts: [],
  parts: new Map(),
  attempts: "first",
  withDrafts: false,
  ...more,
});

async function records() {
  const folder = scratchFolder();
  const { store } = await open(folder);
  return { folder, store };
}

it("takes each unit once, as it was at its first valid test, and says what it left out", async () => {
  const { folder, store } = await records();
  await leaking(store, "A", 20);
  await test(store, "B", "void");
  await leaking(store, "B", 70, { attempt: { number: 2, kind: "first" } });
  await leaking(store, "B", 30, { attempt: { number: 3, kind: "retest" } });
  await leaking(store, "C", 99, { draft: true });
  await check(store, "pass");
  const found = await recordedValues(asked(folder));
  expect(found.values.map((value, i) => [found.serials[i], value])).toEqual([
    ["A", 20],
    ["B", 70],
  ]);
  expect(found).toMatchObject({
    name: "leak rate",
    unit: "mL/min",
    upper: 60,
    subject: "leak rate of demo-body",
  });
  const note = found.notes.find((one) => one.startsWith("Attempts left out")) ?? "";
  for (const part of ["1 on reference pieces", "1 on draft limits", "1 void", "1 repeats"]) {
    expect(note).toContain(part);
  }
  expect(found.notes).toContainEqual(expect.stringContaining("SIMULATED: 2 of 2"));
});

it("takes repeats and drafts where they are asked for", async () => {
  const { folder, store } = await records();
  await leaking(store, "A", 70);
  await leaking(store, "A", 30);
  await leaking(store, "D", 40, { draft: true });
  const found = await recordedValues(asked(folder, { attempts: "all", withDrafts: true }));
  expect(found.values).toEqual([70, 30, 40]);
});

it("takes a unit's test after a hold for its first, since the held one proves nothing", async () => {
  const { folder, store } = await records();
  const doubted = await leaking(store, "A", 20);
  await store.dispose(decision("doubt", doubted));
  await leaking(store, "A", 25);
  await leaking(store, "A", 26);
  const found = await recordedValues(asked(folder));
  expect(found.values).toEqual([25]);
  expect(found.notes[0]).toContain("1 in doubt");
});

it("brings values and limits of another unit to that of the first, and tells that limits changed", async () => {
  const { folder, store } = await records();
  await leaking(store, "A", 30);
  await leaking(store, "B", 0.03, { characteristic: { unit: "L/min", upper: 0.05 } });
  const found = await recordedValues(asked(folder));
  expect(found.values[1]).toBeCloseTo(30, 9);
  expect(found.upper).toBeCloseTo(50, 9);
  expect(found.notes).toContainEqual(expect.stringMatching(/limits changed.*upper 60 .*upper 50/));
});

it("groups by a tracked part, and keeps to the units that are asked for", async () => {
  const { folder, store } = await records();
  await leaking(store, "A", 1, { parts: { tub_cavity: "T1", lid_cavity: "L1" } });
  await leaking(store, "B", 2, { parts: { tub_cavity: "T2", lid_cavity: "L1" } });
  await leaking(store, "C", 3, { parts: { tub_cavity: "T2" } });
  await leaking(store, "D", 4, { parts: { lid_cavity: "L1" } });
  const parts = new Map([["lid_cavity", "L1"]]);
  const found = await recordedValues(asked(folder, { by: "tub_cavity", parts }));
  expect(found.values.map((value, i) => [found.groups[i], value])).toEqual([
    ["T1", 1],
    ["T2", 2],
  ]);
  expect(found.notes[0]).toContain("1 of units without the part");
});

it("keeps to days and shifts by the local clock", async () => {
  const { folder, store } = await records();
  const at = (local: string) => new Date(local).toISOString();
  await leaking(store, "A", 1, { started_at: at("2026-01-05T05:59:00") });
  await leaking(store, "B", 2, { started_at: at("2026-01-05T06:00:00") });
  await leaking(store, "C", 3, { started_at: at("2026-01-06T06:30:00") });
  const shifts = ["06:00", "22:00"];
  const early = await recordedValues(asked(folder, { shifts, shift: "06:00" }));
  expect(early.values).toEqual([2, 3]);
  const grouped = await recordedValues(asked(folder, { shifts, by: "shift", to: "2026-01-05" }));
  expect(grouped.groups).toEqual(["22:00", "06:00"]);
});

it("warns that values look better than the process where bodies failed before a value could be taken", async () => {
  const { folder, store } = await records();
  await leaking(store, "A", 20);
  const [leak] = outcome().characteristics;
  const none = { ...leak, value: null, uncertainty: null, verdict: "fail", why: "It can't be filled." };
  await store.commit(
    await store.begin(facts("B")),
    outcome({
      verdict: "fail",
      reasons: [{ code: "GROSS_LEAK", sentence: "It can't be filled." }],
      characteristics: [none as Characteristic],
    }),
  );
  const { notes } = await recordedValues(asked(folder));
  expect(notes).toContainEqual(expect.stringContaining("1 of those without a value failed"));
});

it("names what there is where the characteristic or the model is not", async () => {
  const { folder, store } = await records();
  await leaking(store, "A", 20);
  await expect(recordedValues(asked(folder, { characteristic: "suction" }))).rejects.toThrow(
    'No value of "suction"',
  );
  await expect(recordedValues(asked(folder, { characteristic: "suction" }))).rejects.toThrow("leak rate");
  await expect(recordedValues(asked(folder, { model: "other" }))).rejects.toBeInstanceOf(UsageError);
});

it("reads reference checks with their certificate, void ones counted and left out", async () => {
  const { folder, store } = await records();
  await check(store, "pass");
  await check(store, "void");
  await check(store, "fail");
  const { from: _, ...query } = asked(folder);
  const found = await referenceReadings(query);
  expect(found.readings.map(({ value, certified, inspector }) => [value, certified, inspector])).toEqual([
    [15.2, 15, "Ines"],
    [18.1, 15, "Ines"],
  ]);
  expect(found.notes[0]).toContain("1 attempts on reference pieces have no valid value");
});
