import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { canonicalText } from "../../station/records/chain.ts";
import { type IndexedAttempt, RecordIndex } from "../../station/records/index-db.ts";
import { connectToRead } from "../../station/records/index-file.ts";
import { indexedAttempt } from "../../station/records/indexed-attempt.ts";
import { formNumber, type StoredForm } from "../../station/records/stored-values.ts";
import { TestSections } from "../../station/yield-data/test-sections.ts";
import { test } from "../records/held-units.ts";
import { close, open } from "../records/running-store.ts";
import { scratchFolder } from "../records/scratch-folder.ts";

const READING = { measured: 15.2, certified: 15, tolerance: 2, unit: "mL/min" };
const HOUR_MS = 3_600_000;
const BEGIN_MS = Date.UTC(2026, 0, 5);

const anyTest = fc.record({
  recordKind: fc.constantFrom("unit", "unit", "unit", "reference"),
  draft: fc.constantFrom(false, false, false, true),
  verdict: fc.constantFrom("pass", "pass", "fail", "void"),
  model: fc.constantFrom("POD-4", "TUB-12"),
  station: fc.constantFrom("line 1", "line 2"),
  revision: fc.constantFrom(3, 4),
  hour: fc.integer({ min: 0, max: 23 }),
  duration_s: fc.option(
    fc.integer({ min: 100, max: 130 }).map((tenths) => tenths / 10),
    { freq: 9 },
  ),
});
type AnyTest = typeof anyTest extends fc.Arbitrary<infer T> ? T : never;

function formOf(
  { recordKind, draft, verdict, model, station, revision }: AnyTest,
  example: StoredForm,
): StoredForm {
  const limitFile = { revision, sha256: "a".repeat(64) };
  return { ...example, recordKind, draft, verdict, model, station, limitFile };
}

const asTest = (it: AnyTest, k: number, example: StoredForm) => ({
  form: formOf(it, example),
  serial: it.recordKind === "unit" ? `U${k}` : `REF-${it.model}`,
  at: new Date(BEGIN_MS + it.hour * HOUR_MS).toISOString(),
  duration_s: it.duration_s,
  // So that it shows which one is the last.
  reference: it.recordKind === "reference" ? { ...READING, measured: k } : null,
});

describe("what tests say of the station", () => {
  it("comes out the same from the index, from travellers, and from both, whatever is left out and asked for", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    const { traveller, sha256 } = await test(store, "A");
    const example = indexedAttempt(traveller, sha256, "x");
    await close(store);
    const exampleForm = JSON.parse(example.stored.formText) as StoredForm;
    const index = RecordIndex.open(folder);
    const asked = fc.record({
      from: fc.option(
        fc.integer({ min: 0, max: 23 }).map((hour) => new Date(BEGIN_MS + hour * HOUR_MS).toISOString()),
      ),
      until: fc.option(
        fc.integer({ min: 0, max: 24 }).map((hour) => new Date(BEGIN_MS + hour * HOUR_MS).toISOString()),
      ),
      model: fc.option(fc.constant("POD-4")),
      station: fc.option(fc.constant("line 1")),
    });
    fc.assert(
      fc.property(
        fc.array(anyTest, { maxLength: 60 }),
        asked,
        fc.nat(60),
        fc.array(fc.nat(60)),
        (all, question, upTo, left) => {
          index.startAnew();
          const tests = all.map((it, k) => asTest(it, k, exampleForm));
          index.add(tests.slice(0, upTo).map((it, k) => rowOf(it, k, example)));
          const database = connectToRead(folder);
          if (!database) throw new Error("no index");
          const leftOut = left.filter((sequence) => sequence <= upTo);
          const forms = new Map(tests.map(({ form }) => [formNumber(canonicalText(form)), form]));
          const later = tests.slice(upTo);
          const both = new TestSections(question);
          for (const it of later) both.add(it);
          const [from, until] = [question.from ?? "", question.until ?? "~"];
          const noon = new Date(BEGIN_MS + 12 * HOUR_MS).toISOString();
          const isCut = from < noon && noon < until;
          const times: [string, string][] = isCut
            ? [
                [from, noon],
                [noon, until],
              ]
            : [[from, until]];
          both.addIndexed({ database, forms, leftOut, times });
          for (const [k, { form, at }] of tests.slice(0, upTo).entries()) {
            const isInside =
              at >= (question.from ?? at) && !(question.until !== null && at >= question.until);
            if (isInside && !leftOut.includes(k + 1))
              both.addAlike({ form, tests: 1, first_at: at, last_at: at });
          }
          database.close();
          const alone = new TestSections(question);
          const kept = tests.filter((_, k) => k >= upTo || !leftOut.includes(k + 1));
          for (const it of kept) alone.add(it);
          expect(both.figures()).toEqual(alone.figures());

          const met = kept.filter(({ at, form }) => {
            const isInTime =
              (question.from === null || at >= question.from) &&
              (question.until === null || at < question.until);
            const isMeant =
              (question.model ?? form.model) === form.model &&
              (question.station ?? form.station) === form.station;
            return isInTime && isMeant && !form.draft;
          });
          const units = met.filter(({ form }) => form.recordKind === "unit");
          const timed = units.filter(
            ({ form, duration_s }) => form.verdict !== "void" && duration_s !== null,
          );
          const checks = met.filter(({ form }) => form.recordKind === "reference" && form.verdict !== "void");
          const { cycleTime, limitRevisions, referenceChecks } = alone.figures();
          expect(cycleTime?.tests ?? 0).toBe(timed.length);
          expect(limitRevisions.reduce((sum, it) => sum + it.tests, 0)).toBe(units.length);
          expect(referenceChecks.reduce((sum, it) => sum + it.passed + it.failed, 0)).toBe(checks.length);
          const newest = Math.max(-1, ...referenceChecks.map(({ last }) => last?.measured ?? -1));
          expect(newest).toBe(checks.at(-1)?.reference?.measured ?? -1);
        },
      ),
      { numRuns: 60 },
    );
    index.close();
  });
});

function rowOf(it: ReturnType<typeof asTest>, k: number, example: IndexedAttempt): IndexedAttempt {
  const { form, serial, at, duration_s, reference } = it;
  const formText = canonicalText(form);
  return {
    ...example,
    sequence: k + 1,
    ...{ id: `${k}`, path: `${k}`, sha256: `${k}`, attempt: k + 1 },
    ...{ serial, duration_s, reference },
    recordKind: form.recordKind,
    model: form.model,
    draft: form.draft,
    verdict: form.verdict,
    started_at: at,
    ended_at: duration_s === null ? null : at,
    stored: { ...example.stored, form: formNumber(formText), formText },
  };
}
