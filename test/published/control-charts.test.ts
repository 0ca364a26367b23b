import { describe, expect, it } from "vitest";
import { attributeChart } from "../../station/quality/control-chart/attributes.ts";
import type { ChartedProcess } from "../../station/quality/control-chart/control-chart.ts";
import { cusumChart } from "../../station/quality/control-chart/cusum.ts";
import { ewmaChart } from "../../station/quality/control-chart/ewma-chart.ts";
import { individualsChart } from "../../station/quality/control-chart/individuals.ts";
import { subgroupChart } from "../../station/quality/control-chart/subgroups.ts";

function figure(charted: ChartedProcess, name: string): number {
  const value = charted.figures[name];
  if (typeof value !== "number") throw new Error(`${name} is ${JSON.stringify(value)}`);
  return value;
}

function list(charted: ChartedProcess, name: string): number[] {
  const value = charted.figures[name];
  if (!Array.isArray(value)) throw new Error(`${name} is no list`);
  return value as number[];
}

const out = (charted: ChartedProcess) =>
  charted.charts[0]?.signals
    .filter(({ rule }) => rule === "beyond a control limit")
    .map(({ index }) => index);

describe("individuals: NIST e-Handbook 6.3.2.2, flow rates", () => {
  const charted = individualsChart([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1], {});

  it("has its mean 50.81, its mean moving range 1.8778, and no point beyond", () => {
    expect(figure(charted, "mean")).toBeCloseTo(50.81, 10);
    expect(figure(charted, "MRbar")).toBeCloseTo(1.8778, 4);
    expect(out(charted)).toEqual([]);
  });

  it("has its limits 55.8041 and 45.8159, and 6.1347 for ranges, but for the rounding of d2 to 1.128 and D4 to 3.267", () => {
    const [mean, MRbar, { d2, D4 }] = [
      50.81,
      16.9 / 9,
      charted.figures.constants as { d2: number; D4: number },
    ];
    expect(mean + (figure(charted, "UCL") - mean) * (d2 / 1.128)).toBeCloseTo(55.8041, 4);
    expect(mean + (figure(charted, "LCL") - mean) * (d2 / 1.128)).toBeCloseTo(45.8159, 4);
    expect(figure(charted, "MR_UCL") * (3.267 / D4)).toBeCloseTo(6.1347, 4);
    // By the exact constant, 2 / sqrt(pi).
    expect(figure(charted, "UCL")).toBeCloseTo(mean + (3 * MRbar * Math.sqrt(Math.PI)) / 2, 10);
  });
});

describe("EWMA: NIST e-Handbook 6.3.2.4", () => {
  const values = [
    52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6,
    52.4, 53.6, 52.1,
  ];

  it("has its limits 52.5884 and 47.4115, 51.8485 at the first, and no signal by either kind of limits", () => {
    for (const steadyLimits of [true, false]) {
      const charted = ewmaChart(values, { target: 50, sigma: 2.0539, lambda: 0.3, steadyLimits });
      // The handbook rounds the root to 0.4201.
      expect(figure(charted, "UCL")).toBeCloseTo(52.5884, 3);
      expect(Math.abs(figure(charted, "LCL") - 47.4115)).toBeLessThan(0.001);
      expect(figure(charted, "UCL_i1")).toBeCloseTo(51.84851, 5);
      expect(list(charted, "ewma").at(-1)).toBeCloseTo(51.9882, 3);
      expect(charted.charts[0]?.signals).toEqual([]);
    }
  });
});

describe("p chart: NIST e-Handbook 6.3.3.2, wafers with 50 chips", () => {
  const parts = [
    0.24, 0.3, 0.16, 0.2, 0.08, 0.14, 0.32, 0.18, 0.28, 0.2, 0.1, 0.12, 0.34, 0.24, 0.44, 0.16, 0.2, 0.1,
    0.26, 0.22, 0.4, 0.36, 0.48, 0.3, 0.18, 0.24, 0.14, 0.26, 0.18, 0.12,
  ];
  const charted = attributeChart(
    parts.map((part) => ({ count: Math.round(part * 50), size: 50 })),
    { kind: "p" },
  );

  it("has pbar 0.2313, limits 0.4102 and 0.0524, and samples 15 and 23 beyond them", () => {
    expect(figure(charted, "pbar")).toBeCloseTo(0.2313333333, 9);
    expect(figure(charted, "UCL")).toBeCloseTo(0.4102391186, 9);
    expect(figure(charted, "LCL")).toBeCloseTo(0.05242754807, 9);
    expect(out(charted)).toEqual([15, 23]);
  });
});

describe("counts: NIST e-Handbook 6.3.3.1, defects on 25 wafers", () => {
  const counts = [
    16, 14, 28, 16, 12, 20, 10, 12, 10, 17, 19, 17, 14, 16, 15, 13, 14, 16, 11, 20, 11, 19, 16, 31, 13,
  ];
  const charted = attributeChart(
    counts.map((count) => ({ count, size: 1 })),
    { kind: "u" },
  );

  it("has cbar 16, limits 28 and 4, and wafer 24 beyond; the 28 of wafer 3 lies on the limit and is not", () => {
    expect(figure(charted, "cbar")).toBe(16);
    expect(figure(charted, "UCL")).toBe(28);
    expect(figure(charted, "LCL")).toBe(4);
    expect(out(charted)).toEqual([24]);
  });
});

/** Montgomery, Introduction to Statistical Quality Control, flow widths of 25 samples of five. */
const FLOW_WIDTHS = [
  [1.3235, 1.4128, 1.6744, 1.4573, 1.6914],
  [1.4314, 1.3592, 1.6075, 1.4666, 1.6109],
  [1.4284, 1.4871, 1.4932, 1.4324, 1.5674],
  [1.5028, 1.6352, 1.3841, 1.2831, 1.5507],
  [1.5604, 1.2735, 1.5265, 1.4363, 1.6441],
  [1.5955, 1.5451, 1.3574, 1.3281, 1.4198],
  [1.6274, 1.5064, 1.8366, 1.4177, 1.5144],
  [1.419, 1.4303, 1.6637, 1.6067, 1.5519],
  [1.3884, 1.7277, 1.5355, 1.5176, 1.3688],
  [1.4039, 1.6697, 1.5089, 1.4627, 1.522],
  [1.4158, 1.7667, 1.4278, 1.5928, 1.4181],
  [1.5821, 1.3355, 1.5777, 1.3908, 1.7559],
  [1.2856, 1.4106, 1.4447, 1.6398, 1.1928],
  [1.4951, 1.4036, 1.5893, 1.6458, 1.4969],
  [1.3589, 1.2863, 1.5996, 1.2497, 1.5471],
  [1.5747, 1.5301, 1.5171, 1.1839, 1.8662],
  [1.368, 1.7269, 1.3957, 1.5014, 1.4449],
  [1.4163, 1.3864, 1.3057, 1.621, 1.5573],
  [1.5796, 1.4185, 1.6541, 1.5116, 1.7247],
  [1.7106, 1.4412, 1.2361, 1.382, 1.7601],
  [1.4371, 1.5051, 1.3485, 1.567, 1.488],
  [1.4738, 1.5936, 1.6583, 1.4973, 1.472],
  [1.5917, 1.4333, 1.5551, 1.5295, 1.6866],
  [1.6399, 1.5243, 1.5705, 1.5563, 1.553],
  [1.5797, 1.3663, 1.624, 1.3732, 1.6887],
];

describe("X-bar and R: Montgomery's flow widths", () => {
  const charted = subgroupChart(
    FLOW_WIDTHS.map((values, i) => ({ name: String(i + 1), values })),
    { by: "range" },
  );

  it("has the mean 1.5056, Rbar 0.32521, sigma 0.1398 and no signal", () => {
    expect(figure(charted, "grand_mean")).toBeCloseTo(1.5056104, 7);
    expect(figure(charted, "Rbar")).toBeCloseTo(0.325208, 6);
    expect(figure(charted, "sigma")).toBeCloseTo(0.1398, 4);
    expect(charted.charts.flatMap(({ signals }) => signals)).toEqual([]);
  });

  it("has its limits 1.69325, 1.31795 and 0.68749, but for the rounding of A2 to 0.577 and D4 to 2.114", () => {
    const { A2, D4 } = charted.figures.constants as { A2: number; D4: number };
    const mean = figure(charted, "grand_mean");
    expect(mean + (figure(charted, "UCL") - mean) * (0.577 / A2)).toBeCloseTo(1.693255416, 8);
    expect(mean + (figure(charted, "LCL") - mean) * (0.577 / A2)).toBeCloseTo(1.317965384, 8);
    expect(figure(charted, "R_UCL") * (2.114 / D4)).toBeCloseTo(0.687489712, 8);
    expect(Math.abs(figure(charted, "UCL") - 1.69325)).toBeLessThan(0.0002);
    expect(Math.abs(figure(charted, "R_UCL") - 0.68749)).toBeLessThan(0.0003);
  });
});

describe("CUSUM: Montgomery's example, target 10, K 0.5, H 5", () => {
  const values = [
    9.45, 7.99, 9.29, 11.66, 12.16, 10.18, 8.04, 11.46, 9.2, 10.34, 9.03, 11.47, 10.51, 9.4, 10.08, 9.37,
    10.62, 10.31, 8.52, 10.84, 10.9, 9.33, 12.29, 11.5, 10.6, 11.08, 10.38, 11.62, 11.31, 10.52,
  ];
  const HI = [
    0, 0, 0, 1.16, 2.82, 2.5, 0.04, 1, 0, 0, 0, 0.97, 0.98, 0, 0, 0, 0.12, 0, 0, 0.34, 0.74, 0, 1.79, 2.79,
    2.89, 3.47, 3.35, 4.47, 5.28, 5.3,
  ];
  const LO = [
    0.05, 1.56, 1.77, 0, 0, 0, 1.46, 0, 0.3, 0, 0.47, 0, 0, 0.1, 0, 0.13, 0, 0, 0.98, 0, 0, 0.17, 0, 0, 0, 0,
    0, 0, 0, 0,
  ];
  const charted = cusumChart(values, { target: 10, allowance: 0.5, decision: 5 });

  it("has the sums of its table and signals at 29", () => {
    for (const [i, sum] of list(charted, "hi").entries()) expect(sum).toBeCloseTo(HI[i] ?? Number.NaN, 9);
    for (const [i, sum] of list(charted, "lo").entries()) expect(sum).toBeCloseTo(LO[i] ?? Number.NaN, 9);
    expect(charted.charts.flatMap(({ signals }) => signals).map(({ index }) => index)).toEqual([29]);
  });

  it("dates the shift as the book does, between 22 and 23, and takes the new mean for 11.25", () => {
    expect(figure(charted, "shift_began")).toBe(23);
    expect(figure(charted, "shift_estimate")).toBeCloseTo(10 + 0.5 + 5.28 / 7, 9);
  });
});
