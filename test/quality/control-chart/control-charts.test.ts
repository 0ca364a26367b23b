import fc from "fast-check";
import { describe, expect, it, test as property } from "vitest";
import { randomStream } from "../../../sim/random.ts";
import { chartReport } from "../../../station/quality/control-chart/chart-report.ts";
import type { AnyChartOptions, ChartData } from "../../../station/quality/control-chart/chart-study.ts";
import { chartConstants } from "../../../station/quality/control-chart/constants.ts";
import { rangeCdf } from "../../../station/quality/control-chart/range-distribution.ts";
import { type Figure, NoStudy } from "../../../station/quality/study-report.ts";

function noise(count: number, seed = 1): number[] {
  const random = randomStream(seed, "chart");
  return Array.from({ length: count }, () => random.normal());
}

const inFives = (values: readonly number[]) =>
  Array.from({ length: values.length / 5 }, (_, k) => ({
    name: `lot ${k + 1}`,
    values: values.slice(5 * k, 5 * k + 5),
  }));

/** Standing at 20, sigma 0.5, until after the 50th point; then a shift. */
function shifted(kind: ChartData["kind"], shift: number, seed = 4): ChartData {
  const points = 80;
  if (kind === "p" || kind === "u") {
    const random = randomStream(seed, "counts");
    return {
      kind,
      samples: Array.from({ length: points }, (_, i) => {
        const part = 0.1 * (i < 50 ? 1 : 1 + shift);
        return {
          count: Array.from({ length: 100 }, () => (random.chance(part) ? 1 : 0)).reduce(
            (a: number, b) => a + b,
            0,
          ),
          size: 100,
        };
      }),
    };
  }
  const isGrouped = kind === "xbar-r" || kind === "xbar-s";
  const each = isGrouped ? 5 : 1;
  const values = noise(points * each, seed).map((z, i) => 20 + 0.5 * z + (i < 50 * each ? 0 : 0.5 * shift));
  return isGrouped ? { kind, subgroups: inFives(values) } : { kind, values };
}

const ALL: readonly ChartData["kind"][] = ["individuals", "xbar-r", "xbar-s", "ewma", "cusum", "p", "u"];

/** Everything that is not a finite number, string, boolean or null. */
function odd(figure: Figure): Figure[] {
  if (typeof figure === "number") return Number.isFinite(figure) ? [] : [figure];
  if (figure === null || typeof figure !== "object") return [];
  return Object.values(figure).flatMap((part: Figure) => odd(part));
}

describe("a control chart", () => {
  it.each(ALL)(
    "of kind %s finds a step that comes after its baseline, and no signal long before it",
    (kind) => {
      const report = chartReport(shifted(kind, 2.5), { baseline: 50 });
      expect(report.answer).toBe("no");
      expect(report.figures.first_signal).toBeGreaterThan(50);
      expect(report.figures.first_signal).toBeLessThan(60);
      expect(report.conclusion).toMatch(
        /^The process does not stand still: .*find out what changed there\.$/,
      );
    },
  );

  it.each(ALL)("of kind %s says of most undisturbed processes that they stand still", (kind) => {
    const answers = Array.from({ length: 10 }, (_, seed) => chartReport(shifted(kind, 0, seed), {}));
    const still = answers.filter(({ answer }) => answer === "yes");
    // With some in a hundred points crying wolf, and eighty points.
    expect(still.length).toBeGreaterThanOrEqual(4);
    for (const { figures, conclusion } of still) {
      expect(figures.signals).toEqual([]);
      expect(conclusion).toMatch(/^The process stands still: no signal in 80 /);
    }
  });

  it("of few points does not say that the process stands still", () => {
    const report = chartReport({ kind: "individuals", values: [1, 2, 3, 2, 1] }, {});
    expect(report.answer).toBe("none");
    expect(report.notes.join()).toMatch(/provisional/);
  });

  it("dates a shift that a CUSUM finds, near to where it was planted, and begins again where it was asked to", () => {
    const data = shifted("cusum", 2);
    const report = chartReport(data, { target: 20, sigma: 0.5 });
    expect(Math.abs(Number(report.figures.shift_began) - 51)).toBeLessThanOrEqual(3);
    expect(Math.abs(Number(report.figures.shift_estimate) - 21)).toBeLessThan(0.5);
    const again = chartReport(data, { target: 20, sigma: 0.5, reset: true });
    expect((again.figures.signals as Figure[]).length).toBeGreaterThan(3);
    expect(again.figures.first_signal).toBe(report.figures.first_signal);
  });

  it("marks on the drawing what it signals", () => {
    const values = [...noise(30, 5), 9];
    const [chart] = chartReport({ kind: "individuals", values }, {}).charts;
    expect(chart?.series[0]?.marked).toEqual([30]);
    expect(chart?.series[0]?.points[30]).toEqual([31, 9]);
    expect(chart?.levels?.map(({ means }) => means)).toEqual(["control limit", "centre", "control limit"]);
  });

  it("gives points of unequal subgroups limits of their own, narrower for the larger", () => {
    const values = noise(60, 7);
    const subgroups = Array.from({ length: 12 }, (_, k) => ({
      name: String(k),
      values: values.slice(5 * k, 5 * k + (k % 2 === 0 ? 5 : 3)),
    }));
    for (const kind of ["xbar-r", "xbar-s"] as const) {
      const { figures } = chartReport({ kind, subgroups }, {});
      const [large = 0, small = 0] = figures.UCL as number[];
      expect(large).toBeLessThan(small);
      expect(((small - Number(figures.CL)) / (large - Number(figures.CL))) ** 2).toBeCloseTo(5 / 3, 9);
      expect(Math.abs(Number(figures.sigma) - 1)).toBeLessThan(0.35);
    }
  });

  it("gives samples of unequal size limits of their own, and none below nothing or above all", () => {
    const { figures } = chartReport(
      {
        kind: "p",
        samples: [
          { count: 1, size: 5 },
          { count: 30, size: 100 },
          { count: 3, size: 4 },
        ],
      },
      {},
    );
    for (const limit of [...(figures.UCL as number[]), ...(figures.LCL as number[])]) {
      expect(limit).toBeGreaterThanOrEqual(0);
      expect(limit).toBeLessThanOrEqual(1);
    }
    expect(figures.pbar).toBeCloseTo(34 / 109, 12);
  });
});

/** How often each rule cries wolf where nothing is the matter: average run lengths, and runs of equal signs. */
describe("on 100,000 values of an undisturbed process", () => {
  const values = noise(100_000, 11);
  const known = { target: 0, sigma: 1 };
  const single = chartReport({ kind: "individuals", values }, known);
  const often = (report: { readonly figures: Readonly<Record<string, Figure>> }, rule: string) =>
    (report.figures.signals as { rule: string; chart: string }[]).filter(
      (it) => it.rule === rule && it.chart !== "moving ranges",
    ).length / values.length;

  it("single values are beyond three sigma 2.7 times in a thousand, and nine in a row on one side once in 512", () => {
    expect(Math.abs(often(single, "beyond a control limit") / 0.0026998 - 1)).toBeLessThan(0.12);
    expect(Math.abs(often(single, "nine in a row on one side") * 512 - 1)).toBeLessThan(0.15);
  });

  it("a CUSUM with k 0.5 and h 5 signals once in 465 points (NIST e-Handbook 6.3.2.3)", () => {
    const report = chartReport({ kind: "cusum", values }, { ...known, reset: true });
    expect(Math.abs(often(report, "beyond the decision interval") * 465 - 1)).toBeLessThan(0.15);
  });

  it("draws only the newest and says so, while the signals are of all", () => {
    expect(single.charts[0]?.series[0]?.points).toHaveLength(1000);
    expect(single.notes.join(" ")).toMatch(/newest 1000 of 100000 points/);
    expect(single.tables[1]?.rows).toHaveLength(25);
    expect(single.figures.first_signal).toBeLessThan(3000);
  });
});

const REFUSED: readonly (readonly [string, ChartData, AnyChartOptions, RegExp])[] = [
  [
    "values that are all equal",
    { kind: "individuals", values: [3, 3, 3, 3] },
    {},
    /equal \(3\).*frozen gauge/,
  ],
  ["a baseline that is all equal", { kind: "cusum", values: [3, 3, 3, 4, 5] }, { baseline: 3 }, /equal/],
  [
    "subgroups without scatter",
    {
      kind: "xbar-r",
      subgroups: [
        { name: "a", values: [1, 1] },
        { name: "b", values: [2, 2] },
      ],
    },
    {},
    /within each subgroup are equal/,
  ],
  [
    "a subgroup of one",
    {
      kind: "xbar-s",
      subgroups: [
        { name: "a", values: [1, 2] },
        { name: "b", values: [2] },
      ],
    },
    {},
    /Subgroup b has one value/,
  ],
  ["too few values", { kind: "individuals", values: [1, 2] }, {}, /2 points: it takes 3/],
  ["no values", { kind: "ewma", values: [] }, {}, /no point/],
  [
    "nothing that failed",
    {
      kind: "p",
      samples: [
        { count: 0, size: 9 },
        { count: 0, size: 9 },
      ],
    },
    {},
    /Nothing was counted/,
  ],
  [
    "nothing but failures",
    {
      kind: "p",
      samples: [
        { count: 9, size: 9 },
        { count: 9, size: 9 },
      ],
    },
    {},
    /All units/,
  ],
  [
    "a size of nothing",
    {
      kind: "u",
      samples: [
        { count: 0, size: 0 },
        { count: 1, size: 9 },
      ],
    },
    {},
    /Sample 1: the size is 0/,
  ],
  [
    "more failed than tested",
    {
      kind: "p",
      samples: [
        { count: 1, size: 9 },
        { count: 10, size: 9 },
      ],
    },
    {},
    /Sample 2: 10 of 9/,
  ],
  [
    "half a count",
    {
      kind: "p",
      samples: [
        { count: 0.5, size: 9 },
        { count: 1, size: 9 },
      ],
    },
    {},
    /whole number/,
  ],
  [
    "a baseline longer than the data",
    { kind: "individuals", values: [1, 2, 3] },
    { baseline: 4 },
    /from 1 to 3/,
  ],
  ["a sigma of nothing", { kind: "individuals", values: [1, 2, 3] }, { sigma: 0 }, /above 0/],
  ["a lambda above one", { kind: "ewma", values: [1, 2, 3] }, { lambda: 1.2 }, /at most 1/],
  [
    "a decision interval of nothing",
    { kind: "cusum", values: [1, 2, 3] },
    { decision: 0, allowance: 1 },
    /decision interval/,
  ],
  ["values that overflow", { kind: "individuals", values: [1e308, -1e308, 1e308] }, {}, /too large/],
];

it.each(REFUSED)("there is no chart of %s, and the refusal says why", (_, data, options, words) => {
  expect(() => chartReport(data, options)).toThrow(NoStudy);
  expect(() => chartReport(data, options)).toThrow(words);
});

const someValues = fc.array(fc.double({ min: -1e6, max: 1e6, noNaN: true }), { minLength: 0, maxLength: 40 });
const anyData: fc.Arbitrary<ChartData> = fc.oneof(
  fc.record({
    kind: fc.constantFrom("individuals" as const, "ewma" as const, "cusum" as const),
    values: someValues,
  }),
  fc.record({
    kind: fc.constantFrom("xbar-r" as const, "xbar-s" as const),
    subgroups: fc.array(
      fc.record({
        name: fc.string(),
        values: fc.array(fc.double({ min: -9, max: 9, noNaN: true }), { maxLength: 6 }),
      }),
      { maxLength: 12 },
    ),
  }),
  fc.record({
    kind: fc.constantFrom("p" as const, "u" as const),
    samples: fc.array(
      fc.record({ count: fc.integer({ min: -1, max: 20 }), size: fc.integer({ min: 0, max: 40 }) }),
      { maxLength: 20 },
    ),
  }),
);

property("any data gives a report of finite numbers, or is refused", () => {
  fc.assert(
    fc.property(anyData, fc.option(fc.integer({ min: 1, max: 20 }), { nil: undefined }), (data, baseline) => {
      try {
        const report = chartReport(data, { baseline });
        expect(odd(report.figures)).toEqual([]);
        const drawn = report.charts.flatMap(({ series, levels = [] }) => [
          ...series.flatMap(({ points }) => points.flat()),
          ...levels.map(({ at }) => at),
        ]);
        expect(drawn.every((it) => Number.isFinite(it))).toBe(true);
        expect(JSON.stringify(report)).not.toMatch(/NaN|no value|Infinity/);
      } catch (error) {
        if (!(error instanceof NoStudy)) throw error;
      }
    }),
    { numRuns: 200 },
  );
});

property("a change of unit and zero moves the limits along and leaves the signals", () => {
  const kind = fc.constantFrom("individuals" as const, "ewma" as const, "cusum" as const);
  fc.assert(
    fc.property(
      kind,
      fc.integer({ min: 1, max: 99 }),
      fc.constantFrom(0.25, 8, 1024),
      fc.integer({ min: -64, max: 64 }),
      (of, seed, scale, shift) => {
        const values = noise(60, seed).map((z, i) => Math.round(1024 * (z + (i > 40 ? 2 : 0))) / 1024);
        const before = chartReport({ kind: of, values }, { baseline: 30 }).figures;
        const after = chartReport(
          { kind: of, values: values.map((it) => scale * it + shift) },
          { baseline: 30 },
        ).figures;
        expect(Number(after.sigma)).toBeCloseTo(scale * Number(before.sigma), 6);
        if (of !== "cusum") expect(Number(after.UCL)).toBeCloseTo(scale * Number(before.UCL) + shift, 6);
        expect(after.first_signal).toBe(before.first_signal);
      },
    ),
    { numRuns: 30 },
  );
});

describe("the constants", () => {
  it("grow or fall with the subgroup, as they must", () => {
    for (let n = 3; n <= 30; n++) {
      const [less, more] = [chartConstants(n - 1), chartConstants(n)];
      expect(more.d2).toBeGreaterThan(less.d2);
      expect(more.c4).toBeGreaterThan(less.c4);
      expect(more.c4).toBeLessThan(1);
      for (const name of ["A", "A2", "A3", "D4", "B4", "E2"] as const)
        expect(more[name]).toBeLessThan(less[name]);
      for (const name of ["D3", "B3"] as const) expect(more[name]).toBeGreaterThanOrEqual(less[name]);
    }
  });

  it("have no value for a subgroup of one, of a part, or of too many", () => {
    for (const n of [1, 0, -3, 2.5, Number.NaN, 10_001]) expect(() => chartConstants(n)).toThrow(RangeError);
  });

  it("come from a distribution: from 0 to 1, never falling", () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 2, max: 200 }),
        fc.double({ min: 0, max: 30, noNaN: true }),
        fc.double({ min: 0, max: 5, noNaN: true }),
        (n, w, more) => {
          const [low, high] = [rangeCdf(w, n), rangeCdf(w + more, n)];
          expect(low).toBeGreaterThanOrEqual(0);
          expect(high).toBeLessThanOrEqual(1);
          expect(high).toBeGreaterThanOrEqual(low - 1e-12);
        },
      ),
      { numRuns: 200 },
    );
    expect(rangeCdf(Number.POSITIVE_INFINITY, 5)).toBe(1);
    expect(rangeCdf(0, 5)).toBe(0);
  });
});
