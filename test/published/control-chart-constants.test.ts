import { describe, expect, it } from "vitest";
import { type ChartConstants, chartConstants } from "../../station/quality/control-chart/constants.ts";
import { rangeMoments } from "../../station/quality/control-chart/range-distribution.ts";

// As printed in the table of factors of ASTM E2587 and in AIAG's SPC manual (from memory, held against two independent
// integrations); a dash in the tables is 0. Printed tables round, and not always to nearest: 0.001 is allowed.
const PRINTED = `
n  d2    d3    c4     A2    A3    D3    D4    B3    B4    E2
2  1.128 0.853 0.7979 1.880 2.659 0     3.267 0     3.267 2.660
3  1.693 0.888 0.8862 1.023 1.954 0     2.575 0     2.568 1.772
4  2.059 0.880 0.9213 0.729 1.628 0     2.282 0     2.266 1.457
5  2.326 0.864 0.9400 0.577 1.427 0     2.114 0     2.089 1.290
6  2.534 0.848 0.9515 0.483 1.287 0     2.004 0.030 1.970 1.184
7  2.704 0.833 0.9594 0.419 1.182 0.076 1.924 0.118 1.882 1.109
8  2.847 0.820 0.9650 0.373 1.099 0.136 1.864 0.185 1.815 1.054
9  2.970 0.808 0.9693 0.337 1.032 0.184 1.816 0.239 1.761 1.010
10 3.078 0.797 0.9727 0.308 0.975 0.223 1.777 0.284 1.716 0.975
11 3.173 0.787 0.9754 0.285 0.927 0.256 1.744 0.321 1.679 0.945
12 3.258 0.778 0.9776 0.266 0.886 0.283 1.717 0.354 1.646 0.921
13 3.336 0.770 0.9794 0.249 0.850 0.307 1.693 0.382 1.618 0.899
14 3.407 0.763 0.9810 0.235 0.817 0.328 1.672 0.406 1.594 0.881
15 3.472 0.756 0.9823 0.223 0.789 0.347 1.653 0.428 1.572 0.864
16 3.532 0.750 0.9835 0.212 0.763 0.363 1.637 0.448 1.552 0.849
17 3.588 0.744 0.9845 0.203 0.739 0.378 1.622 0.466 1.534 0.836
18 3.640 0.739 0.9854 0.194 0.718 0.391 1.608 0.482 1.518 0.824
19 3.689 0.734 0.9862 0.187 0.698 0.403 1.597 0.497 1.503 0.813
20 3.735 0.729 0.9869 0.180 0.680 0.415 1.585 0.510 1.490 0.803
21 3.778 0.724 0.9876 0.173 0.663 0.425 1.575 0.523 1.477 0.794
22 3.819 0.720 0.9882 0.167 0.647 0.434 1.566 0.534 1.466 0.785
23 3.858 0.716 0.9887 0.162 0.633 0.443 1.557 0.545 1.455 0.778
24 3.895 0.712 0.9892 0.157 0.619 0.451 1.548 0.555 1.445 0.770
25 3.931 0.708 0.9896 0.153 0.606 0.459 1.541 0.565 1.435 0.763
`;
const [HEADER, ...ROWS] = PRINTED.trim()
  .split("\n")
  .map((line) => line.split(/\s+/));

/** The same to more places, by SciPy's quadrature of Tippett's integrals and its gamma function. */
const BY_SCIPY: readonly (readonly [n: number, d2: number, d3: number])[] = [
  [5, 2.3259289472810387, 0.8640819410994574],
  [10, 3.0775054616703454, 0.7970506735193238],
  [100, 5.015187272883368, 0.6051791094874991],
  [1000, 6.482871538266876, 0.496735185785283],
  [10000, 7.7032316341333384, 0.4301277758247119],
];

describe("the constants of control charts", () => {
  it.each(ROWS.map((row) => [Number(row[0]), row] as const))(
    "are those of the printed tables for n = %i",
    (n, row) => {
      const found = chartConstants(n);
      for (const [k, name] of (HEADER ?? []).entries()) {
        if (name === "n") continue;
        const ours = found[name as keyof ChartConstants];
        // E2 for n = 2 is printed from the rounded d2, 3 / 1.128.
        const allowed = name === "E2" && n === 2 ? 0.0015 : 0.001;
        expect(Math.abs(ours - Number(row[k])), `${name} ${ours}`).toBeLessThanOrEqual(allowed);
      }
    },
  );

  it("are exact where a closed form is known: two and three values", () => {
    expect(rangeMoments(2).d2).toBeCloseTo(2 / Math.sqrt(Math.PI), 13);
    expect(rangeMoments(2).d3).toBeCloseTo(Math.sqrt(2 - 4 / Math.PI), 13);
    expect(rangeMoments(3).d2).toBeCloseTo(3 / Math.sqrt(Math.PI), 13);
    expect(chartConstants(2).c4).toBeCloseTo(Math.sqrt(2 / Math.PI), 14);
    expect(chartConstants(3).c4).toBeCloseTo(Math.sqrt(Math.PI) / 2, 14);
  });

  it.each(BY_SCIPY)("agree with SciPy's quadrature to nine places for n = %i", (n, d2, d3) => {
    expect(Math.abs(rangeMoments(n).d2 - d2)).toBeLessThan(1e-9);
    expect(Math.abs(rangeMoments(n).d3 - d3)).toBeLessThan(1e-9);
  });
});
