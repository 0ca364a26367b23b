import { describe, expect, it } from "vitest";
import { randomStream } from "../../../sim/random.ts";
import { type ChartedGroup, chartByGroup } from "../../../station/quality/control-chart/chart-by-group.ts";
import type { ChartData } from "../../../station/quality/control-chart/chart-study.ts";

/** Standing at 10, sigma 1; from the 30th value on by this much higher. */
function values(count: number, seed: number, higher = 0): number[] {
  const random = randomStream(seed, "groups");
  return Array.from({ length: count }, (_, k) => 10 + random.normal() + (k < 30 ? 0 : higher));
}

const group = (name: string, data: ChartData): ChartedGroup => ({ name, data, labels: undefined });

const inFours = (all: readonly number[]) =>
  Array.from({ length: all.length / 4 }, (_, k) => ({
    name: `day ${k + 1}`,
    values: all.slice(4 * k, 4 * k + 4),
  }));

describe("a control chart for each cavity", () => {
  it("stands the cavity that has moved first, before one with a false alarm, with all its values, and says no", () => {
    const report = chartByGroup(
      [
        group("T1", { kind: "individuals", values: values(40, 1) }),
        group("T2", { kind: "individuals", values: values(40, 2, 6) }),
      ],
      "tub_cavity",
      { of: "leak rate", unit: "mL/min" },
    );
    expect(report.answer).toBe("no");
    expect(report.conclusion).toMatch(/^tub_cavity T2 \(and so T1\): The process does not stand still: /);
    expect(report.tables[0]?.rows.map(([name]) => name)).toEqual(["T2", "T1"]);
    expect(report.data.rows).toHaveLength(80);
    expect(report.data.rows[0]?.[0]).toBe("T2");
    expect(report.data.rows.at(-1)?.slice(0, 2)).toEqual(["T1", "40"]);
  });

  it.each([
    { kind: "individuals" as const, titles: /^tub_cavity T1: individuals and moving range chart: / },
    { kind: "xbar-r" as const, titles: /^tub_cavity T1: X-bar and R chart: / },
    { kind: "ewma" as const, titles: /^tub_cavity T1: EWMA chart: / },
    { kind: "cusum" as const, titles: /^tub_cavity T1: tabular CUSUM chart: / },
  ])("is named as such charts are named: $kind", ({ kind, titles }) => {
    const all = values(80, 3);
    const data: ChartData = kind === "xbar-r" ? { kind, subgroups: inFours(all) } : { kind, values: all };
    const { charts } = chartByGroup([group("T1", data)], "tub_cavity", {});
    expect(charts.length).toBeGreaterThan(0);
    for (const { title } of charts) expect(title).toMatch(titles);
  });

  it("says of which cavity there is too little, and no yes for the rest", () => {
    const report = chartByGroup(
      [
        group("T1", { kind: "individuals", values: values(25, 2) }),
        group("T2", { kind: "individuals", values: [1, 2] }),
      ],
      "tub_cavity",
      {},
    );
    expect(report.conclusion).toContain("of 1 of 2 there is too little");
    expect(report.notes.join()).toContain("tub_cavity T2 has no chart: ");
  });
});
