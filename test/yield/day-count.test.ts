import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { type Doubts, doubtsOf, type HeldUnit, NO_DOUBTS } from "../../station/records/doubts.ts";
import type { AttemptSummary } from "../../station/records/index-db.ts";
import { dayCount, NOTHING_COUNTED } from "../../station/yield/day-count.ts";
import { summary } from "./example-summary.ts";

/** What holds of these attempts, never lifted, take away. */
function doubtsAbout(all: readonly AttemptSummary[], ...held: readonly AttemptSummary[]): Doubts {
  const untrusted = new Map<string, HeldUnit>(
    held.map(({ serial, attempt, sha256 }) => [sha256, { serial, attempt, traveller: sha256, holds: [] }]),
  );
  return doubtsOf({ untrusted, byHand: new Map(), scrapped: new Set() }, (serial) =>
    all.filter((one) => one.serial === serial),
  );
}

describe("a day's count", () => {
  it("is nothing before anything was tested", () => {
    expect(dayCount([], NO_DOUBTS)).toEqual(NOTHING_COUNTED);
  });

  it("has the first pass yield of ISO 22400-2: good at first by inspected, a unit once, whatever came later", () => {
    const count = dayCount(
      [
        summary({ serial: "A" }),
        summary({ serial: "B", verdict: "fail" }),
        summary({ serial: "B", attempt: 2 }),
        summary({ serial: "C", verdict: "void" }),
        summary({ serial: "C", attempt: 2, kind: "first" }),
        summary({ serial: "D", verdict: "void" }),
      ],
      NO_DOUBTS,
    );
    expect(count).toMatchObject({ tested: 6, pass: 3, fail: 1, void: 2, inspected: 3, firstPassed: 2 });
    expect(count.firstPassYield).toBeCloseTo(2 / 3, 12);
  });

  // Expected values: SciPy 1.10.1, scipy.stats.binomtest(10, 100).proportion_ci(0.95, "exact").
  it("says within which yields of the line so many good ones are to be expected, by Clopper and Pearson", () => {
    const attempts = Array.from({ length: 100 }, (_, i) => summary({ verdict: i < 10 ? "pass" : "fail" }));
    const { interval } = dayCount(attempts, NO_DOUBTS);
    expect(interval?.low).toBeCloseTo(0.04900468922148595, 10);
    expect(interval?.high).toBeCloseTo(0.17622259774017532, 10);
  });

  it("leaves out references and drafts", () => {
    const others = [
      summary({ recordKind: "reference", verdict: "fail" }),
      summary({ draft: true }),
      summary({ draft: true, verdict: "fail" }),
    ];
    expect(dayCount(others, NO_DOUBTS)).toEqual(NOTHING_COUNTED);
  });

  it("leaves a unit to the day on which it was first inspected, also when it passes on another", () => {
    const yesterday = [summary({ serial: "A", verdict: "fail" }), summary({ serial: "B", verdict: "void" })];
    const today = [
      summary({ serial: "A", attempt: 2 }),
      summary({ serial: "B", attempt: 2, kind: "first" }),
      summary({ serial: "A", attempt: 3, kind: "after_rework" }),
    ];
    expect(dayCount(yesterday, NO_DOUBTS)).toMatchObject({ inspected: 1, firstPassed: 0 });
    expect(dayCount(today, NO_DOUBTS)).toMatchObject({ tested: 3, pass: 3, inspected: 1, firstPassed: 1 });
  });

  it("tells failed units by cause and by first suspect, the most frequent first, a unit once for each", () => {
    const count = dayCount(
      [
        summary({ serial: "A", verdict: "fail", causes: ["leak rate"], suspect: "gasket pinched" }),
        summary({
          serial: "A",
          verdict: "fail",
          attempt: 2,
          causes: ["leak rate", "suction"],
          suspect: "lid",
        }),
        summary({ serial: "B", verdict: "fail", causes: ["suction"], suspect: "weak motor" }),
        summary({ serial: "C", verdict: "fail", causes: ["suction", "power"], suspect: "weak motor" }),
        summary({ serial: "D", verdict: "fail", causes: ["gross leak"] }),
      ],
      NO_DOUBTS,
    );
    expect([...count.causes]).toEqual([
      ["suction", 3],
      ["gross leak", 1],
      ["leak rate", 1],
      ["power", 1],
    ]);
    expect([...count.suspected]).toEqual([
      ["weak motor", 2],
      ["gasket pinched", 1],
    ]);
    expect(count.notSuspected).toBe(1);
  });

  it("shows the last five units, newest first, each by its newest test", () => {
    const attempts = ["A", "B", "C", "D", "E", "F"].map((serial) => summary({ serial }));
    const again = summary({ serial: "C", attempt: 2, verdict: "fail" });
    const { lastUnits } = dayCount([...attempts, again], NO_DOUBTS);
    expect(lastUnits.map(({ serial }) => serial)).toEqual(["C", "F", "E", "D", "B"]);
    expect(lastUnits[0]).toEqual({
      serial: "C",
      model: "demo-body",
      verdict: "fail",
      attempt: 2,
      at: "2026-01-05T06:00:30.000Z",
    });
  });
});

describe("a unit whose test is in doubt", () => {
  it("has neither passed nor failed, and is counted beside", () => {
    const [good, a, b] = [summary(), summary(), summary({ verdict: "fail", suspect: "lid" })];
    const all = [good, a, b];
    const count = dayCount(all, doubtsAbout(all, a, b));
    expect(count).toMatchObject({
      tested: 3,
      pass: 1,
      fail: 0,
      inspected: 1,
      firstPassed: 1,
      firstPassYield: 1,
      heldInDoubt: 2,
      notSuspected: 0,
    });
    expect(count.causes.size + count.suspected.size).toBe(0);
    expect(count.lastUnits.map(({ verdict }) => verdict)).toEqual(["doubt", "doubt", "pass"]);
  });

  it("has its first inspection in the test after the hold, on the day of that", () => {
    const held = [summary({ serial: "A" }), summary({ serial: "B" }), summary({ serial: "C" })];
    const again = [
      summary({ serial: "A", attempt: 2 }),
      summary({ serial: "B", attempt: 2, verdict: "fail" }),
      summary({ serial: "C", attempt: 2, kind: "after_rework" }),
    ];
    const doubts = doubtsAbout([...held, ...again], ...held);
    expect(dayCount(held, doubts)).toMatchObject({ tested: 3, pass: 0, inspected: 0, heldInDoubt: 0 });
    expect(dayCount(again, doubts)).toMatchObject({ inspected: 3, firstPassed: 1, fail: 1, pass: 2 });
    expect(dayCount([...held, ...again], doubts)).toMatchObject({ tested: 6, inspected: 3, firstPassed: 1 });
  });
});

describe("a unit that somebody holds", () => {
  it("is counted as it was found, stays no unit in doubt, and is told beside until it is released", () => {
    const [good, held, scrapped] = [
      summary({ serial: "A" }),
      summary({ serial: "B" }),
      summary({ serial: "C", verdict: "fail" }),
    ];
    const all = [good, held, scrapped];
    const heldByHand = new Map([["B", held.sha256]]);
    const count = dayCount(all, { ...NO_DOUBTS, heldByHand, scrapped: new Set(["C"]) });
    expect(count).toMatchObject({
      tested: 3,
      pass: 2,
      fail: 1,
      inspected: 3,
      firstPassed: 2,
      heldInDoubt: 0,
      heldByHand: 1,
    });
    expect(count.lastUnits.map(({ verdict }) => verdict)).toEqual(["scrapped", "held", "pass"]);
  });

  it("is held once, on the day of the test that was held, though it is in doubt, too", () => {
    const yesterday = summary({ serial: "A" });
    const today = summary({ serial: "A", attempt: 2 });
    const all = [yesterday, today];
    const doubts = { ...doubtsAbout(all, today), heldByHand: new Map([["A", yesterday.sha256]]) };
    expect(dayCount([yesterday], doubts)).toMatchObject({ heldByHand: 1, heldInDoubt: 0 });
    expect(dayCount([today], doubts)).toMatchObject({ heldByHand: 0, heldInDoubt: 0 });
    expect(dayCount(all, doubts)).toMatchObject({ heldByHand: 1, heldInDoubt: 0 });
  });
});

/** Units with up to four tests each; some tests are held. */
const line = fc
  .array(
    fc.array(
      fc.record({
        verdict: fc.constantFrom("pass" as const, "fail" as const, "void" as const),
        isHeld: fc.boolean(),
        day: fc.nat(2),
      }),
      { minLength: 1, maxLength: 4 },
    ),
    { maxLength: 12 },
  )
  .map((units) => {
    const attempts: AttemptSummary[] = [];
    const held: AttemptSummary[] = [];
    const days = new Map<AttemptSummary, number>();
    units.forEach((tests, unit) => {
      let hasCounted = false;
      tests.forEach(({ verdict, isHeld, day }, at) => {
        const kind = hasCounted ? "retest" : "first";
        const one = summary({
          serial: `U${unit}`,
          attempt: at + 1,
          kind,
          verdict,
          sequence: 100 * unit + at + 1,
        });
        hasCounted ||= verdict !== "void";
        attempts.push(one);
        days.set(
          one,
          Math.max(day, ...attempts.filter((it) => it.serial === one.serial).map((it) => days.get(it) ?? 0)),
        );
        if (isHeld && verdict !== "void") held.push(one);
      });
    });
    return { attempts, doubts: doubtsAbout(attempts, ...held), days };
  });

it("counts every unit once: inspected, in doubt or never validly tested, over all days together", () => {
  fc.assert(
    fc.property(line, ({ attempts, doubts, days }) => {
      const units = new Set(attempts.map(({ serial }) => serial));
      const whole = dayCount(attempts, doubts);
      const valid = new Set(
        attempts
          .filter(({ verdict, sha256 }) => verdict !== "void" && !doubts.untrusted.has(sha256))
          .map(({ serial }) => serial),
      );
      expect(whole.inspected).toBe(valid.size);
      expect(whole.firstPassed).toBeLessThanOrEqual(whole.inspected);
      expect(whole.inspected).toBeLessThanOrEqual(units.size);
      const parts = [0, 1, 2].map((day) =>
        dayCount(
          attempts.filter((one) => days.get(one) === day),
          doubts,
        ),
      );
      const sum = (of: "inspected" | "firstPassed" | "tested" | "pass" | "fail" | "void" | "heldInDoubt") =>
        parts.reduce((total, part) => total + part[of], 0);
      for (const of of ["inspected", "firstPassed", "tested", "pass", "fail", "void", "heldInDoubt"] as const)
        expect(sum(of), of).toBe(whole[of]);
    }),
  );
});

it("does not depend on the order in which independent units were tested, but for which were last", () => {
  fc.assert(
    fc.property(line, fc.func(fc.nat()), ({ attempts, doubts }, order) => {
      const shuffled = [...attempts].sort((a, b) => order(a.serial) - order(b.serial));
      const { lastUnits: _, ...counted } = dayCount(attempts, doubts);
      // Other sequence numbers too, so that the sort inside is not what brings the old order back.
      const renumbered = shuffled.map((one, at) => ({ ...one, sequence: at + 1 }));
      const { lastUnits: __, ...again } = dayCount(renumbered, doubts);
      expect({ ...again, causes: [...again.causes] }).toEqual({ ...counted, causes: [...counted.causes] });
      expect(dayCount(shuffled, doubts)).toEqual(dayCount(attempts, doubts));
    }),
  );
});
