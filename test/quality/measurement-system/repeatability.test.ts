import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { randomStream } from "../../../sim/random.ts";
import {
  type CrossedOptions,
  crossedStudy,
  type GaugeReading,
} from "../../../station/quality/measurement-system/crossed-study.ts";
import {
  type Repeatability,
  type RepeatabilityOptions,
  repeatability,
} from "../../../station/quality/measurement-system/repeatability.ts";
import { repeatabilityReport } from "../../../station/quality/measurement-system/repeatability-report.ts";
import { NoStudy, type StudyReport } from "../../../station/quality/study-report.ts";
import { aiagReadings } from "./aiag-gauge-data.ts";
import { type DrawnDesign, drawnReadings } from "./drawn-readings.ts";
import { expectFinite } from "./finite-figures.ts";

function reportOf(
  readings: readonly GaugeReading[],
  options: RepeatabilityOptions = { method: "anova" },
  crossed: CrossedOptions = {},
): StudyReport {
  const study = crossedStudy(readings, crossed);
  return repeatabilityReport(study, repeatability(study, options), options);
}

const METHODS = ["anova", "range"] as const;

describe("what a gauge study says", () => {
  it.each([
    { tolerance: 100, answer: "yes" },
    { tolerance: 10, answer: "marginal" },
    { tolerance: 4, answer: "no" },
  ])(
    "goes by the part of a tolerance of $tolerance that the gauge's spread takes",
    ({ tolerance, answer }) => {
      const report = reportOf(aiagReadings(), { method: "anova", tolerance: { width: tolerance } });
      expect(report.answer).toBe(answer);
      expect(report.figures.pct_tolerance_GRR).toBeCloseTo((600 * 0.3023715223) / tolerance, 7);
    },
  );

  it("goes by the study variation without a tolerance", () => {
    expect(reportOf(aiagReadings())).toMatchObject({
      answer: "marginal",
      conclusion:
        "The gauge's own spread is 27.86 % of the study variation: it may do, by use and by what a better one costs. It tells 4 classes of parts apart; to follow the process, 5 or more are wanted.",
    });
  });

  it.each([
    { parts: 10, appraisers: 2, trials: 2, answer: "yes" },
    { parts: 10, appraisers: 1, trials: 3, answer: "yes" },
    { parts: 4, appraisers: 3, trials: 3, answer: "none" },
    { parts: 5, appraisers: 3, trials: 2, answer: "none" },
    { parts: 2, appraisers: 2, trials: 2, answer: "none" },
  ])(
    "never says yes from too few values: $parts parts, $appraisers, $trials is $answer",
    ({ answer, ...size }) => {
      const design = { ...size, appraiser: 0.01, repeatability: 0.01 };
      expect(reportOf(drawnReadings(randomStream(3, "good"), design)).answer).toBe(answer);
      const bad = reportOf(drawnReadings(randomStream(3, "bad"), { ...design, repeatability: 5 }));
      expect(bad.answer).toBe("no");
    },
  );

  it("takes limits for their distance, and a single one for its distance from the mean", () => {
    const both = reportOf(aiagReadings(), { method: "range", tolerance: { lower: -5, upper: 5 } });
    const width = reportOf(aiagReadings(), { method: "range", tolerance: { width: 10 } });
    expect(both.figures.pct_tolerance_GRR).toBe(width.figures.pct_tolerance_GRR);
    const mean = aiagReadings().reduce((sum, { value }) => sum + value, 0) / 90;
    const upper = reportOf(aiagReadings(), { method: "range", tolerance: { upper: mean + 5 } });
    expect(upper.figures.pct_tolerance_GRR).toBeCloseTo(Number(width.figures.pct_tolerance_GRR), 10);
    const lower = reportOf(aiagReadings(), { method: "range", tolerance: { lower: mean - 5 } });
    expect(lower.figures.pct_tolerance_GRR).toBeCloseTo(Number(width.figures.pct_tolerance_GRR), 10);
    expect(upper.notes.join()).toContain("single limit");
  });

  it.each([{ upper: -3 }, { lower: 3 }, { lower: 2, upper: 1 }, { width: 0 }, { width: Number.NaN }])(
    "refuses a tolerance that is none: %j",
    (tolerance) => expect(() => reportOf(aiagReadings(), { method: "anova", tolerance })).toThrow(NoStudy),
  );

  it("names the cell whose range is above the control limit", () => {
    const { notes, charts } = reportOf(aiagReadings());
    expect(notes.join()).toContain("part 4 by B lie unusually far apart");
    const ranges = charts.find(({ title }) => title.startsWith("Range"));
    expect(ranges?.series.map(({ marked }) => marked)).toEqual([[], [3], []]);
    // AIAG's example has UCL_R 0.880 = 2.575 x 0.3417, from memory.
    expect(ranges?.levels?.[0]?.at).toBeCloseTo(0.88, 3);
  });

  it.each([
    { p: 0.9741, poolAbove: 0.25, interaction: "auto", becomes: "pooled" },
    { p: 0.9741, poolAbove: 0.98, interaction: "auto", becomes: "kept" },
    { p: 0.9741, poolAbove: 0.25, interaction: "keep", becomes: "kept" },
    { p: 0.9741, poolAbove: 0.98, interaction: "pool", becomes: "pooled" },
  ] as const)("has an interaction of p $p $becomes with $interaction and $poolAbove", (row) => {
    const { interaction, poolAbove } = row;
    const { figures } = reportOf(aiagReadings(), { method: "anova", rule: { interaction, poolAbove } });
    expect(figures.interaction).toBe(row.becomes);
    expect(figures.INT).toBe(row.becomes === "kept" ? 0 : null);
  });
});

describe("a gauge study with less than it should have", () => {
  const without = (part: string, appraiser: string, trial: string) =>
    aiagReadings().filter(
      (reading) => !(reading.part === part && reading.appraiser === appraiser && reading.trial === trial),
    );

  it.each(METHODS)("is refused with the name of the cell that lacks a value (%s)", (method) => {
    expect(() => reportOf(without("7", "C", "2"), { method })).toThrow(
      "Part 7 has 2 values by appraiser C where 3 values are usual: every appraiser must measure every part equally often.",
    );
  });

  it("is refused with the name of a cell that is missing whole", () => {
    const readings = aiagReadings().filter(({ part, appraiser }) => !(part === "2" && appraiser === "A"));
    expect(() => reportOf(readings)).toThrow("Part 2 has no value by appraiser A");
  });

  it("is made of the complete parts where that is asked for", () => {
    const report = reportOf(without("7", "C", "2"), { method: "anova" }, { completePartsOnly: true });
    const whole = reportOf(aiagReadings().filter(({ part }) => part !== "7"));
    expect(report.figures).toEqual({ ...whole.figures, parts_left_out: ["7"] });
    expect(report.notes[0]).toContain("part 7");
  });

  it("is refused where a value is there twice, with its line", () => {
    const twice = [...aiagReadings(), { part: "3", appraiser: "B", trial: "1", value: 1, place: "line 92" }];
    expect(() => reportOf(twice)).toThrow("line 92: part 3, appraiser B, trial 1 is there twice");
  });

  it("is refused with one trial, one part or no value", () => {
    expect(() => reportOf(aiagReadings().filter(({ trial }) => trial === "1"))).toThrow(
      "measured each part once",
    );
    expect(() => reportOf(aiagReadings(1, 1))).toThrow("one part only");
    expect(() => reportOf([])).toThrow("no part");
  });

  it("is refused with more parts than a study has", () => {
    const many = Array.from({ length: 10_001 }, (_, k) => String(k)).flatMap((part) =>
      ["1", "2"].map((trial) => ({ part, appraiser: "A", trial, value: 1 })),
    );
    expect(() => reportOf(many)).toThrow("10000 parts, appraisers and trials at most");
  });

  it.each(METHODS)("gives repeatability alone with one appraiser, and says so (%s)", (method) => {
    const { figures, notes, conclusion } = reportOf(aiagReadings(1, 10, "A"), { method });
    expect(figures).toMatchObject({ AV: null, INT: null, pct_AV: null, appraisers: 1 });
    expect(figures.GRR).toBe(figures.EV);
    expect(figures.EV).toBeGreaterThan(0.1);
    expect(notes.join()).toContain("One appraiser only");
    expect(conclusion).toContain("one appraiser only");
  });

  it.each(METHODS)("answers nothing where nothing varies (%s)", (method) => {
    const report = reportOf(
      aiagReadings().map((reading) => ({ ...reading, value: 5.1 })),
      { method, tolerance: { width: 1 } },
    );
    expect(report.answer).toBe("none");
    expect(report.figures).toMatchObject({ GRR: 0, TV: 0, pct_GRR: null, ndc: null, pct_tolerance_GRR: 0 });
    if (method === "anova") expect(report.figures).toMatchObject({ interaction: "pooled", p_int: null });
    expectFinite(report);
  });

  it.each(METHODS)(
    "answers nothing where trials never differ: the gauge may be too coarse (%s)",
    (method) => {
      const report = reportOf(
        aiagReadings().map((reading) => ({ ...reading, value: 100.1 + 0.1 * Number(reading.part) })),
        { method },
      );
      expect(report.answer).toBe("none");
      expect(report.figures).toMatchObject({ EV: 0, GRR: 0, pct_GRR: 0, ndc: null });
      expect(report.notes.join()).toContain("too coarse");
      expectFinite(report);
    },
  );

  it("sets AV to zero where appraisers differ less than repeatability alone would make them", () => {
    const alike = aiagReadings(1, 10, "A");
    const report = reportOf([...alike, ...alike.map((reading) => ({ ...reading, appraiser: "B" }))], {
      method: "range",
    });
    expect(report.figures).toMatchObject({ Xdiff: 0, AV: 0, GRR: report.figures.EV });
    expect(report.notes.join()).toContain("The estimate for appraiser (AV) is below zero");
  });

  it.each(METHODS)("tells no parts apart where they are all alike (%s)", (method) => {
    const report = reportOf(drawnReadings(randomStream(1, "alike"), { ...DESIGN, part: 0 }), { method });
    expect(report.answer).toBe("no");
    expect(report.conclusion).toContain("can't tell the study's parts apart");
  });

  it.each([
    { tolerance: 100, answer: "yes", says: "The study's parts are too alike for it to tell them apart" },
    { tolerance: 8, answer: "marginal", says: "shows on parts that differ as production does" },
    { tolerance: 1, answer: "no", says: "Where these are alike, the fault is theirs" },
  ])("blames no gauge that is $answer by its tolerance for parts that are alike", (row) => {
    const readings = drawnReadings(randomStream(1, "alike"), { ...DESIGN, part: 0 });
    const report = reportOf(readings, { method: "anova", tolerance: { width: row.tolerance } });
    expect(report.answer).toBe(row.answer);
    expect(report.conclusion).toContain(row.says);
  });
});

const DESIGN: DrawnDesign = { parts: 10, appraisers: 3, trials: 3 };

describe("the 95 % intervals", () => {
  it.each([
    { of: "interaction kept", interaction: "keep", design: { ...DESIGN, interaction: 0.15 } },
    { of: "interaction pooled", interaction: "pool", design: { ...DESIGN, part: 0.4 } },
    { of: "one appraiser", interaction: "keep", design: { ...DESIGN, appraisers: 1, appraiser: 0 } },
  ] as const)("hold the truth in about 95 of 100 studies: $of", ({ of, interaction, design }) => {
    const STUDIES = 400;
    const random = randomStream(7, of);
    const { part = 1, appraiser = 0.2, interaction: together = 0 }: DrawnDesign = design;
    const ofGauge = Math.hypot(appraiser, together, 0.2);
    const truth = {
      EV: 0.2,
      AV: appraiser,
      INT: together,
      GRR: ofGauge,
      PV: part,
      TV: Math.hypot(ofGauge, part),
      pct_GRR: (100 * ofGauge) / Math.hypot(ofGauge, part),
      ndc: (1.41 * part) / ofGauge,
    };
    const covered = new Map<string, number>();
    const asked = new Set<string>();
    for (let k = 0; k < STUDIES; k++) {
      const study = crossedStudy(drawnReadings(random, design));
      const found = repeatability(study, { method: "anova", rule: { interaction, poolAbove: 0.25 } });
      for (const [name, interval] of intervalsOf(found)) {
        asked.add(name);
        const value = truth[name];
        if (interval.lower <= value && value <= interval.upper)
          covered.set(name, (covered.get(name) ?? 0) + 1);
      }
    }
    expect(asked.size).toBeGreaterThanOrEqual(6);
    for (const name of asked) {
      const share = (covered.get(name) ?? 0) / STUDIES;
      // 400 studies tell 95 % within 3.3 at three standard errors; the method may cover a little more.
      expect(share, name).toBeGreaterThan(0.917);
      expect(share, name).toBeLessThan(0.995);
    }
  });

  it("of the share of GRR and of the categories are one, told in two ways", () => {
    for (const interaction of ["keep", "pool"] as const) {
      const { figures } = reportOf(aiagReadings(), {
        method: "anova",
        rule: { interaction, poolAbove: 0.25 },
      });
      const [low = 0, high = 0] = figures.pct_GRR_CI95 as number[];
      const [fewest = 0, most = 0] = figures.ndc_raw_CI95 as number[];
      // ndc is 1.41 times PV / GRR, the share 100 GRR / TV.
      expect(high).toBeCloseTo(100 / Math.hypot(1, fewest / 1.41), 8);
      expect(low).toBeCloseTo(100 / Math.hypot(1, most / 1.41), 8);
    }
  });

  function intervalsOf({ components, pct_GRR_CI95, ndc_raw_CI95 }: Repeatability) {
    return [
      ...(["EV", "AV", "INT", "GRR", "PV", "TV"] as const).map(
        (name) => [name, components[name]?.sd_CI95] as const,
      ),
      ["pct_GRR", pct_GRR_CI95] as const,
      ["ndc", ndc_raw_CI95] as const,
    ].flatMap(([name, interval]) => (interval ? [[name, interval] as const] : []));
  }
});

const SHARES = [
  "pct_EV",
  "pct_AV",
  "pct_INT",
  "pct_GRR",
  "pct_PV",
  "pct_contrib_GRR",
  "ndc_raw",
  "F_part",
  "F_int",
  "p_int",
];

describe("any gauge study", () => {
  const designs = fc.record({
    parts: fc.integer({ min: 2, max: 7 }),
    appraisers: fc.integer({ min: 1, max: 4 }),
    trials: fc.integer({ min: 2, max: 4 }),
    seed: fc.integer(),
    method: fc.constantFrom(...METHODS),
  });
  const drawn = ({ seed, ...design }: { seed: number } & DrawnDesign) =>
    drawnReadings(randomStream(seed, "any"), { ...design, interaction: 0.1 });

  it("has the same shares whatever the zero and the scale of its values", () => {
    fc.assert(
      fc.property(
        designs,
        fc.double({ min: -1000, max: 1000, noNaN: true }),
        fc.double({ min: 0.01, max: 1000, noNaN: true }),
        ({ method, ...design }, shift, scale) => {
          const readings = drawn(design);
          const before = reportOf(readings, { method }).figures;
          const moved = readings.map((reading) => ({ ...reading, value: scale * (reading.value + shift) }));
          const after = reportOf(moved, { method }).figures;
          for (const name of SHARES) {
            const [was, is] = [before[name], after[name]];
            if (typeof was === "number") expect(is, name).toBeCloseTo(was, 6);
            else expect(is, name).toBe(was);
          }
          expect(Number(after.GRR) / (scale * Number(before.GRR))).toBeCloseTo(1, 7);
        },
      ),
      { numRuns: 100 },
    );
  });

  it.each(METHODS)("loses no digits where the values are far from zero (%s)", (method) => {
    const whole = aiagReadings().map((reading) => ({ ...reading, value: Math.round(100 * reading.value) }));
    const near = reportOf(whole, { method }).figures;
    const far = reportOf(
      whole.map((reading) => ({ ...reading, value: reading.value + 1e12 })),
      { method },
    ).figures;
    for (const name of SHARES)
      if (typeof near[name] === "number") expect(far[name], name).toBeCloseTo(near[name], 9);
  });

  it("is the same to the last digit in any order of its rows", () => {
    fc.assert(
      fc.property(designs, fc.integer(), ({ method, ...design }, order) => {
        const readings = drawn(design);
        const random = randomStream(order, "order");
        const mixed = readings
          .map((reading) => ({ reading, at: random.uniform() }))
          .sort((a, b) => a.at - b.at)
          .map(({ reading }) => reading);
        expect(reportOf(mixed, { method })).toEqual(reportOf(readings, { method }));
      }),
      { numRuns: 60 },
    );
  });

  it("gives an answer in finite numbers or is refused by a sentence, whatever the table", () => {
    const name = fc.constantFrom("1", "2", "3");
    const value = fc.oneof(
      fc.constantFrom(0, 1, 1.1, -5, 1e-300, 1e300, Number.NaN, Number.POSITIVE_INFINITY),
      fc.double(),
      fc.integer({ min: 0, max: 3 }),
    );
    const crossed = designs.chain(({ parts, appraisers, trials }) =>
      fc
        .array(
          fc.oneof(
            fc.integer({ min: 0, max: 2 }),
            fc.double({ min: -1e6, max: 1e6, noNaN: true }),
            fc.constant(1e49),
          ),
          {
            minLength: parts * appraisers * trials,
            maxLength: parts * appraisers * trials,
          },
        )
        .map((values) =>
          values.map((one, k) => ({
            part: String(k % parts),
            appraiser: String(Math.floor(k / parts) % appraisers),
            trial: String(Math.floor(k / parts / appraisers)),
            value: one,
          })),
        ),
    );
    const loose = fc.array(fc.record({ part: name, appraiser: name, trial: name, value }), { maxLength: 30 });
    let answered = 0;
    fc.assert(
      fc.property(
        fc.oneof(crossed, loose),
        fc.constantFrom(...METHODS),
        fc.constantFrom(undefined, { width: 1 }, { width: 1e-49 }, { upper: 3 }),
        (readings, method, tolerance) => {
          try {
            expectFinite(reportOf(readings, { method, ...(tolerance ? { tolerance } : {}) }));
            answered++;
          } catch (error) {
            if (!(error instanceof NoStudy)) throw error;
            expect(error.message).toMatch(/\.$/);
          }
        },
      ),
      { numRuns: 300 },
    );
    expect(answered).toBeGreaterThan(50);
  });
});
