import { describe, expect, it } from "vitest";
import { normalCdf, normalQuantile } from "../../limits/normal.ts";
import { SequentialBoundary, type Spending } from "../../station/measure/leak/sequential-boundary.ts";
import { chancesWithLooks } from "../../station/quality/test-setting/early-stops.ts";

const obrienFlemingType: Spending = (risk, clock) =>
  clock > 0 ? 2 * normalCdf(normalQuantile(risk / 2) / Math.sqrt(clock)) : 0;
const pocockType: Spending = (risk, clock) => risk * Math.log(1 + (Math.E - 1) * clock);
const even: Spending = (risk, clock) => risk * clock;

function boundaries(
  information: readonly number[],
  risk: number,
  spending: Spending,
  clockOf = (k: number) => (k + 1) / information.length,
): number[] {
  const boundary = new SequentialBoundary(risk, spending);
  return information.map((at, k) => boundary.next(1 / Math.sqrt(at), clockOf(k)));
}

describe("the boundary against published tables", () => {
  // Reboussin, DeMets, Kim and Lan, Controlled Clinical Trials 21 (2000) 190-207, the example of five equal looks, one-sided
  // 0.025 (two-sided 0.05). To three decimals from memory, the fourth as quoted from that paper in a public repository's test.
  it.each([
    ["O'Brien-Fleming-type", obrienFlemingType, [4.8769, 3.3569, 2.6803, 2.2898, 2.031]],
    ["Pocock-type", pocockType, [2.438, 2.4268, 2.4101, 2.3966, 2.3859]],
  ] as const)("is the Lan-DeMets boundary of %s spending at five equal looks", (_, spending, published) => {
    boundaries([1, 2, 3, 4, 5], 0.025, spending).forEach((found, k) => {
      expect(found).toBeCloseTo(published[k] ?? Number.NaN, 3);
    });
  });

  // Output of R's ldbounds (a port of those authors' ld98) quoted on the r-help list, March 2020, "output of bounds function":
  // looks at 0.10, 0.33 and 1 of the information, two-sided 0.05, O'Brien-Fleming-type.
  it("is the Lan-DeMets boundary at three looks far from equal", () => {
    const times = [0.1, 0.33, 1];
    const found = boundaries(times, 0.025, obrienFlemingType, (k) => times[k] ?? Number.NaN);
    [6.9913, 3.7308, 1.9605].forEach((published, k) => {
      expect(found[k]).toBeCloseTo(published, 3);
    });
  });

  // Pocock, Biometrika 64 (1977) 191-199; three decimals as in Jennison and Turnbull (2000), table 2.1 (from memory, and as
  // quoted in public repositories): the constant that costs 0.05 two-sided at K equal looks, so 0.025 on each side but for
  // the few paths that cross both.
  it.each([
    [1, 1.96],
    [2, 2.178],
    [3, 2.289],
    [4, 2.361],
    [5, 2.413],
    [10, 2.555],
  ])("spends half of 0.05 at %i looks when held at Pocock's constant %f", (looks, constant) => {
    const spent: number[] = [];
    for (let k = 0; k < looks; k++) {
      let low = spent.at(-1) ?? 0;
      let high = low + 0.05;
      for (let halving = 0; halving < 30; halving++) {
        const middle = (low + high) / 2;
        spent[k] = middle;
        const found = boundaries(
          Array.from({ length: k + 1 }, (_, i) => i + 1),
          0.4,
          (_, look) => spent[Math.round(look * (k + 1)) - 1] ?? Number.NaN,
        );
        if ((found[k] ?? Number.NaN) > constant) low = middle;
        else high = middle;
      }
    }
    expect(spent.at(-1)).toBeCloseTo(0.025, 4);
  });
});

describe("chances of verdicts with looks", () => {
  // Armitage, McPherson and Rowe, J. R. Statist. Soc. A 132 (1969) 235-244, table 2, normal data, nominal two-sided 5 % at
  // each of K equal looks (from memory, and as in most books on sequential trials).
  it.each([
    [1, 0.05],
    [2, 0.083],
    [3, 0.107],
    [4, 0.126],
    [5, 0.142],
    [10, 0.193],
  ])("of one in twenty at each of %i looks add up to %f", (looks, published) => {
    const bound = 1.959964;
    const planned = Array.from({ length: looks }, (_, k) => {
      const sd = 1 / Math.sqrt(k + 1);
      return { after_s: k + 1, bias: 0, sd, passesTo: -bound * sd, failsFrom: bound * sd };
    });
    const last = { bias: 0, sd: 1 / Math.sqrt(looks + 1), accepts: 0 };
    const { early } = chancesWithLooks(planned, last)(0);
    expect(Math.abs(early.reduce((sum, one) => sum + one, 0) - published)).toBeLessThan(5.5e-4);
  });
});

describe("the boundary against SciPy 1.10", () => {
  // R[i,j] = sqrt(min(I_i, I_j) / max(I_i, I_j)); each boundary in turn by brentq from
  // 1 - multivariate_normal.cdf([b_1 .. b_k], cov=R, maxpts=20_000_000, abseps=1e-9, releps=1e-9) = risk * k / K
  it.each([
    { information: [1, 100], risk: 1e-2, scipy: [2.575829, 2.572074] },
    { information: [1, 100], risk: 1e-3, scipy: [3.290527, 3.290078] },
    { information: [1, 1.02], risk: 1e-2, scipy: [2.575829, 2.327953] },
    { information: [1, 1.02], risk: 1e-3, scipy: [3.290527, 3.093926] },
    { information: [1, 4, 400], risk: 1e-2, scipy: [2.713052, 2.684265, 2.708787] },
    { information: [1, 4, 400], risk: 1e-3, scipy: [3.402933, 3.39297, 3.40245] },
    { information: [1, 1.02, 100], risk: 1e-2, scipy: [2.713052, 2.476693, 2.708173] },
    { information: [1, 1.02, 100], risk: 1e-3, scipy: [3.402933, 3.212778, 3.40234] },
    { information: [1, 50, 51], risk: 1e-2, scipy: [2.713052, 2.709552, 2.473253] },
    { information: [1, 50, 51], risk: 1e-3, scipy: [3.402933, 3.402443, 3.212311] },
  ])("is that of the multivariate normal for information $information and risk $risk", (given) => {
    boundaries(given.information, given.risk, even).forEach((found, k) => {
      expect(Math.abs(found - (given.scipy[k] ?? Number.NaN))).toBeLessThan(2e-4);
    });
  });

  // The same recursion on a far finer grid, from z, mass, before, spent = np.array([0.]), np.array([1.]), 0, 0 at each look:
  //   keep, spread = sqrt(before / info), sqrt(1 - before / info)
  //   b = brentq(lambda b: mass @ norm.sf((b - keep * z) / spread) - (risk * k / 40 - spent), -2, 9)
  //   at, weight = 150 panels of np.polynomial.legendre.leggauss(10) from -8.5 to b
  //   z, mass = at, weight * (norm.pdf((at[:, None] - keep * z) / spread) / spread @ mass)
  // A hundredth of the risk is 0.004 in the boundary or less (z dz = 0.01). The slowest growth is next to "no new look".
  it.each([
    { growth: 1.011, risk: 1e-2, scipy: [2.8742669, 2.7182782, 2.5840555] },
    { growth: 1.011, risk: 1e-4, scipy: [4.1417888, 4.0594748, 4.0045578] },
    { growth: 400 ** (1 / 39), risk: 1e-2, scipy: [3.2344326, 3.2222681, 3.2174625] },
    { growth: 400 ** (1 / 39), risk: 1e-4, scipy: [4.4463302, 4.4452712, 4.4451605] },
    { growth: 1.5, risk: 1e-2, scipy: [3.3839205, 3.3823626, 3.3807944] },
    { growth: 1.5, risk: 1e-4, scipy: [4.5306738, 4.5306504, 4.5306384] },
  ])(
    "is within 0.0001 of a fine grid after 10, 20, 40 looks, information x $growth each, risk $risk",
    (given) => {
      const information = Array.from({ length: 40 }, (_, k) => given.growth ** k);
      const found = boundaries(information, given.risk, even);
      [9, 19, 39].forEach((look, k) => {
        expect(Math.abs((found[look] ?? Number.NaN) - (given.scipy[k] ?? Number.NaN))).toBeLessThan(1e-4);
      });
    },
  );
});
