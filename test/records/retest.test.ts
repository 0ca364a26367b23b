import fc from "fast-check";
import { describe, expect, it, test } from "vitest";
import { Disposition, type DispositionDraft, dispositionAt } from "../../station/records/disposition.ts";
import { type NextAttempt, nextAttempt, type PastAttempt } from "../../station/records/retest.ts";

const rule = { afterFail: 1, afterVoid: 2 };

/** "fail void pass" and the like; a word may carry :draft, :reference or :rework. */
function history(words: string): PastAttempt[] {
  return words
    .split(" ")
    .filter((word) => word !== "")
    .map((word, at) => {
      const [verdict, mark] = word.split(":");
      return {
        sha256: sha(at + 1),
        recordKind: mark === "reference" ? "reference" : "unit",
        attempt: at + 1,
        kind: mark === "rework" ? "after_rework" : "first",
        verdict: verdict as PastAttempt["verdict"],
        draft: mark === "draft",
      };
    });
}

/** Of the traveller of this attempt. */
function sha(attempt: number): string {
  return String(attempt).padStart(64, "0");
}

const CHECK = "c".repeat(64);

/** "hold 1 accept 1" and the like; a hold is the station's, a "seize" somebody's. */
function decisions(words: string): Disposition[] {
  return [...words.matchAll(/(hold|seize|accept|rework|scrap) (\d+)(?: lifting (\d+))?/g)].map(
    ([, word, number, lifted], at) => {
      const attempt = Number(number);
      const draft: DispositionDraft = {
        kind: word === "seize" ? "hold" : (word as Disposition["kind"]),
        by:
          word === "hold"
            ? { name: null, sign_in: "station" }
            : { name: "S. Ode", sign_in: "pin", role: "supervisor" },
        units: [{ serial: "A1", attempt, traveller: sha(attempt) }],
        reason: {
          code: word === "hold" ? "REFERENCE_FAILED" : "DECIDED",
          sentence: "The gasket's lot is doubtful.",
        },
        ...(word === "hold" ? { reference: CHECK } : {}),
        ...(lifted === undefined ? {} : { lifts: [Number(lifted)] }),
        ...(word === "rework" ? { rework: { cause: "gasket", action: "replaced" } } : {}),
      };
      return Disposition.parse({
        ...dispositionAt(draft, Date.UTC(2026, 0, 5, 7)),
        chain: { sequence: at + 1, previous: at === 0 ? null : "d".repeat(64) },
      });
    },
  );
}

function says(next: NextAttempt): string {
  return next.allowed ? `${next.attempt} ${next.kind}` : next.code;
}

function saysAfter(past: string, dispositions: string): string {
  return says(nextAttempt("A1", history(past), rule, { dispositions: decisions(dispositions) }));
}

describe("with one retest after a fail and two repeats after voids", () => {
  test.each([
    ["", "1 first"],
    ["fail", "2 retest"],
    ["fail fail", "ATTEMPTS_USED_UP"],
    ["pass", "ALREADY_PASSED"],
    ["fail pass", "ALREADY_PASSED"],
    ["void", "2 first"],
    ["void void", "3 first"],
    ["void void void", "VOIDS_USED_UP"],
    ["fail void", "3 retest"],
    ["void fail void", "4 retest"],
    ["void void fail", "4 retest"],
    ["void fail void void", "VOIDS_USED_UP"],
    ["fail void fail", "ATTEMPTS_USED_UP"],
    ["pass:draft", "2 first"],
    ["fail:draft fail:draft", "3 first"],
    ["void:draft void:draft void:draft", "4 first"],
    ["pass:reference fail:reference", "3 first"],
    ["fail fail pass:rework", "ALREADY_PASSED"],
    ["fail fail fail:rework", "4 retest"],
    ["fail fail void:rework", "4 after_rework"],
    ["fail fail void:rework void:rework", "5 after_rework"],
    ["fail fail void:rework void:rework void:rework", "VOIDS_USED_UP"],
    ["fail fail fail:rework fail", "ATTEMPTS_USED_UP"],
  ])("after '%s' comes %s", (past, next) => {
    expect(says(nextAttempt("A1", history(past), rule))).toBe(next);
  });

  it("allows an attempt after rework whatever was before", () => {
    expect(saysAfter("fail fail", "rework 2")).toBe("3 after_rework");
    expect(saysAfter("pass", "rework 1")).toBe("2 after_rework");
  });

  it("never refuses an attempt on a draft limit file", () => {
    expect(says(nextAttempt("A1", history("fail fail"), rule, { draft: true }))).toBe("3 retest");
  });

  it("tells the inspector what to do with the unit", () => {
    expect(nextAttempt("A1", history("fail fail"), rule)).toMatchObject({
      sentence: "Unit A1 has failed twice and may not be tested again: send it to rework or scrap it.",
    });
  });
});

describe("what was decided about a unit moves the retest rule", () => {
  test.each([
    ["fail fail", "", "ATTEMPTS_USED_UP"],
    ["fail fail", "rework 2", "3 after_rework"],
    ["fail fail void", "rework 2", "4 after_rework"],
    ["fail fail fail:rework", "rework 2", "4 retest"],
    ["fail fail fail:rework fail", "rework 2", "ATTEMPTS_USED_UP"],
    ["fail fail fail:rework fail", "rework 2 rework 2", "ATTEMPTS_USED_UP"],
    ["fail fail fail:rework fail", "rework 2 rework 4", "5 after_rework"],
    ["void void void", "rework 3", "4 after_rework"],
    // A rework of an attempt that others have followed since begins no earlier than it says.
    ["fail fail", "rework 1", "3 retest"],
    // The station's hold after a failed reference check: what was measured before it proves nothing.
    ["pass", "hold 1", "2 retest"],
    ["fail fail", "hold 2", "3 retest"],
    ["pass void", "hold 1", "3 retest"],
    ["pass void void void", "hold 1", "VOIDS_USED_UP"],
    ["pass fail", "hold 1", "3 retest"],
    ["pass fail fail", "hold 1", "ATTEMPTS_USED_UP"],
    ["pass pass", "hold 1", "ALREADY_PASSED"],
    ["pass", "hold 1 hold 1", "2 retest"],
    // Lifted, it brings back what was found: a release makes no pass of a fail.
    ["pass", "hold 1 accept 1", "ALREADY_PASSED"],
    ["pass void", "hold 1 accept 1", "ALREADY_PASSED"],
    ["fail fail", "hold 2 accept 2", "ATTEMPTS_USED_UP"],
    ["fail", "accept 1", "2 retest"],
    ["pass", "hold 1 accept 1 hold 1", "2 retest"],
    // Released although it has failed meanwhile: the pass is not what was found last.
    ["pass fail", "hold 1 accept 1", "3 retest"],
    ["pass fail void", "hold 1 accept 1", "4 retest"],
    ["pass fail fail", "hold 1 accept 1", "ATTEMPTS_USED_UP"],
    ["pass fail fail", "hold 1 accept 1 rework 3", "4 after_rework"],
    ["pass fail pass", "hold 1 accept 1", "ALREADY_PASSED"],
    // Reworked while it was in doubt: it is not the body that was measured any more.
    ["fail", "hold 1 rework 1", "2 after_rework"],
    ["fail", "rework 1 hold 1", "2 after_rework"],
    ["fail pass:rework", "rework 1 hold 2", "3 retest"],
    // Somebody's hold stands until it is lifted; scrap stands for ever.
    ["pass", "seize 1", "HELD"],
    ["fail", "seize 1", "HELD"],
    ["fail void", "seize 1", "HELD"],
    ["fail", "hold 1 seize 1", "HELD"],
    // Tested when it was held: what was found is one thing, the hold another.
    ["pass fail", "seize 1", "HELD"],
    ["pass pass", "hold 1 seize 1", "HELD"],
    ["pass pass", "hold 1 seize 1 accept 1", "ALREADY_PASSED"],
    // A release that names the holds it lifts leaves the others as they are.
    ["pass", "seize 1 seize 1 accept 1 lifting 1", "HELD"],
    ["pass", "seize 1 seize 1 accept 1 lifting 1 accept 1 lifting 2", "ALREADY_PASSED"],
    ["pass", "hold 1 seize 1 accept 1 lifting 1", "HELD"],
    ["pass", "hold 1 seize 1 accept 1 lifting 2", "2 retest"],
    ["fail", "seize 1 accept 1", "2 retest"],
    ["fail", "seize 1 rework 1", "HELD"],
    ["fail", "scrap 1", "SCRAPPED"],
    ["fail", "scrap 1 rework 1 accept 1", "SCRAPPED"],
    ["fail", "rework 1 scrap 1", "SCRAPPED"],
  ])("after '%s' with '%s' comes %s", (past, dispositions, next) => {
    expect(saysAfter(past, dispositions)).toBe(next);
  });

  it("asks nobody why a unit is tested again that a failed reference check has put in doubt", () => {
    const next = (past: string, words: string) =>
      nextAttempt("A1", history(past), rule, { dispositions: decisions(words) });
    expect(next("pass", "hold 1")).toMatchObject({ isAfterHold: true });
    expect(next("pass void", "hold 1")).toMatchObject({ isAfterHold: true });
    expect(next("pass fail", "hold 1")).toMatchObject({ kind: "retest", isAfterHold: false });
    expect(next("fail", "")).toMatchObject({ kind: "retest", isAfterHold: false });
  });

  it("says who holds a unit and why, and that a scrapped one has no business on the line", () => {
    const dispositions = decisions("seize 1");
    expect(nextAttempt("A1", history("pass"), rule, { dispositions })).toMatchObject({
      sentence:
        "Unit A1 was put on hold by S. Ode (The gasket's lot is doubtful): put it aside until a supervisor has released it.",
    });
    expect(nextAttempt("A1", history("pass"), rule, { dispositions: decisions("scrap 1") })).toMatchObject({
      sentence: "Unit A1 was scrapped: take it off the line.",
    });
  });

  it("is another unit's business where another unit's traveller is named", () => {
    const elsewhere = decisions("rework 2 hold 2").map((one) => ({
      ...one,
      units: [{ serial: "A1", attempt: 2, traveller: "e".repeat(64) }],
    }));
    expect(says(nextAttempt("A1", history("fail fail"), rule, { dispositions: elsewhere }))).toBe(
      "ATTEMPTS_USED_UP",
    );
  });
});

it("with no retest allowed refuses after the first fail, with none after a void after the first void", () => {
  const none = { afterFail: 0, afterVoid: 0 };
  expect(says(nextAttempt("A1", [], none))).toBe("1 first");
  expect(says(nextAttempt("A1", history("fail"), none))).toBe("ATTEMPTS_USED_UP");
  expect(says(nextAttempt("A1", history("void"), none))).toBe("VOIDS_USED_UP");
});

const past = fc.record({
  sha256: fc.stringMatching(/^[0-9a-f]{64}$/),
  recordKind: fc.constantFrom("unit" as const, "reference" as const),
  attempt: fc.integer({ min: 1, max: 50 }),
  kind: fc.constant("first" as const),
  verdict: fc.constantFrom("pass" as const, "fail" as const, "void" as const),
  draft: fc.boolean(),
});
const pastList = fc.uniqueArray(past, { selector: ({ attempt }) => attempt });

it("never gives a number twice, whatever the history", () => {
  fc.assert(
    fc.property(pastList, fc.boolean(), (list, draft) => {
      const next = nextAttempt("A1", list, rule, { draft });
      if (next.allowed) for (const { attempt } of list) expect(next.attempt).toBeGreaterThan(attempt);
    }),
  );
});

it("is not moved by draft and reference attempts, nor by the order they are listed in", () => {
  fc.assert(
    fc.property(pastList, (list) => {
      const counted = list.filter((one) => one.recordKind === "unit" && !one.draft);
      const with_ = nextAttempt("A1", list, rule);
      const without = nextAttempt("A1", [...counted].reverse(), rule);
      expect({ ...with_, attempt: 0 }).toEqual({ ...without, attempt: 0 });
    }),
  );
});

it("allows exactly afterFail + 1 counted fails of a unit that is never void", () => {
  fc.assert(
    fc.property(fc.nat(6), (afterFail) => {
      const list: PastAttempt[] = [];
      for (;;) {
        const next = nextAttempt("A1", list, { afterFail, afterVoid: 0 });
        if (!next.allowed) break;
        list.push({
          sha256: sha(next.attempt),
          recordKind: "unit",
          attempt: next.attempt,
          kind: next.kind,
          verdict: "fail",
          draft: false,
        });
      }
      expect(list).toHaveLength(afterFail + 1);
    }),
  );
});

it("says of no unit that it has passed whose newest valid test failed, whatever was held or released before", () => {
  const decided = fc.tuple(fc.constantFrom("hold", "accept", "rework"), fc.integer({ min: 1, max: 8 }));
  fc.assert(
    fc.property(
      fc.array(fc.constantFrom("pass", "fail", "void"), { maxLength: 8 }),
      fc.array(decided, { maxLength: 8 }),
      (verdicts, words) => {
        const said = saysAfter(verdicts.join(" "), words.map(([kind, at]) => `${kind} ${at}`).join(" "));
        if (verdicts.findLast((it) => it !== "void") !== "pass") expect(said).not.toBe("ALREADY_PASSED");
      },
    ),
    { numRuns: 500 },
  );
});

/** What may happen to a unit next: a test with this end, or a decision about its newest attempt. */
const happening = fc.constantFrom("pass", "fail", "void", "hold", "seize", "accept", "rework");

it("never allows more tests than the rule does from the first scan, and from each rework and each hold", () => {
  fc.assert(
    fc.property(
      fc.array(happening, { maxLength: 40 }),
      fc.nat(2),
      fc.nat(2),
      (happenings, afterFail, afterVoid) => {
        const list: PastAttempt[] = [];
        let words = "";
        // Of the attempts since the last new beginning; a new one can begin only where there is one to name.
        let since = { pass: 0, fail: 0, void: 0 };
        let beginnings = 0;
        for (const what of happenings) {
          const newest = list.at(-1);
          if (what === "pass" || what === "fail" || what === "void") {
            const dispositions = decisions(words);
            const next = nextAttempt("A1", list, { afterFail, afterVoid }, { dispositions });
            if (!next.allowed) continue;
            expect(next.attempt).toBe(list.length + 1);
            since[what]++;
            list.push({
              sha256: sha(next.attempt),
              recordKind: "unit",
              attempt: next.attempt,
              kind: next.kind,
              verdict: what,
              draft: false,
            });
          } else if (newest) {
            words += ` ${what} ${newest.attempt}`;
            if (what !== "hold" && what !== "rework") continue;
            beginnings++;
            since = { pass: 0, fail: 0, void: 0 };
          }
          expect(since.fail).toBeLessThanOrEqual(afterFail + 1);
          expect(since.pass).toBeLessThanOrEqual(1);
        }
        const count = (verdict: PastAttempt["verdict"]) =>
          list.filter((past) => past.verdict === verdict).length;
        expect(count("fail")).toBeLessThanOrEqual((beginnings + 1) * (afterFail + 1));
        expect(count("void")).toBeLessThanOrEqual((beginnings + 1) * (afterVoid + 1));
        expect(count("pass")).toBeLessThanOrEqual(beginnings + 1);
      },
    ),
    { numRuns: 500 },
  );
});
