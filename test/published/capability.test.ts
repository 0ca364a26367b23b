import { describe, expect, it } from "vitest";
import { capability } from "../../station/quality/capability/capability.ts";
import { normalIndices } from "../../station/quality/capability/normal-indices.ts";
import { withinByMovingRange, withinBySubgroups } from "../../station/quality/capability/within-sigma.ts";

// NIST/SEMATECH e-Handbook of Statistical Methods, 6.1.6: upper limit 20, lower 8, mean 16, standard deviation 2 gives Cp 1.0,
// Cpu 0.6667, Cpl 1.3333, Cpk 0.6667. The numbers of values are ours; the intervals are by its formulas, by scipy.
describe("the capability example of the NIST e-Handbook, 6.1.6", () => {
  const limits = { lower: 8, upper: 20 };

  it("has its indices", () => {
    const { p, l, u, k } = normalIndices({ mean: 16, sigma: 2, n: 50, df: 49 }, limits);
    expect(p?.value).toBeCloseTo(1, 12);
    expect(u?.value).toBeCloseTo(0.6666667, 6);
    expect(l?.value).toBeCloseTo(1.3333333, 6);
    expect(k.value).toBe(u?.value);
  });

  it.each([
    { n: 50, Cp: [0.8024823281, 1.197125925], Cpk: [0.5055513132, 0.8277820201] },
    { n: 30, Cp: [0.7438731746, 1.255639496], Cpk: [0.457707122, 0.8756262114] },
  ])("has the intervals of its formulas for $n values", ({ n, Cp, Cpk }) => {
    const { p, k } = normalIndices({ mean: 16, sigma: 2, n, df: n - 1 }, limits);
    for (const end of [0, 1] as const) {
      expect(Math.abs((p?.interval?.[end] ?? 0) / (Cp[end] ?? 1) - 1)).toBeLessThan(1e-7);
      expect(Math.abs((k.interval?.[end] ?? 0) / (Cpk[end] ?? 1) - 1)).toBeLessThan(1e-7);
    }
  });
});

// Montgomery, Introduction to Statistical Quality Control, flow widths: 25 subgroups of 5, limits 1.0 and 2.0. Published: grand
// mean 1.5056, mean range 0.32521, sigma 0.1398, Cp 1.192; with d2 = 2.326 where ours has all its digits.
const WIDTHS = [
  1.3235, 1.4128, 1.6744, 1.4573, 1.6914, 1.4314, 1.3592, 1.6075, 1.4666, 1.6109, 1.4284, 1.4871, 1.4932,
  1.4324, 1.5674, 1.5028, 1.6352, 1.3841, 1.2831, 1.5507, 1.5604, 1.2735, 1.5265, 1.4363, 1.6441, 1.5955,
  1.5451, 1.3574, 1.3281, 1.4198, 1.6274, 1.5064, 1.8366, 1.4177, 1.5144, 1.419, 1.4303, 1.6637, 1.6067,
  1.5519, 1.3884, 1.7277, 1.5355, 1.5176, 1.3688, 1.4039, 1.6697, 1.5089, 1.4627, 1.522, 1.4158, 1.7667,
  1.4278, 1.5928, 1.4181, 1.5821, 1.3355, 1.5777, 1.3908, 1.7559, 1.2856, 1.4106, 1.4447, 1.6398, 1.1928,
  1.4951, 1.4036, 1.5893, 1.6458, 1.4969, 1.3589, 1.2863, 1.5996, 1.2497, 1.5471, 1.5747, 1.5301, 1.5171,
  1.1839, 1.8662, 1.368, 1.7269, 1.3957, 1.5014, 1.4449, 1.4163, 1.3864, 1.3057, 1.621, 1.5573, 1.5796,
  1.4185, 1.6541, 1.5116, 1.7247, 1.7106, 1.4412, 1.2361, 1.382, 1.7601, 1.4371, 1.5051, 1.3485, 1.567, 1.488,
  1.4738, 1.5936, 1.6583, 1.4973, 1.472, 1.5917, 1.4333, 1.5551, 1.5295, 1.6866, 1.6399, 1.5243, 1.5705,
  1.5563, 1.553, 1.5797, 1.3663, 1.624, 1.3732, 1.6887,
];

describe("the flow widths of Montgomery", () => {
  const data = { values: WIDTHS, subgroups: WIDTHS.map((_, i) => String(Math.floor(i / 5) + 1)) };
  const found = capability(data, { lower: 1, upper: 2, distribution: "auto", within: "range" });

  it("have the published mean, scatter within and Cp", () => {
    expect(found.sample.mean).toBeCloseTo(1.5056104, 7);
    expect(found.within?.sigma).toBeCloseTo(0.325208 / 2.32593, 5);
    expect(found.short?.p?.value).toBeCloseTo(1.192, 3);
    expect(Math.abs((found.short?.k.value ?? 0) / 1.178681756 - 1)).toBeLessThan(1e-4);
    expect(found.sample.s).toBeCloseTo(0.1332335367, 9);
  });

  it("are normal, in control, and not clear of 1.33", () => {
    expect(found.method).toBe("normal");
    expect(found.stability?.inControl).toBe(true);
    expect(found.performance?.k.value).toBeCloseTo((2 - 1.5056104) / 3 / 0.1332335367, 9);
  });
});

it("the moving range of the NIST e-Handbook, 6.3.2.2, is 1.8778 / d2", () => {
  const flow = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
  // It rounds d2 to 1.128.
  expect(Math.abs(withinByMovingRange(flow).sigma / (1.8777778 / 1.128) - 1)).toBeLessThan(5e-4);
});

// Duncan's and AIAG's tables of nu for the range method (from memory): 1 subgroup of 5 has 3.8, 25 subgroups of 5 have 90.7 or so.
it("the degrees of freedom of mean ranges are those of the tables", () => {
  const five = [1, 2, 3, 4, 5];
  expect(withinBySubgroups([five], "range")?.df).toBeGreaterThan(3.7);
  expect(withinBySubgroups([five], "range")?.df).toBeLessThan(3.95);
  expect(withinBySubgroups(new Array<number[]>(25).fill(five), "range")?.df).toBeCloseTo(90.8, 0);
});
