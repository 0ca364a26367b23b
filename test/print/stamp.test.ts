import { appendFileSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { recordedSheet } from "../../station/print/recorded-sheet.ts";
import { facts, outcome } from "../records/example-attempt.ts";
import { check, decision, PIECE, test as tested } from "../records/held-units.ts";
import { openStore, PRINTED_AT, REAL, sheetOf } from "./made-unit.ts";

type Tested = Awaited<ReturnType<typeof tested>>;
type Kind = Parameters<typeof decision>[0];

const STUDY = {
  draft: true,
  study: { name: "gauge study", plan_sha256: "d".repeat(64), run: 3, of: 30, appraiser: "Ines", trial: 1 },
};

describe("the word on a page", () => {
  it("is PASS for a unit whose newest valid test passed and that nothing was decided about, void tests after it or not", async () => {
    const { folder, store } = await openStore();
    await tested(store, "A1", "fail", REAL);
    await tested(store, "A1", "pass", REAL);
    await tested(store, "A1", "void", REAL);
    const { stamp, across } = await sheetOf(folder, "A1");
    expect({ stamp, across }).toEqual({ stamp: { word: "PASS", isPass: true, lines: [] }, across: null });
  });

  it.each<{ verdicts: readonly ("pass" | "fail" | "void")[]; attempt?: number; word: string }>([
    { verdicts: ["fail"], word: "FAIL" },
    { verdicts: ["void"], word: "VOID" },
    { verdicts: ["pass", "fail"], word: "FAIL" },
    { verdicts: ["pass", "fail"], attempt: 1, word: "OUTDATED" },
    { verdicts: ["pass", "pass"], attempt: 1, word: "OUTDATED" },
    { verdicts: ["fail", "pass"], attempt: 1, word: "FAIL" },
    { verdicts: ["pass", "void"], attempt: 2, word: "VOID" },
  ])("is $word for test $attempt of a unit found $verdicts", async ({ verdicts, attempt, word }) => {
    const { folder, store } = await openStore();
    for (const verdict of verdicts) await tested(store, "A1", verdict, REAL);
    expect((await sheetOf(folder, "A1", attempt)).stamp).toMatchObject({ word, isPass: false });
  });

  it.each<{ kinds: readonly Kind[]; word: string; says: string }>([
    { kinds: ["hold"], word: "ON HOLD", says: "DOES NOT SHIP" },
    { kinds: ["doubt"], word: "ON HOLD", says: "IN DOUBT: DOES NOT SHIP" },
    { kinds: ["scrap"], word: "SCRAPPED", says: "DOES NOT SHIP" },
    { kinds: ["hold", "scrap"], word: "SCRAPPED", says: "DOES NOT SHIP" },
    { kinds: ["rework"], word: "REWORKED", says: "NOT TESTED SINCE: DOES NOT SHIP" },
  ])("is $word for a pass after $kinds, and PASS is nowhere large", async ({ kinds, word, says }) => {
    const { folder, store } = await openStore();
    const passed = await tested(store, "A1", "pass", REAL);
    for (const kind of kinds) await decide(store, kind, passed);
    const { stamp, decisions } = await sheetOf(folder, "A1");
    expect(stamp).toMatchObject({ word, isPass: false });
    expect(stamp.lines[0]).toBe(says);
    expect(stamp.lines).toContain("this test: pass");
    expect(decisions).toHaveLength(kinds.length);
  });

  it("is PASS again after a release, and stays ON HOLD where a unit held by hand passes again", async () => {
    const { folder, store } = await openStore();
    const passed = await tested(store, "A1", "pass", REAL);
    await decide(store, "hold", passed);
    await tested(store, "A1", "pass", REAL);
    expect((await sheetOf(folder, "A1")).stamp.word).toBe("ON HOLD");
    await decide(store, "accept", passed);
    expect((await sheetOf(folder, "A1")).stamp.word).toBe("PASS");
  });

  it.each([
    { name: "simulated", more: {}, word: "SIMULATED", across: "SIMULATED" },
    { name: "on draft limits", more: { ...REAL, draft: true }, word: "DRAFT", across: "DRAFT" },
    { name: "measured for a study", more: { ...REAL, ...STUDY }, word: "STUDY", across: "STUDY" },
  ])("is no pass for a pass $name, which is marked across the page", async ({ more, word, across }) => {
    const { folder, store } = await openStore();
    await tested(store, "A1", "pass", more);
    expect(await sheetOf(folder, "A1")).toMatchObject({ stamp: { word, isPass: false }, across });
  });

  it("is REFERENCE for a reference piece that conforms", async () => {
    const { folder, store } = await openStore();
    await check(store, "pass", REAL);
    const { stamp, across } = await sheetOf(folder, PIECE.serial);
    expect(stamp).toMatchObject({ word: "REFERENCE", isPass: false });
    expect(across).toBe("REFERENCE");
  });

  it("is UNDER TEST while another test of a passed unit has begun", async () => {
    const { folder, store } = await openStore();
    await tested(store, "A1", "pass", REAL);
    await store.begin(facts("A1", 2, REAL));
    expect((await sheetOf(folder, "A1")).stamp.word).toBe("UNDER TEST");
  });
});

describe("nothing is printed", () => {
  it("of a unit with any record that is not as it was recorded, and the file is named", async () => {
    const { folder, store } = await openStore();
    const first = await store.commit(await store.begin(facts("A1", 1, REAL)), outcome());
    await tested(store, "A1", "pass", REAL);
    appendFileSync(first.path, " ");
    const found = await recordedSheet({ folder, serial: "A1", attempt: 2, printed_at: PRINTED_AT });
    expect(found).toMatchObject({ kind: "not printable" });
    expect(JSON.stringify(found)).toMatch(/00000001-A1-1\.json is not as it was recorded/);
  });

  it.each([
    { serial: "B9", attempt: undefined, says: "No attempt of B9 is recorded" },
    { serial: "A1", attempt: 3, says: "There is no test 3 of A1 in" },
  ])("of $serial, test $attempt, which is not there", async ({ serial, attempt, says }) => {
    const { folder, store } = await openStore();
    await tested(store, "A1", "pass", REAL);
    const found = await recordedSheet({ folder, serial, attempt, printed_at: PRINTED_AT });
    expect(found.kind === "not printable" ? found.why.join() : "").toContain(says);
  });
});

async function decide(store: Parameters<typeof tested>[0], kind: Kind, test: Tested): Promise<void> {
  await store.dispose(decision(kind, test));
}
