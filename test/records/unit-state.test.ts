import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { Disposition, type DispositionDraft, dispositionAt } from "../../station/records/disposition.ts";
import type { AttemptSummary } from "../../station/records/index-db.ts";
import { nextAttempt } from "../../station/records/retest.ts";
import { type UnitState, unitState } from "../../station/records/unit-state.ts";
import { summary } from "../yield/example-summary.ts";

const CHECK = "c".repeat(64);

/** "fail pass" and the like; a word may carry :draft or :reference. */
function tests(words: string): AttemptSummary[] {
  return words.split(" ").flatMap((word, at) => {
    const [verdict, mark] = word.split(":");
    if (verdict === "" || verdict === undefined) return [];
    return [
      summary({
        serial: "A1",
        sequence: at + 1,
        attempt: at + 1,
        verdict: verdict as AttemptSummary["verdict"],
        draft: mark === "draft",
        recordKind: mark === "reference" ? "reference" : "unit",
      }),
    ];
  });
}

/** "doubt 1 hold 1 accept 1" and the like, about attempts; a doubt is the station's hold; lifting names a disposition. */
function decisions(words: string, serial = "A1"): Disposition[] {
  const found = words.matchAll(/(doubt|hold|accept|rework|scrap) (\d+)(?: lifting (\d+))?/g);
  return [...found].map(([, word = "", number, lifted], at) => {
    const attempt = Number(number);
    const isStations = word === "doubt";
    const draft: DispositionDraft = {
      kind: isStations ? "hold" : (word as Disposition["kind"]),
      by: isStations ? { name: null, sign_in: "station" } : { name: "S. Ode", sign_in: "stated" },
      units: [{ serial, attempt, traveller: attempt.toString(16).padStart(64, "0") }],
      reason: {
        code: isStations ? "REFERENCE_FAILED" : "DECIDED",
        sentence: `Decision ${at + 1}.`,
      },
      ...(isStations ? { reference: CHECK } : {}),
      ...(lifted === undefined ? {} : { lifts: [Number(lifted)] }),
      ...(word === "rework" ? { rework: { cause: "gasket", action: "replaced" } } : {}),
    };
    return Disposition.parse({
      ...dispositionAt(draft, Date.UTC(2026, 0, 5, 7, at)),
      chain: { sequence: at + 1, previous: at === 0 ? null : "d".repeat(64) },
    });
  });
}

function stateAfter(past: string, decided: string): UnitState["state"] {
  return unitState({ serial: "A1", attempts: tests(past), dispositions: decisions(decided) }).state;
}

describe("a unit is", () => {
  it.each<[string, string, UnitState["state"]]>([
    ["", "", "none"],
    ["pass:draft", "", "none"],
    ["pass:reference", "", "none"],
    ["pass", "", "good"],
    ["fail", "", "failed"],
    ["fail pass", "", "good"],
    ["fail void", "", "failed"],
    ["void", "", "void"],
    ["fail pass:draft", "", "failed"],
    // The station's hold: a later valid test makes up for it, a void one and a draft don't.
    ["pass", "doubt 1", "in_doubt"],
    ["fail", "doubt 1", "in_doubt"],
    ["pass void", "doubt 1", "in_doubt"],
    ["pass pass:draft", "doubt 1", "in_doubt"],
    ["pass pass", "doubt 1", "good"],
    ["pass fail", "doubt 1", "failed"],
    ["pass", "doubt 1 accept 1", "good"],
    ["pass", "doubt 1 accept 1 doubt 1", "in_doubt"],
    // Somebody's: nothing that is measured ends it.
    ["pass", "hold 1", "held"],
    ["pass pass", "hold 1", "held"],
    ["fail pass", "hold 1", "held"],
    ["pass pass", "hold 1 accept 1", "good"],
    ["pass", "hold 1 hold 1 accept 1", "good"],
    ["pass", "hold 1 hold 1 accept 1 lifting 1", "held"],
    // Each kind is lifted by itself.
    ["pass", "doubt 1 hold 1", "held"],
    ["pass", "doubt 1 hold 1 accept 1 lifting 2", "in_doubt"],
    ["pass", "doubt 1 hold 1 accept 1 lifting 1", "held"],
    ["fail", "rework 1", "reworked"],
    ["fail void", "rework 1", "reworked"],
    ["fail pass", "rework 1", "good"],
    ["fail fail", "rework 1", "failed"],
    ["pass", "hold 1 rework 1", "held"],
    ["pass", "hold 1 rework 1 accept 1", "reworked"],
    ["pass pass", "hold 1 rework 1 accept 1", "good"],
    ["void", "rework 1", "reworked"],
    ["pass", "scrap 1", "scrapped"],
    ["pass pass", "scrap 1 accept 1", "scrapped"],
    ["fail", "hold 1 scrap 1", "scrapped"],
  ])("after '%s' with '%s' %s", (past, decided, state) => {
    expect(stateAfter(past, decided)).toBe(state);
  });

  it.each([
    ["hold 1", 0],
    ["hold 1 hold 1 hold 2", 2],
    ["hold 1 hold 1 accept 1 lifting 1", 0],
    // The station's stands beside them only while it is about the newest valid test.
    ["doubt 2 hold 2", 1],
    ["doubt 1 hold 2", 0],
  ])("kept by more holds than the one that is told: '%s'", (decided, others) => {
    const unit = { serial: "A1", attempts: tests("pass pass"), dispositions: decisions(decided) };
    expect(unitState(unit)).toMatchObject({ state: "held", other_holds: others });
  });

  it("what the newest decision or test says, with its time, its person and its reason", () => {
    const attempts = tests("fail pass");
    expect(unitState({ serial: "A1", attempts, dispositions: decisions("hold 1 hold 2") })).toEqual({
      state: "held",
      since: "2026-01-05T07:01:00.000Z",
      by: "S. Ode",
      reason: "Decision 2.",
      attempt: 2,
      other_holds: 1,
    });
    expect(unitState({ serial: "A1", attempts, dispositions: decisions("doubt 2") })).toMatchObject({
      state: "in_doubt",
      by: null,
      reason: "Decision 1.",
      attempt: 2,
    });
    expect(unitState({ serial: "A1", attempts: tests("fail"), dispositions: [] })).toEqual({
      state: "failed",
      since: "2026-01-05T06:00:30.000Z",
      by: null,
      reason: "leak rate",
      attempt: 1,
      other_holds: 0,
    });
  });

  it("none of another unit's business", () => {
    const dispositions = decisions("scrap 1 hold 1 doubt 1", "A2").map((it) => ({
      ...it,
      units: it.units.map((unit) => ({ ...unit, traveller: "e".repeat(64) })),
    }));
    expect(unitState({ serial: "A1", attempts: tests("pass"), dispositions }).state).toBe("good");
  });
});

const happening = fc.constantFrom("pass", "fail", "void", "doubt", "hold", "accept", "rework", "scrap");

it("is good only where its newest valid test passed, nobody holds it, and the station asks for no other test", () => {
  fc.assert(
    fc.property(fc.array(happening, { maxLength: 16 }), (happenings) => {
      const past: string[] = [];
      let decided = "";
      for (const what of happenings) {
        if (["pass", "fail", "void"].includes(what)) past.push(what);
        else if (what === "doubt") {
          // The station holds the newest valid test, and nothing else.
          const valid = past.findLastIndex((it) => it !== "void");
          if (valid >= 0) decided += ` doubt ${valid + 1}`;
        } else if (past.length > 0) decided += ` ${what} ${past.length}`;
      }
      const attempts = tests(past.join(" "));
      const dispositions = decisions(decided);
      const { state } = unitState({ serial: "A1", attempts, dispositions });
      const next = nextAttempt("A1", attempts, { afterFail: 9, afterVoid: 9 }, { dispositions });
      if (state === "good") {
        expect(past.findLast((it) => it !== "void")).toBe("pass");
        expect(next).toMatchObject({ allowed: false, code: "ALREADY_PASSED" });
        expect(decided).not.toContain("scrap");
      }
      if (state === "held") expect(next).toMatchObject({ code: "HELD" });
      if (state === "scrapped") expect(next).toMatchObject({ code: "SCRAPPED" });
      // Unit and station agree: what the station sends on as passed is good.
      if (!next.allowed && next.code === "ALREADY_PASSED") expect(state).toBe("good");
    }),
    { numRuns: 1000 },
  );
});
