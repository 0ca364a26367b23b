import { rmSync } from "node:fs";
import { describe, expect, it } from "vitest";
import type { Disposition } from "../../station/records/disposition.ts";
import { stoppedClock } from "./example-attempt.ts";
import { check, decision, test } from "./held-units.ts";
import { close, open } from "./running-store.ts";
import { scratchFolder } from "./scratch-folder.ts";

function serials(holds: readonly Disposition[]): string[][] {
  return holds.map(({ units }) => units.map(({ serial }) => serial));
}

describe("a failed reference check holds", () => {
  it("every unit of its model since the piece's last passed check, passed or failed, and no other", async () => {
    const { store } = await open(scratchFolder());
    await test(store, "BEFORE");
    await check(store, "pass");
    const a = await test(store, "A1");
    await test(store, "A2", "fail");
    await test(store, "VOID", "void");
    await test(store, "DRAFT", "pass", { draft: true });
    await test(store, "OTHER", "pass", { model: "other-body" });
    const failed = await check(store, "fail");
    const [hold, ...more] = await store.ensureHolds();
    expect(more).toEqual([]);
    expect(hold).toMatchObject({
      kind: "hold",
      by: { name: null, sign_in: "station" },
      at: "2026-01-05T06:00:00.000Z",
      reference: failed.sha256,
      reason: {
        code: "REFERENCE_FAILED",
        sentence:
          "Reference piece REF-LEAK-1 failed its check, 18.10 mL/min where 15 ± 2 mL/min is certified: every unit of demo-body since its last passed check is in doubt. Test them again, or have a supervisor release them.",
      },
    });
    expect(hold?.units).toEqual([
      { serial: "A1", attempt: 1, traveller: a.sha256 },
      expect.objectContaining({ serial: "A2", attempt: 1 }),
    ]);
  });

  it("everything since the beginning where the piece never passed", async () => {
    const { store } = await open(scratchFolder());
    await test(store, "A1");
    await check(store, "fail");
    expect(serials(await store.ensureHolds())).toEqual([["A1"]]);
  });

  it("of a unit its newest valid test, and none that was tested again since", async () => {
    const { store } = await open(scratchFolder());
    await test(store, "TWICE", "fail");
    const second = await test(store, "TWICE");
    const first = await test(store, "VOIDED");
    await test(store, "VOIDED", "void");
    await test(store, "AGAIN");
    await check(store, "fail");
    await test(store, "AGAIN", "fail");
    await test(store, "VOIDED", "pass", { draft: true });
    const [hold] = await store.ensureHolds();
    expect(hold?.units.map(({ traveller }) => traveller)).toEqual([second.sha256, first.sha256]);
  });

  it("nothing where it was void or on draft limits, and such a check proves nothing either", async () => {
    const { store } = await open(scratchFolder());
    await test(store, "A1");
    await check(store, "void");
    await check(store, "fail", { draft: true });
    expect(await store.ensureHolds()).toEqual([]);
    await check(store, "pass", { draft: true });
    await check(store, "fail");
    expect(serials(await store.ensureHolds())).toEqual([["A1"]]);
  });

  it("once, however often it is asked, and after a restart", async () => {
    const folder = scratchFolder();
    const first = await open(folder);
    await test(first.store, "A1");
    await check(first.store, "fail");
    // The station was stopped before it could hold anything.
    await close(first.store);
    const { store } = await open(folder);
    const asked = await Promise.all([store.ensureHolds(), store.ensureHolds()]);
    expect(asked.map(serials)).toEqual([[["A1"]], []]);
    await close(store);
    const third = await open(folder);
    expect(await third.store.ensureHolds()).toEqual([]);
    expect(await third.store.dispositionsOf("A1")).toHaveLength(1);
  });

  it("after a restart too when the piece that failed is not in use any more", async () => {
    const folder = scratchFolder();
    const first = await open(folder);
    await test(first.store, "A1");
    await check(first.store, "pass", { serial: "REF-OTHER" });
    await check(first.store, "fail");
    await close(first.store);
    const { store } = await open(folder);
    await check(store, "pass", { serial: "REF-LEAK-2" });
    expect(serials(await store.ensureHolds())).toEqual([["A1"]]);
  });

  it("nothing, now or ever after, where all its units have been tested again", async () => {
    const { store } = await open(scratchFolder());
    await test(store, "A1");
    await check(store, "fail");
    await test(store, "A1");
    expect(await store.ensureHolds()).toEqual([]);
    await check(store, "pass");
    expect(await store.ensureHolds()).toEqual([]);
  });

  it("again what was released, when the piece fails once more: the release said that the failure meant nothing", async () => {
    const { store } = await open(scratchFolder());
    const a = await test(store, "A1");
    await check(store, "fail");
    await store.ensureHolds();
    await store.dispose(decision("accept", a));
    expect((await store.inDoubt()).inDoubt).toEqual(new Set());
    await check(store, "fail");
    expect(serials(await store.ensureHolds())).toEqual([["A1"]]);
    expect((await store.inDoubt()).inDoubt).toEqual(new Set([a.sha256]));
  });
});

describe("a traveller is in doubt", () => {
  it("from its hold on until it is released or its unit has a newer valid test", async () => {
    const { store } = await open(scratchFolder());
    const [a, b, c] = [await test(store, "A1"), await test(store, "B2"), await test(store, "C3")];
    const inDoubt = async () => [...(await store.inDoubt()).inDoubt];
    expect(await inDoubt()).toEqual([]);
    await check(store, "fail");
    await store.ensureHolds();
    expect(await inDoubt()).toEqual([a.sha256, b.sha256, c.sha256]);
    await store.dispose(decision("accept", b));
    expect(await inDoubt()).toEqual([a.sha256, c.sha256]);
    await test(store, "A1", "void");
    await test(store, "C3", "pass", { draft: true });
    expect(await inDoubt()).toEqual([a.sha256, c.sha256]);
    const again = await test(store, "A1", "fail");
    expect(await inDoubt()).toEqual([c.sha256]);
    const { untrusted, firstInspections } = await store.inDoubt();
    expect(untrusted).toEqual(new Set([a.sha256, c.sha256]));
    expect(firstInspections).toEqual(new Set([again.sha256]));
  });

  it("as long as one hold is left that was made after its release", async () => {
    const { store } = await open(scratchFolder());
    const a = await test(store, "A1");
    for (const kind of ["doubt", "doubt", "accept", "doubt"] as const) await store.dispose(decision(kind, a));
    expect((await store.inDoubt()).inDoubt.size).toBe(1);
    await store.dispose(decision("accept", a));
    expect((await store.inDoubt()).inDoubt.size).toBe(0);
  });

  it("still, after a rework or a scrap: neither says that the test was right", async () => {
    const { store } = await open(scratchFolder());
    const a = await test(store, "A1");
    for (const kind of ["doubt", "rework", "scrap"] as const) await store.dispose(decision(kind, a));
    expect([...(await store.inDoubt()).inDoubt]).toEqual([a.sha256]);
  });

  it("whatever was recorded meanwhile in a store that can't keep its index", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder, stoppedClock());
    const a = await test(store, "A1");
    await store.dispose(decision("doubt", a));
    await close(store);

    rmSync(`${folder}/.index.db`);
    const next = await open(folder);
    expect([...(await next.store.inDoubt()).inDoubt]).toEqual([a.sha256]);
  });
});

it("decides nothing about what is no recorded test of a unit that counts", async () => {
  const { store } = await open(scratchFolder());
  const a = await test(store, "A1");
  const b = await test(store, "B2");
  const draft = await test(store, "D4", "pass", { draft: true });
  const piece = await check(store, "pass");
  const mixed = decision("hold", a);
  for (const bad of [
    decision("hold", draft),
    decision("hold", a, piece),
    { ...mixed, units: [{ serial: "A1", attempt: 1, traveller: b.sha256 }] },
    { ...mixed, units: [{ serial: "A1", attempt: 2, traveller: a.sha256 }] },
    { ...mixed, units: [] },
    { ...mixed, by: { name: null, sign_in: "station" as const } },
    { ...mixed, reference: piece.sha256 },
    { ...decision("rework", a), rework: undefined },
    { ...mixed, rework: { cause: "none", action: "none" } },
    { ...mixed, units: [...mixed.units, ...mixed.units] },
  ]) {
    await expect(store.dispose(bad)).rejects.toMatchObject({ code: "INVALID_RECORD" });
  }
  expect(await store.dispositionsOf("A1")).toEqual([]);
  expect(await store.history("A1")).toHaveLength(1);
});
