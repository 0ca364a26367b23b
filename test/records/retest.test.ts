import fc from "fast-check";
import { describe, expect, it, test } from "vitest";
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
        recordKind: mark === "reference" ? "reference" : "unit",
        attempt: at + 1,
        kind: mark === "rework" ? "after_rework" : "first",
        verdict: verdict as PastAttempt["verdict"],
        draft: mark === "draft",
      };
    });
}

function says(next: NextAttempt): string {
  return next.allowed ? `${next.attempt} ${next.kind}` : next.code;
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
    expect(says(nextAttempt("A1", history("fail fail"), rule, { reworked: true }))).toBe("3 after_rework");
    expect(says(nextAttempt("A1", history("pass"), rule, { reworked: true }))).toBe("2 after_rework");
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

it("with no retest allowed refuses after the first fail, with none after a void after the first void", () => {
  const none = { afterFail: 0, afterVoid: 0 };
  expect(says(nextAttempt("A1", [], none))).toBe("1 first");
  expect(says(nextAttempt("A1", history("fail"), none))).toBe("ATTEMPTS_USED_UP");
  expect(says(nextAttempt("A1", history("void"), none))).toBe("VOIDS_USED_UP");
});

const past = fc.record({
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
