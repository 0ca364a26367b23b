import { copyFileSync, renameSync } from "node:fs";
import { join } from "node:path";
import fc from "fast-check";
import Database from "libsql";
import { describe, expect, it } from "vitest";
import { AuditIndex } from "../../station/records/audit-index.ts";
import { type IndexedAttempt, RecordIndex } from "../../station/records/index-db.ts";
import { indexedAttempt } from "../../station/records/indexed-attempt.ts";
import { Traveller } from "../../station/records/traveller.ts";
import type { UnitRow } from "../../station/records/unit-row.ts";
import { facts } from "./example-attempt.ts";
import { endedAs, PIECE } from "./held-units.ts";
import { scratchFolder } from "./scratch-folder.ts";

interface Tested {
  readonly unit: number;
  readonly verdict: "pass" | "fail" | "void";
  readonly kind: "first" | "retest" | "after_rework";
  readonly what: "unit" | "draft" | "study" | "reference" | "cut off";
  readonly cavity: string;
}

const tested: fc.Arbitrary<Tested> = fc.record({
  unit: fc.nat(4),
  verdict: fc.constantFrom("pass", "fail", "void"),
  kind: fc.constantFrom("first", "retest", "after_rework"),
  what: fc.constantFrom("unit", "unit", "unit", "unit", "draft", "study", "reference", "cut off"),
  cavity: fc.constantFrom("T1", "T2"),
});

const STUDY = { name: "R&R", plan_sha256: "c".repeat(64), run: 1, of: 9, appraiser: "Ines", trial: 1 };

function attemptsOf(history: readonly Tested[]): IndexedAttempt[] {
  const numbers = new Map<string, number>();
  return history.map(({ unit, verdict: asked, kind, what, cavity }, i) => {
    const verdict = what === "cut off" ? "void" : asked;
    const serial = what === "reference" ? PIECE.serial : `U${unit}`;
    const number = (numbers.get(serial) ?? 0) + 1;
    numbers.set(serial, number);
    const certified = { piece: serial, certified_value: 15, tolerance: 2, unit: "mL/min" };
    const traveller = Traveller.parse({
      format: "drumtight/traveller/1",
      id: i.toString(16).padStart(32, "0"),
      ...facts(serial, number, {
        kind: what === "reference" ? "reference" : "unit",
        attempt: { number, kind },
        draft: what === "draft" || what === "study",
        parts: { tub_cavity: cavity },
        ...(what === "study" ? { study: STUDY } : {}),
      }),
      ...endedAs(verdict),
      ended_at: new Date(Date.UTC(2026, 0, 5, 6, 0, i)).toISOString(),
      duration_s: 20 + i / 7,
      ...(what === "cut off" ? { ended_at: null, duration_s: null } : {}),
      ...(what === "reference"
        ? {
            reference: {
              ...certified,
              measured: verdict === "void" ? null : 15,
              conforms: verdict === "pass",
            },
          }
        : {}),
      chain: { sequence: i + 1, previous: i === 0 ? null : "d".repeat(64) },
    });
    return indexedAttempt(traveller, i.toString(16).padStart(64, "e"), `${i}`);
  });
}

/** By the words of the columns, from the whole history. */
function unitsOf(attempts: readonly IndexedAttempt[]): UnitRow[] {
  const counting = attempts.filter((it) => it.recordKind === "unit" && !it.draft);
  return [...new Set(counting.map(({ serial }) => serial))].sort().map((serial) => {
    const tests = counting.filter((it) => it.serial === serial);
    const valid = tests.filter(({ verdict }) => verdict !== "void");
    return {
      serial,
      first_sequence: valid[0]?.sequence ?? null,
      first_ended: valid[0]?.ended_at ?? null,
      first_form: valid[0]?.stored.form ?? null,
      first_parts: valid[0]?.stored.parts ?? null,
      last_sequence: valid.at(-1)?.sequence ?? null,
      last_form: valid.at(-1)?.stored.form ?? null,
      tests: tests.length,
      voids: tests.length - valid.length,
      retests: valid.filter(({ kind }) => kind === "retest").length,
      reworks: valid.filter(({ kind }) => kind === "after_rework").length,
    };
  });
}

function rows(folder: string): { units: unknown[]; attempts: unknown[] } {
  const database = new Database(join(folder, ".index.db"));
  const all = (sql: string) => database.prepare(sql).all();
  const found = {
    units: all("SELECT * FROM units ORDER BY serial"),
    attempts: all("SELECT sequence, duration_s, form FROM attempts ORDER BY sequence"),
  };
  database.close();
  return found;
}

function filled(folder: string, attempts: readonly IndexedAttempt[], atOnce: number): RecordIndex {
  const index = RecordIndex.open(folder);
  index.startAnew();
  for (let at = 0; at < attempts.length; at += atOnce) index.add(attempts.slice(at, at + atOnce));
  return index;
}

describe("the index's units", () => {
  it("are what all their tests come to, added one by one or many at once, and an audit agrees", () => {
    const folder = scratchFolder();
    fc.assert(
      fc.property(fc.array(tested, { maxLength: 40 }), fc.integer({ min: 1, max: 40 }), (history, atOnce) => {
        const attempts = attemptsOf(history);
        const index = filled(folder, attempts, atOnce);
        try {
          expect(rows(folder)).toEqual({
            units: unitsOf(attempts),
            attempts: attempts.map((it) => ({
              sequence: it.sequence,
              duration_s: it.duration_s,
              form: it.stored.form,
            })),
          });
          const audited = new AuditIndex(folder);
          expect([...audited.unitDifferences()].flat()).toEqual([]);
          audited.close();
        } finally {
          index.close();
        }
      }),
      { numRuns: 60 },
    );
  });

  it("are compared with the tests, and each one that differs, is missing or too many is named", () => {
    const folder = scratchFolder();
    const units = Array.from({ length: 3000 }, (_, unit) => ({ unit, verdict: "pass" as const }));
    const rest = { kind: "first" as const, what: "unit" as const, cavity: "T1" };
    filled(folder, attemptsOf(units.map((it) => ({ ...it, ...rest }))), 3000).close();
    renameSync(join(folder, ".index.db"), join(folder, "old"));
    copyFileSync(join(folder, "old"), join(folder, ".index.db"));
    const database = new Database(join(folder, ".index.db"));
    database.exec(`UPDATE units SET tests = 2, last_form = 7 WHERE serial = 'U17';
      DELETE FROM units WHERE serial = 'U999';
      INSERT INTO units VALUES ('A', NULL, NULL, NULL, NULL, NULL, NULL, 1, 1, 0, 0);
      INSERT INTO units VALUES ('Z', NULL, NULL, NULL, NULL, NULL, NULL, 1, 1, 0, 0);`);
    database.close();
    const audited = new AuditIndex(folder);
    expect([...audited.unitDifferences()].flat()).toEqual([
      { serial: "U17", columns: ["last_form", "tests"] },
      { serial: "A", columns: null },
      { serial: "U999", columns: null },
      { serial: "Z", columns: null },
    ]);
    audited.close();
  });

  it("answer a day by an index on when they were first inspected, without their table", () => {
    const folder = scratchFolder();
    RecordIndex.open(folder).close();
    const database = new Database(join(folder, ".index.db"));
    const plan = (sql: string) => JSON.stringify(database.prepare(`EXPLAIN QUERY PLAN ${sql}`).all());
    expect(
      plan("SELECT first_form, last_form, count(*) FROM units WHERE first_ended >= '2026' GROUP BY 1, 2"),
    ).toContain("USING COVERING INDEX units_first");
    expect(plan("SELECT form, count(*) FROM attempts WHERE ended >= '2026' GROUP BY form")).toContain(
      "USING COVERING INDEX attempts_ended",
    );
    database.close();
  });
});
