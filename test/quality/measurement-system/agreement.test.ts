import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { randomStream } from "../../../sim/random.ts";
import { agreement } from "../../../station/quality/measurement-system/agreement.ts";
import { agreementReport } from "../../../station/quality/measurement-system/agreement-report.ts";
import { type Rating, ratedUnits } from "../../../station/quality/measurement-system/rated-units.ts";
import { NoStudy } from "../../../station/quality/study-report.ts";
import { expectFinite } from "./finite-figures.ts";

interface Wrong {
  readonly appraiser: string;
  readonly units: readonly number[];
  /** In how many of the three trials. */
  readonly trials: number;
}

/** Units 1 to 48, every third bad, three trials each; right but for the given. */
function ratings(wrong: readonly Wrong[] = [], { appraisers = ["Ann", "Bo"], units = 48 } = {}): Rating[] {
  return Array.from({ length: units }, (_, k) => k + 1).flatMap((unit) =>
    appraisers.flatMap((appraiser) =>
      [1, 2, 3].map((trial) => {
        const reference = unit % 3 === 0 ? "fail" : "pass";
        const isWrong = wrong.some(
          (one) => one.appraiser === appraiser && one.units.includes(unit) && trial <= one.trials,
        );
        const rating = isWrong === (reference === "fail") ? "pass" : "fail";
        return { unit: String(unit), appraiser, trial: String(trial), rating, reference };
      }),
    ),
  );
}

function reportOf(given: readonly Rating[], bad?: readonly string[]) {
  const rated = ratedUnits(given);
  return agreementReport(rated, agreement(rated, bad));
}

function withoutReference(given: readonly Rating[]): Rating[] {
  return given.map(({ reference: _, ...rating }) => rating);
}

describe("an agreement study", () => {
  it("of appraisers who are always right says that they are fit", () => {
    const report = reportOf(ratings());
    expect(report.answer).toBe("yes");
    expect(report.figures).toMatchObject({
      bad: ["fail"],
      within: [
        { appraiser: "Ann", matched: 48, inspected: 48, kappa: 1 },
        { appraiser: "Bo", matched: 48, inspected: 48, kappa: 1 },
      ],
      reference: [{ effectiveness: 1, kappa: 1, miss_rate: 0, false_alarm_rate: 0 }, { effectiveness: 1 }],
    });
  });

  it("counts misses and false alarms by decision, effectiveness by unit", () => {
    // Bo passes two bad units in one trial each, and rejects one good unit in all three.
    const report = reportOf(
      ratings([
        { appraiser: "Bo", units: [3, 6], trials: 1 },
        { appraiser: "Bo", units: [1], trials: 3 },
      ]),
    );
    const [ann, bo] = report.figures.reference as Record<string, unknown>[];
    expect(ann).toMatchObject({ effectiveness: 1, miss_rate: 0, false_alarm_rate: 0 });
    expect(bo).toMatchObject({
      matched: 45,
      inspected: 48,
      miss_count: 2,
      miss_decisions: 48,
      false_alarm_count: 3,
      false_alarm_decisions: 96,
    });
    // Unit 1 was rated the same each time, though wrong.
    expect((report.figures.within as Record<string, unknown>[])[1]).toMatchObject({ matched: 46 });
    expect(report.figures.all_right).toMatchObject({ matched: 45 });
    expect(report.answer).toBe("marginal");
    expect(report.conclusion).toContain("Bo misses 4.17 % of the bad");
  });

  it.each([
    {
      of: "misses 3 of 48",
      wrong: [{ appraiser: "Bo", units: [3], trials: 3 }],
      says: "Bo misses 6.25 % of the bad",
    },
    {
      of: "rejects 12 of 96 good",
      wrong: [{ appraiser: "Ann", units: [1, 2, 4, 5], trials: 3 }],
      says: "Ann rejects 12.5 % of the good",
    },
    {
      of: "is wrong once at 10 of 48 units",
      wrong: [{ appraiser: "Bo", units: [1, 2, 4, 5, 7, 8, 10, 11, 13, 14], trials: 1 }],
      says: "Bo rates 79.2 % of the units right each time",
    },
  ])("calls an appraiser who $of not fit", ({ wrong, says }) => {
    const report = reportOf(ratings(wrong));
    expect(report.answer).toBe("no");
    expect(report.conclusion).toContain(says);
  });

  it("says of appraisers who agree without references that they may all be wrong", () => {
    const report = reportOf(withoutReference(ratings()));
    expect(report.answer).toBe("yes");
    expect(report.conclusion).toContain("can't be said without references");
    expect(report.figures).toMatchObject({ reference: [], all_right: null });
  });

  it("never says yes from fewer than 20 units", () => {
    expect(reportOf(ratings([], { units: 19 })).answer).toBe("none");
    expect(reportOf(ratings([], { units: 20 })).answer).toBe("yes");
  });

  it.each([
    { bad: 1, answer: "none", says: "of 1 bad unit only" },
    { bad: 4, answer: "none", says: "of 4 bad units only" },
    { bad: 5, answer: "yes", says: "with the references" },
    { bad: 43, answer: "yes", says: "with the references" },
    { bad: 44, answer: "none", says: "of 4 good units only" },
  ])(
    "never says yes from $bad bad units of 48 where these are too few of a kind",
    ({ bad, answer, says }) => {
      const given = ratings().map((rating) => {
        const reference = Number(rating.unit) <= bad ? "fail" : "pass";
        return { ...rating, rating: reference, reference };
      });
      const report = reportOf(given);
      expect(report.answer).toBe(answer);
      expect(report.conclusion).toContain(says);
    },
  );

  it("tells each of three categories against the others, and of two the kappa of both only", () => {
    const of = (kinds: readonly string[]) =>
      ratings().map((rating) => ({
        ...rating,
        rating: kinds[Number(rating.unit) % kinds.length] ?? "",
        reference: undefined,
      }));
    const named = (kinds: readonly string[]) =>
      agreement(ratedUnits(of(kinds))).between?.overall?.byCategory.map(({ category }) => category);
    expect(named(["crack", "fine", "scratch"])).toEqual(["crack", "fine", "scratch"]);
    expect(named(["crack", "fine"])).toEqual([]);
  });

  it("names four of what is wrong, and how many more there are", () => {
    const all = Array.from({ length: 48 }, (_, k) => k + 1);
    const wrong = ["Ann", "Bo"].map((appraiser) => ({ appraiser, units: all, trials: 3 }));
    // For each of two: effectiveness, misses, false alarms and kappa with the reference.
    expect(reportOf(ratings(wrong)).conclusion).toMatch(
      /^The ratings are not fit[^;]*(;[^;]*){3}; and 4 more\.$/,
    );
  });

  it("proves nothing by ratings that are all the same", () => {
    const report = reportOf(ratings().map((rating) => ({ ...rating, rating: "pass", reference: "pass" })));
    expect(report.answer).toBe("none");
    expect(report.figures.between).toMatchObject({ fleiss: { kappa: null }, pairs: [{ kappa: null }] });
    expectFinite(report);
  });

  it("takes one appraiser against himself and the reference, and has no pairs then", () => {
    const report = reportOf(ratings([], { appraisers: ["Ann"] }));
    expect(report.figures).toMatchObject({ between: null, kappa: 1, within: [{ appraiser: "Ann" }] });
    expect(report.notes.join()).toContain("One appraiser only");
    expect(report.answer).toBe("yes");
  });

  it("is refused where nothing can be compared", () => {
    const once = withoutReference(ratings([], { appraisers: ["Ann"] })).filter(({ trial }) => trial === "1");
    expect(() => reportOf(once)).toThrow("there is nothing to compare");
    expect(() => reportOf(ratings([], { units: 1 }))).toThrow("Agreement shows on many units");
    expect(() => reportOf([])).toThrow(NoStudy);
  });

  it("is refused where the ratings are measured values, or the appraisers are something else", () => {
    const values = ratings().map((rating, k) => ({
      ...rating,
      rating: String(k % 31),
      reference: undefined,
    }));
    expect(() => reportOf(values)).toThrow(
      "There are 31 different ratings, 30 at most make a study: agreement is of words like pass and fail.",
    );
    const serials = withoutReference(ratings()).map((rating, k) => ({ ...rating, appraiser: `S${k % 101}` }));
    expect(() => reportOf(serials)).toThrow("There are 101 appraisers, 100 at most");
  });

  it("tells how well each kappa is known, the ratings of one unit taken together", () => {
    const report = reportOf(ratings([{ appraiser: "Bo", units: [3, 6, 7], trials: 2 }]));
    const [pair] = (report.figures.between as { pairs: { kappa: number; kappa_CI95: number[] }[] }).pairs;
    const [lower = 9, upper = -9] = pair?.kappa_CI95 ?? [];
    expect(lower).toBeLessThan(pair?.kappa ?? -9);
    expect(upper).toBeGreaterThan(pair?.kappa ?? 9);
    expect(report.tables.at(-1)?.caption).toBe("How well kappa is known");
    expect(report.notes.join(" ")).toContain("Intervals of kappa: 95 %, for large samples");
    // Ann never errs, so that nothing scatters.
    const [ann] = report.figures.reference as Record<string, unknown>[];
    expect(ann).toMatchObject({ kappa: 1, kappa_CI95: null });
    expect(report.notes.join(" ")).toContain("go by that of the units");
  });

  it("leaves out where they count what is missing, and says so", () => {
    const given = ratings().filter(
      ({ unit, appraiser, trial }) => !(unit === "5" && appraiser === "Bo" && trial === "3"),
    );
    const some = given.map((rating) => (rating.unit === "7" ? { ...rating, reference: undefined } : rating));
    const report = reportOf(some);
    expect(report.figures.between).toMatchObject({ pairs: [{ n: 143 }], fleiss: { units: 47 } });
    expect(report.figures.reference).toMatchObject([
      { inspected: 47, n: 141 },
      { inspected: 47, n: 140 },
    ]);
    expect(report.notes.join(" ")).toContain("47 units that were rated 6 times");
    expect(report.notes.join(" ")).toContain("left out where it counts: 7.");
  });

  it("asks which rating rejects where it is not plain, and does not say yes without", () => {
    const named = (name: string) => (name === "fail" ? "crack" : "sound");
    const given = ratings().map((rating) => ({
      ...rating,
      rating: named(rating.rating),
      reference: named(rating.reference ?? ""),
    }));
    const report = reportOf(given);
    expect(report.answer).toBe("none");
    expect(report.notes.join()).toContain("say it with --bad");
    expect(reportOf(given, ["crack"])).toMatchObject({ answer: "yes", figures: { bad: ["crack"] } });
    expect(() => reportOf(given, ["cracked"])).toThrow(
      "No unit is rated cracked; the ratings are crack, sound.",
    );
  });

  it.each([
    { names: ["pass", "fail"], bad: ["fail"] },
    { names: ["1", "0"], bad: ["0"] },
    { names: ["OK", "scratch"], bad: ["scratch"] },
    { names: ["sound", "NG"], bad: ["NG"] },
  ])("knows that of $names the rating $bad rejects", ({ names, bad }) => {
    const named = (name: string | undefined) => names[name === "fail" ? 1 : 0] ?? "";
    const given = ratings().map((one) => ({
      ...one,
      rating: named(one.rating),
      reference: named(one.reference),
    }));
    expect(reportOf(given).figures.bad).toEqual(bad);
  });

  it("refuses a rating given twice, two references of a unit, and names that differ in capitals only", () => {
    const [first = { unit: "", appraiser: "", trial: "", rating: "" }, ...rest] = ratings();
    const again = { ...first, place: "line 9" };
    expect(() => reportOf([first, ...rest, again])).toThrow(
      "line 9: unit 1, appraiser Ann, trial 1 is there twice",
    );
    expect(() => reportOf([first, ...rest, { ...again, trial: "4", reference: "fail" }])).toThrow(
      "line 9: unit 1 has the reference fail here and pass before",
    );
    expect(() => reportOf([{ ...first, rating: "Pass" }, ...rest])).toThrow("differ in capitals only");
    expect(() => reportOf([{ ...first, appraiser: "ann" }, ...rest])).toThrow("differ in capitals only");
  });

  const anyRating = fc.record({
    unit: fc.constantFrom("1", "2", "3", "4"),
    appraiser: fc.constantFrom("A", "B", "C"),
    trial: fc.constantFrom("1", "2"),
    rating: fc.constantFrom("pass", "fail", "rework"),
  });

  it("gives finite figures or a refusal, whatever the ratings, and the same in any order", () => {
    let answered = 0;
    fc.assert(
      fc.property(
        fc.uniqueArray(anyRating, {
          maxLength: 24,
          selector: ({ unit, appraiser, trial }) => unit + appraiser + trial,
        }),
        fc.constantFrom(undefined, { 1: "pass", 2: "fail", 3: "pass" }, { 1: "pass" }),
        fc.integer(),
        (given, references: Readonly<Record<string, string>> | undefined, order) => {
          const all = given.map((rating) => ({ ...rating, reference: references?.[rating.unit] }));
          const random = randomStream(order, "order");
          const mixed = all
            .map((rating) => ({ rating, at: random.uniform() }))
            .sort((a, b) => a.at - b.at)
            .map(({ rating }) => rating);
          try {
            const report = reportOf(all);
            expectFinite(report);
            expect(reportOf(mixed)).toEqual(report);
            answered++;
          } catch (error) {
            if (!(error instanceof NoStudy)) throw error;
          }
        },
      ),
      { numRuns: 300 },
    );
    expect(answered).toBeGreaterThan(50);
  });
});
