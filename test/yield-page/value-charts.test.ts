import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { chartSvg } from "../../station/study-page/chart-svg.ts";
import { histogramChart, histogramOf } from "../../station/yield-page/value-histogram.ts";
import { trendOf } from "../../station/yield-page/value-trend.ts";
import { madeSeries } from "./made-detail.ts";

describe("a histogram", () => {
  it("has every value in one bar, and no bar with values of both sides of the limit", () => {
    const value = fc.double({ min: -1e4, max: 1e6, noNaN: true });
    fc.assert(
      fc.property(
        fc.array(value, { minLength: 1, maxLength: 60 }),
        fc.double({ min: 0.1, max: 1e4, noNaN: true }),
        (values, upper) => {
          const series = madeSeries(0, { values, upper, passed: values.map((one) => one <= upper) });
          const bins = histogramOf(series);
          const sum = (of: "passed" | "failed") => bins.reduce((all, bin) => all + bin[of], 0);
          expect(sum("passed")).toBe(series.passed.filter(Boolean).length);
          expect(sum("failed")).toBe(series.passed.filter((one) => !one).length);
          for (const { from, to, passed, failed } of bins) {
            expect(from).toBeLessThan(to);
            if (Number.isFinite(from) && Number.isFinite(to)) expect(passed > 0 && failed > 0).toBe(false);
          }
          expect(bins.length).toBeLessThan(120);
        },
      ),
    );
  });

  it("puts a value equal to the upper limit below it", () => {
    const bins = histogramOf(madeSeries(0, { values: [5, 10, 25, 26], passed: [true, true, true, false] }));
    expect(bins.find(({ to }) => to === 25)?.passed).toBe(1);
    expect(bins.find(({ from }) => from === 25)?.failed ?? 0).toBe(1);
  });

  it("keeps its scale where one body leaks a hundred times more, and says how many are not to scale", () => {
    const values = [...Array.from({ length: 99 }, (_, k) => 5 + k / 10), 2_500];
    const series = madeSeries(0, { values, passed: values.map((value) => value <= 25) });
    const bins = histogramOf(series);
    expect(bins.filter(({ passed }) => passed > 0).length).toBeGreaterThan(6);
    expect(bins.at(-1)).toMatchObject({ to: Number.POSITIVE_INFINITY, failed: 1 });
    const chart = histogramChart(series, bins);
    expect(chart.series.at(-1)?.name).toMatch(/^above \d+(\.\d+)?, not to scale$/);
    expect(chart.areas).toEqual([{ label: "guard band", along: "x", from: 24.2, to: 25 }]);
    expect(chart.levels?.map(({ label }) => label)).toEqual(["limit 25"]);
  });

  it("names the guard band above its bars, and a lower limit at the left end beside the axis' numbers", () => {
    const values = Array.from({ length: 60 }, (_, k) => 130 + (k % 12));
    const shown = { values, passed: values.map(() => true), upper: null, lower: 121 };
    const series = madeSeries(0, {
      ...shown,
      acceptedFrom: 124,
      acceptedTo: null,
      measurand: "suction_power",
    });
    const { svg } = chartSvg(histogramChart(series, histogramOf(series)), "c");
    const bars = svg.lastIndexOf('fill="#2d706b"');
    expect(bars).toBeGreaterThan(0);
    expect(svg.indexOf(">guard band<")).toBeGreaterThan(bars);
    const textAt = (text: string) =>
      Number(new RegExp(`<text[^>]* x="([\\d.]+)"[^>]*>${text}<`).exec(svg)?.[1]);
    const numbers = svg.matchAll(/text-anchor="end"[^>]*translate\(([\d.]+) [^>]*>\d+</g);
    const right = Math.max(...[...numbers].map(([, x]) => Number(x)));
    expect(right).toBeGreaterThan(0);
    // Letters of 11 px are hardly narrower than 5 px.
    expect(textAt("lower limit 121") - ("lower limit 121".length * 5) / 2).toBeGreaterThan(right);
  });

  it("has no bars where there are no values", () => {
    expect(histogramOf(madeSeries(0))).toEqual([]);
  });
});

describe("a trend", () => {
  it("marks the units since which the leak rate is another", () => {
    const made = madeSeries(200);
    const values = made.values.map((value, k) => (k < 150 ? 10 + (value % 1) : 14 + (value % 1)));
    const trend = trendOf({ ...made, values, passed: values.map(() => true) });
    if (typeof trend === "string") throw new Error(trend);
    expect(trend.points).toHaveLength(40);
    expect(trend.points.slice(30).every(({ isOutside }) => isOutside)).toBe(true);
    expect(trend.points[30]?.serial).toBe("POD000151");
    expect(trend.chart.levels?.map(({ means }) => means)).toEqual([
      "control limit",
      "centre",
      "control limit",
    ]);
  });

  it("is of single units where there are few, and of those that passed", () => {
    const made = madeSeries(0, {
      values: [1, 2, 3, 2, 1, 900, 2, 3, 1, 2, 3],
      passed: [true, true, true, true, true, false, true, true, true, true, true],
    });
    const trend = trendOf(made);
    if (typeof trend === "string") throw new Error(trend);
    expect(trend.points.map(({ value }) => value)).toEqual([1, 2, 3, 2, 1, 2, 3, 1, 2, 3]);
    expect(trend.notes.join(" ")).toContain("1 that failed it are not among them.");
  });

  it("says that it is of units that passed, and how many of very many points are drawn", () => {
    const made = madeSeries(5200);
    const trend = trendOf({ ...made, passed: made.values.map(() => true) });
    if (typeof trend === "string") throw new Error(trend);
    expect(trend.chart.title).toContain("units in a row that passed it");
    expect(trend.points).toHaveLength(1040);
    expect(trend.notes.join(" ")).toContain("Drawn are the newest 1000 of 1040 points");
  });

  it.each([
    { values: [1, 2, 3], says: "3 units passed it, and it takes 10" },
    { values: new Array<number>(20).fill(7), says: "are equal" },
  ])("says in place of a chart that $says", ({ values, says }) => {
    const trend = trendOf(madeSeries(0, { values, passed: values.map(() => true) }));
    expect(trend).toEqual(expect.stringContaining(says));
  });
});
