import { describe, expect, it } from "vitest";
import {
  empiricalIndices,
  empiricalPercentiles,
} from "../../../station/quality/capability/empirical-indices.ts";

/** 1 to n: the k-th smallest is k. */
const ranks = (n: number) => Array.from({ length: n }, (_, k) => k + 1);

describe("the percentiles of values that no distribution describes", () => {
  it("stand at p (n + 1) in their order, between two values by its fraction", () => {
    // NIST/SEMATECH e-Handbook, 7.2.6.2: of 9,999 values 0.00135 x 10,000 is the place 13.5.
    const { low, median, high } = empiricalPercentiles(ranks(9999));
    expect(low).toBeCloseTo(13.5, 8);
    expect(median).toBeCloseTo(5000, 8);
    expect(high).toBeCloseTo(9986.5, 8);
  });

  it("are weighed between neighbours that lie far apart", () => {
    const values = ranks(9999).map((rank) => (rank <= 13 ? -100 : rank));
    expect(empiricalPercentiles(values).low).toBeCloseTo(-100 + 0.5 * 114, 8);
  });
});

describe("the indices of 9,999 values 1 to 9,999", () => {
  const both = empiricalIndices(ranks(9999), { lower: -5000, upper: 20_000 });

  it("are distances of limits from the median, over those of the outer percentiles", () => {
    expect(both?.p?.value).toBeCloseTo(25_000 / (9986.5 - 13.5), 10);
    expect(both?.l?.value).toBeCloseTo(10_000 / (5000 - 13.5), 10);
    expect(both?.u?.value).toBeCloseTo(15_000 / (9986.5 - 5000), 10);
    expect(both?.k).toBe(both?.l);
  });

  // Beyond a percentile with 0.135 % beyond it lie of 9,999 values 5 or fewer with a chance of 0.8 % and 22 or more with one of 2.0 %
  // (binomial, scipy): 6th and 22nd from the end hold it with 95 % and more. At 97.5 % for each of two: 5th and 23rd.
  it.each([
    { of: "u", ends: [15_000 / (9994 - 5000), 15_000 / (9978 - 5000)] },
    { of: "l", ends: [10_000 / (5000 - 6), 10_000 / (5000 - 22)] },
    { of: "p", ends: [25_000 / (9995 - 5), 25_000 / (9977 - 23)] },
  ] as const)("have the interval of the order statistics on both sides of the percentile: $of", (row) => {
    const [low = 0, high = 0] = both?.[row.of]?.interval ?? [];
    expect(low).toBeCloseTo(row.ends[0], 10);
    expect(high).toBeCloseTo(row.ends[1], 10);
  });

  it("have, of as few values as may be, the largest for the outer end", () => {
    const values = ranks(2731);
    const [low = 0, high = 0] = empiricalIndices(values, { upper: 6000 })?.u?.interval ?? [];
    expect(low).toBeCloseTo((6000 - 1366) / (2731 - 1366), 10);
    expect(high).toBeCloseTo((6000 - 1366) / (2731 - 8 - 1366), 10);
  });

  it("are none on a side that has no limit, and none at all where half of the values and more are the largest", () => {
    expect(empiricalIndices(ranks(9999), { upper: 20_000 })).toMatchObject({ p: null, l: null });
    const capped = ranks(9999).map((rank) => Math.min(rank, 4000));
    expect(empiricalIndices(capped, { upper: 20_000 })).toBeNull();
  });
});
