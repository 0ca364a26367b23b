import { readdirSync, readFileSync, writeFileSync } from "node:fs";
import { dirname, join, relative } from "node:path";
import fc from "fast-check";
import { describe, expect, it, test } from "vitest";
import { canonicalText, sha256Hex } from "../../station/records/chain.ts";
import { listRecords } from "../../station/records/record-name.ts";
import type { AttemptFacts, AttemptOutcome } from "../../station/records/traveller.ts";
import { facts, outcome, stoppedClock } from "./example-attempt.ts";
import { close, open, record } from "./running-store.ts";
import { scratchFolder, travellersIn } from "./scratch-folder.ts";

describe("a recorded attempt", () => {
  it("is one file of canonical JSON whose SHA-256 is the traveller's hash", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    const { path, sha256, traveller } = await record(store, "A1");
    expect(relative(folder, path)).toBe("2026/01/05/00000001-A1-1.json");
    expect(readdirSync(join(folder, ".open"))).toEqual([]);
    const bytes = readFileSync(path);
    expect(sha256Hex(bytes)).toBe(sha256);
    expect(bytes.toString()).toBe(canonicalText(traveller));
    expect(traveller).toMatchObject({ ...facts("A1"), ...outcome(), chain: { sequence: 1, previous: null } });
  });

  it("is chained to the one before, over days and restarts", async () => {
    const folder = scratchFolder();
    const first = await open(folder);
    const a = await record(first.store, "A1");
    await close(first.store);
    const { store } = await open(folder, stoppedClock("2026-01-06T00:00:00.000Z"));
    const b = await record(store, "A2", 1, { ended_at: "2026-01-06T00:00:00.000Z" });
    expect(b.traveller.chain).toEqual({ sequence: 2, previous: a.sha256 });
    expect(relative(folder, b.path)).toBe("2026/01/06/00000002-A2-1.json");
    expect(await travellersIn(folder)).toHaveLength(2);
  });

  it("goes into the folder of the UTC day on which it ended, whatever the clock says when it is written", async () => {
    const folder = scratchFolder();
    const clock = stoppedClock("2027-01-01T00:00:00.000Z");
    const { store } = await open(folder, clock);
    await record(store, "A1", 1, { ended_at: "2026-12-31T23:59:59.999Z" });
    await record(store, "A2", 1, { ended_at: "2027-01-01T00:00:00.000Z" });
    clock.wall = "1970-01-01T00:00:00.000Z"; // the computer's clock was put back
    await record(store, "A3", 1, { ended_at: "2026-12-31T23:59:59.999Z" });
    await store.begin(facts("A4")); // begun on 5 January, and nobody sees its end
    await close(store);
    const { store: next } = await open(folder, clock);
    expect((await listRecords(folder)).map(({ path }) => path)).toEqual([
      "2026/12/31/00000001-A1-1.json",
      "2027/01/01/00000002-A2-1.json",
      "2026/12/31/00000003-A3-1.json",
      "2026/01/05/00000004-A4-1.json",
    ]);
    await close(next);
    await open(folder, clock);
  });

  it("is in its serial's history, in order of attempts, with its file", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    await record(store, "B7");
    await record(store, "A1", 1, {
      verdict: "fail",
      reasons: [{ code: "GROSS_LEAK", sentence: "It leaks." }],
    });
    const last = await record(store, "A1", 2);
    const history = await store.history("A1");
    expect(history.map(({ attempt, kind, verdict }) => [attempt, kind, verdict])).toEqual([
      [1, "first", "fail"],
      [2, "retest", "pass"],
    ]);
    expect(join(folder, history[1]?.path ?? "")).toBe(last.path);
    expect(history[1]?.sha256).toBe(last.sha256);
    expect(await store.history("nobody")).toEqual([]);
  });

  it("keeps the certified value of a reference piece beside what was measured", async () => {
    const { store } = await open(scratchFolder());
    const reference = { piece: "leak 50", certified_value: 50, tolerance: 2, unit: "mL/min" };
    const attempt = await store.begin(facts("REF-1", 1, { kind: "reference", reference }));
    const recorded = await store.commit(attempt, outcome({ reference: { measured: 50.4, conforms: true } }));
    expect(recorded.traveller.reference).toEqual({ ...reference, measured: 50.4, conforms: true });
    expect(await store.history("REF-1")).toMatchObject([{ recordKind: "reference", verdict: "pass" }]);
  });

  it("never leaves its folder and gets one file, whatever the serial says", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    const serials = new Set<string>();
    const hostile = fc.oneof(
      fc.constantFrom(
        "../../../etc/passwd",
        "..",
        ".",
        "/",
        "a/b",
        "A\0B",
        "-",
        ".open",
        "x".repeat(200),
        "\n",
        "ü".repeat(200),
      ),
      fc.string({ minLength: 1, maxLength: 200, unit: "grapheme" }),
    );
    await fc.assert(
      fc.asyncProperty(hostile, async (serial) => {
        if (serials.has(serial) || serial.length > 200) return;
        serials.add(serial);
        const { path } = await record(store, serial);
        expect(dirname(path)).toBe(join(folder, "2026/01/05"));
        expect(path).toMatch(/\/\d{8}-[A-Za-z0-9._-]{1,64}-1\.json$/);
        expect(await store.history(serial)).toHaveLength(1);
      }),
      { numRuns: 60 },
    );
    expect((await travellersIn(folder)).map(({ serial }) => serial)).toEqual([...serials]);
  });

  it("is one of many begun and committed at once, each with its own place in the chain", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    await Promise.all(Array.from({ length: 20 }, (_, at) => record(store, `A${at}`)));
    expect((await travellersIn(folder)).map(({ chain }) => chain.sequence)).toEqual(
      Array.from({ length: 20 }, (_, at) => at + 1),
    );
  });
});

describe("what is not a valid record", () => {
  const reason = { code: "GROSS_LEAK", sentence: "It leaks." };
  const [measured] = outcome().characteristics;
  if (!measured) throw new Error("the example has a characteristic");
  test.each<[string, Partial<AttemptOutcome>]>([
    ["a pass without a measured characteristic", { characteristics: [] }],
    ["a pass with a failed characteristic", { characteristics: [{ ...measured, verdict: "fail" }] }],
    ["a pass with something against it", { reasons: [reason] }],
    ["a pass without a value", { characteristics: [{ ...measured, value: null, why: "No reading." }] }],
    [
      "a missing value without a reason",
      {
        verdict: "void",
        reasons: [reason],
        characteristics: [{ ...measured, value: null, verdict: "void" }],
      },
    ],
    ["a value that is not a number", { characteristics: [{ ...measured, value: Number.NaN }] }],
    [
      "an infinite uncertainty",
      { characteristics: [{ ...measured, uncertainty: Number.POSITIVE_INFINITY }] },
    ],
    ["a fail without a reason", { verdict: "fail" }],
    ["a pass without an end", { ended_at: null, duration_s: null }],
    ["an end without a duration", { verdict: "void", reasons: [reason], duration_s: null }],
    ["a time that is not UTC", { ended_at: "2026-01-05T06:00:21.400+01:00" }],
    ["a reference result for a unit", { reference: { measured: 1, conforms: true } }],
    ["a field nobody knows", { ...outcome(), ...{ extra: 1 } }],
  ])("is refused: %s; and the attempt stays open", async (_, more) => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    const attempt = await store.begin(facts("A1"));
    await expect(store.commit(attempt, outcome(more))).rejects.toMatchObject({ code: "INVALID_RECORD" });
    expect(await listRecords(folder)).toEqual([]);
    await store.commit(attempt, outcome());
    expect(await travellersIn(folder)).toMatchObject([{ serial: "A1", chain: { sequence: 1 } }]);
  });

  test.each<[string, Partial<AttemptFacts>]>([
    ["an empty serial", { serial: "" }],
    ["half a surrogate pair in the serial", { serial: "A\ud83d" }],
    ["attempt 0", { attempt: { number: 0, kind: "first" } }],
    ["a limit file with its folder", { limit_file: { ...facts("A1").limit_file, path: "/etc/limits.yaml" } }],
  ])("is refused before the test starts: %s", async (_, more) => {
    const { store } = await open(scratchFolder());
    await expect(store.begin(facts("A1", 1, more))).rejects.toMatchObject({ code: "INVALID_RECORD" });
  });
});

describe("no attempt is counted twice", () => {
  it("refuses to begin one that is open, recorded or behind", async () => {
    const { store } = await open(scratchFolder());
    const attempt = await store.begin(facts("A1", 2));
    for (const number of [1, 2]) {
      await expect(store.begin(facts("A1", number))).rejects.toMatchObject({ code: "ATTEMPT_TAKEN" });
    }
    await store.commit(attempt, outcome());
    for (const number of [1, 2]) {
      await expect(store.begin(facts("A1", number))).rejects.toMatchObject({ code: "ATTEMPT_TAKEN" });
    }
    await store.begin(facts("A1", 3));
  });

  it("refuses to commit one twice, or one of another store", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    const other = await open(scratchFolder());
    const attempt = await store.begin(facts("A1"));
    await expect(other.store.commit(attempt, outcome())).rejects.toMatchObject({ code: "NOT_OPEN" });
    await store.commit(attempt, outcome());
    await expect(store.commit(attempt, outcome())).rejects.toMatchObject({ code: "NOT_OPEN" });
    expect(await travellersIn(folder)).toHaveLength(1);
  });

  it("never overwrites a file that is there already", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    const first = await record(store, "A1");
    const inTheWay = join(dirname(first.path), "00000002-A2-1.json");
    writeFileSync(inTheWay, "mine");
    await expect(record(store, "A2")).rejects.toMatchObject({ code: "RECORD_EXISTS", path: inTheWay });
    expect(readFileSync(inTheWay, "utf8")).toBe("mine");
  });
});

describe("an attempt without a traveller", () => {
  it("becomes void at the next start, with what was known when it began", async () => {
    const folder = scratchFolder();
    const first = await open(folder);
    await record(first.store, "A1");
    await first.store.begin(facts("A2"));
    await close(first.store);
    const { store, interrupted } = await open(folder, stoppedClock("2026-01-05T09:30:00.000Z"));
    expect(interrupted).toHaveLength(1);
    expect(await travellersIn(folder)).toMatchObject([
      { serial: "A1", verdict: "pass" },
      {
        ...facts("A2"),
        verdict: "void",
        reasons: [{ code: "INTERRUPTED", sentence: expect.stringContaining("2026-01-05T09:30:00.000Z") }],
        ended_at: null,
        duration_s: null,
      },
    ]);
    expect(await store.history("A2")).toMatchObject([{ attempt: 1, verdict: "void" }]);
  });

  it("is void as a reference attempt too, and does not count as conforming", async () => {
    const folder = scratchFolder();
    const first = await open(folder);
    const reference = { piece: "tight", certified_value: 0, tolerance: 1, unit: "mL/min" };
    await first.store.begin(facts("REF-1", 1, { kind: "reference", reference }));
    await close(first.store);
    const { interrupted } = await open(folder);
    expect(interrupted[0]?.traveller).toMatchObject({
      verdict: "void",
      reference: { ...reference, measured: null, conforms: false },
    });
  });

  it("can be made void without a restart, once the fault is acknowledged", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    await store.begin(facts("A1"));
    await store.voidOpenAttempts();
    await record(store, "A1", 2);
    expect(await travellersIn(folder)).toMatchObject([{ verdict: "void" }, { verdict: "pass" }]);
  });

  it("whose note can't be read stops the start, naming the file: it is not lost silently", async () => {
    const folder = scratchFolder();
    const first = await open(folder);
    await first.store.begin(facts("A2"));
    await close(first.store);
    const [name] = readdirSync(join(folder, ".open"));
    writeFileSync(join(folder, ".open", name ?? ""), "");
    await expect(open(folder)).rejects.toMatchObject({
      code: "CORRUPT",
      path: join(folder, ".open", name ?? ""),
    });
    expect(name).toMatch(/^A2-1-/);
  });
});
