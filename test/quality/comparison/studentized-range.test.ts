import { describe, expect, it } from "vitest";
import {
  studentizedRangeCdf,
  studentizedRangeQuantile,
} from "../../../station/quality/comparison/studentized-range.ts";

describe("the studentized range", () => {
  it("is Student's t for two groups: q is the root of 2 times t", () => {
    // t of 0.975: 12.7062 for 1, 2.2281 for 10 degrees of freedom.
    expect(studentizedRangeQuantile(0.95, 2, 1) / Math.SQRT2).toBeCloseTo(12.7062047, 5);
    expect(studentizedRangeQuantile(0.95, 2, 10) / Math.SQRT2).toBeCloseTo(2.22813885, 7);
  });

  it("rises from 0 to 1 with q, for few and many groups and degrees of freedom", () => {
    for (const [k, df] of [
      [2, 1],
      [5, 3.7],
      [20, 5000],
    ] as const) {
      let before = 0;
      for (let q = 0; q < 60; q += 0.25) {
        const at = studentizedRangeCdf(q, k, df);
        expect(at).toBeGreaterThanOrEqual(before - 1e-11);
        expect(at).toBeLessThanOrEqual(1);
        before = at;
      }
      expect(before).toBeGreaterThan(df === 1 ? 0.97 : 0.999);
      expect(studentizedRangeCdf(studentizedRangeQuantile(0.9, k, df), k, df)).toBeCloseTo(0.9, 9);
    }
  });

  it("has nothing below zero", () => {
    expect(studentizedRangeCdf(-1, 3, 10)).toBe(0);
    expect(studentizedRangeCdf(0, 3, 10)).toBe(0);
  });
});
