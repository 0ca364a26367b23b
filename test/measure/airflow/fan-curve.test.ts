import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { randomStream } from "../../../sim/random.ts";
import type { MeanReading } from "../../../station/measure/airflow/airflow-evidence.ts";
import { measureAirflow } from "../../../station/measure/airflow/performance.ts";
import { curveOf, exactly, gaugePoint, known, told } from "./stated-airflow.ts";

type Fan = (flow_m3_s: number) => number;

/** Points that lie on the fan's curve exactly, or scatter as told. */
function curveThrough(fan: Fan, flows: readonly number[], read: (suction_Pa: number) => MeanReading = known) {
  const points = flows.map((flow_m3_s, i) =>
    gaugePoint(`p${i}`, { flow_m3_s: known(flow_m3_s), suction_Pa: read(fan(flow_m3_s)) }),
  );
  return measureAirflow(points, exactly()).curve;
}

const line: Fan = (q) => 22_000 * (1 - q / 0.068);
/** Between a line and a parabola, and a filter's loss. */
const bent: Fan = (q) => 14_000 * (1 - 0.4 * (q / 0.035) - 0.6 * (q / 0.035) ** 2) - 2.5e6 * q * q;

describe("a fan curve through its points", () => {
  test("is a line through two: 22 kPa sealed, 68 L/s open, 374 W in the middle", () => {
    const curve = curveOf(curveThrough(line, [0.01, 0.05]));
    expect(curve.kind).toBe("line");
    expect(told(curve.suctionAtZeroFlow).value).toBeCloseTo(22_000, 6);
    expect(told(curve.flowAtZeroSuction).value).toBeCloseTo(0.068, 9);
    expect(told(curve.largestSuctionPower).value).toBeCloseTo((22_000 * 0.068) / 4, 6);
    expect(told(curve.largestSuctionPower).flow_m3_s).toBeCloseTo(0.034, 9);
  });

  test("is a parabola through three, which a straight fan, a bent one and a filter's loss all are", () => {
    const curve = curveOf(curveThrough(bent, [0, 0.012, 0.022]));
    expect(curve.kind).toBe("parabola");
    expect(curve.coefficients[0]).toBeCloseTo(14_000, 6);
    expect(curve.coefficients[1]).toBeCloseTo((-14_000 * 0.4) / 0.035, 4);
    expect((curve.coefficients[2] ?? 0) / ((-14_000 * 0.6) / 0.035 ** 2 - 2.5e6)).toBeCloseTo(1, 9);
    expect(bent(told(curve.flowAtZeroSuction).value)).toBeCloseTo(0, 6);
    const best = told(curve.largestSuctionPower);
    expect(best.value).toBeCloseTo(best.flow_m3_s * bent(best.flow_m3_s), 9);
    for (const aside of [0.999, 1.001]) {
      expect(best.value).toBeGreaterThan(best.flow_m3_s * aside * bent(best.flow_m3_s * aside));
    }
    expect(told(curveOf(curveThrough(line, [0, 0.02, 0.05])).flowAtZeroSuction).value).toBeCloseTo(0.068, 9);
  });

  test("does not depend on the order of the points", () => {
    const permutation = fc.shuffledSubarray([0, 0.008, 0.015, 0.021], { minLength: 4, maxLength: 4 });
    const expected = told(curveOf(curveThrough(bent, [0, 0.008, 0.015, 0.021])).largestSuctionPower).value;
    fc.assert(
      fc.property(permutation, (flows) => {
        const { largestSuctionPower } = curveOf(curveThrough(bent, flows));
        expect(told(largestSuctionPower).value / expected).toBeCloseTo(1, 9);
      }),
    );
  });

  test("says which figures lie outside the flows tested", () => {
    const extrapolated = (flows: readonly number[]) => {
      const curve = curveOf(curveThrough(line, flows));
      return [curve.suctionAtZeroFlow, curve.largestSuctionPower, curve.flowAtZeroSuction].map(
        (figure) => told(figure).isExtrapolated,
      );
    };
    expect(extrapolated([0, 0.02, 0.05])).toEqual([false, false, true]);
    expect(extrapolated([0.01, 0.02, 0.03])).toEqual([true, true, true]);
    expect(extrapolated([0, 0.05, 0.068])).toEqual([false, false, false]);
  });
});

describe("what the points can't tell", () => {
  // Fans from a straight line to a square, with filters of any make: none of them but the ends is one of our forms.
  const FANS = [1.25, 1.5, 1.75, 2].flatMap((power) => [0, 0.1, 0.3].map((loss) => ({ power, loss })));
  const SETS = [
    { tested: "closed and two orifices", flows: [0, 0.018, 0.033] },
    { tested: "closed and two orifices far apart", flows: [0, 0.015, 0.048] },
    { tested: "three orifices", flows: [0.012, 0.024, 0.036] },
    { tested: "closed and one orifice", flows: [0, 0.03] },
    { tested: "two orifices", flows: [0.012, 0.042] },
  ];

  test.each(SETS)(
    "is covered with $tested: figures are within 1.8 standard uncertainties of the fan's own",
    ({ flows }) => {
      for (const { power, loss } of FANS) {
        const fan: Fan = (q) => 22_000 * (1 - (q / 0.06) ** power - loss * (q / 0.06) ** 2);
        const curve = curveOf(curveThrough(fan, flows));
        const open_m3_s = bisect(fan, 0, 0.061);
        let best_W = 0;
        for (let q = 0; q < open_m3_s; q += 1e-5) best_W = Math.max(best_W, q * fan(q));
        for (const [figure, truth] of [
          [told(curve.suctionAtZeroFlow), 22_000],
          [told(curve.flowAtZeroSuction), open_m3_s],
          [told(curve.largestSuctionPower), best_W],
        ] as const) {
          // A millionth for the arithmetic.
          expect(Math.abs(figure.value - truth)).toBeLessThan(1.8 * figure.uncertainty + 1e-6 * truth);
        }
      }
    },
  );

  test("is told as the shape of the curve, grows beyond the points, and is nothing at them", () => {
    const curve = curveOf(curveThrough(bent, [0, 0.012, 0.022]));
    const open = told(curve.flowAtZeroSuction);
    expect(open.budget.map(({ component }) => component)).toEqual(["shape of the curve"]);
    expect(open.uncertainty / open.value).toBeGreaterThan(0.005);
    const best = told(curve.largestSuctionPower);
    expect(best.uncertainty / best.value).toBeLessThan(0.01);
    for (const tested of curve.tested) expect(tested.suctionUncertainty_Pa).toBeLessThan(1e-6);
  });
});

describe("no fan curve goes through", () => {
  const at = (pairs: readonly (readonly [number, number])[]) =>
    measureAirflow(
      pairs.map(([q, h], i) => gaugePoint(`p${i}`, { flow_m3_s: known(q), suction_Pa: known(h) })),
      exactly(),
    ).curve;

  test.each([
    { what: "one point", pairs: [[0.02, 9000]] as const, why: /One point/ },
    {
      what: "two points of the same flow",
      pairs: [
        [0.02, 9000],
        [0.0203, 8990],
      ] as const,
      why: /same flow/,
    },
    {
      what: "suction that grows with flow",
      pairs: [
        [0, 9000],
        [0.02, 9500],
      ] as const,
      why: /at p1 than at p0/,
    },
    {
      what: "suction that stays as flow grows",
      pairs: [
        [0, 9000],
        [0.02, 9000],
        [0.03, 100],
      ] as const,
      why: /p1.*p0/,
    },
    {
      what: "points that turn up before the end",
      pairs: [
        [0, 9000],
        [0.01, 5000],
        [0.03, 4800],
      ] as const,
      why: /turns up/,
    },
  ])("$what", ({ pairs, why }) => {
    expect(at(pairs)).toMatchObject({ kind: "none", why: expect.stringMatching(why) });
  });

  test("a fan that is flat at its closed end has a curve all the same", () => {
    const square: Fan = (q) => 20_000 * (1 - (q / 0.06) ** 2);
    expect(told(curveOf(curveThrough(square, [0, 0.02, 0.04])).flowAtZeroSuction).value).toBeCloseTo(0.06, 9);
  });

  test("a closed inlet that a flow gauge reads a little below no flow is no obstacle, for two points or three", () => {
    for (const flows of [
      [-1e-6, 0.03],
      [-1e-6, 0.02, 0.04],
    ]) {
      const { suctionAtZeroFlow } = curveOf(curveThrough(line, flows));
      expect(told(suctionAtZeroFlow).value).toBeCloseTo(22_000, 0);
      expect(told(suctionAtZeroFlow).isExtrapolated).toBe(false);
    }
  });
});

describe("points to spare", () => {
  const FLOWS = [0, 0.006, 0.011, 0.016, 0.021];
  const SIGMA_Pa = 25;

  /** Suctions that scatter by what they are said to. */
  function scattered(seed: number) {
    const random = randomStream(seed, "scatter of points");
    return curveOf(
      curveThrough(bent, FLOWS, (suction_Pa) => known(suction_Pa + SIGMA_Pa * random.normal(), SIGMA_Pa)),
    );
  }

  test("are none for three points: no word on whether the curve fits", () => {
    const curve = curveOf(curveThrough(bent, [0, 0.012, 0.022], (h) => known(h, SIGMA_Pa)));
    expect(curve.fits).toBeNull();
    expect(curve.tested.map(({ normalised }) => normalised)).toEqual([null, null, null]);
  });

  test("fit as often as they should: of 400 stations with true uncertainties one in twenty is below 5 %", () => {
    const chances = Array.from({ length: 400 }, (_, seed) => scattered(seed).fits ?? Number.NaN);
    const below = (level: number) => chances.filter((chance) => chance < level).length / chances.length;
    // Three standard deviations of a count out of 400.
    expect(Math.abs(below(0.05) - 0.05)).toBeLessThan(0.033);
    expect(Math.abs(below(0.5) - 0.5)).toBeLessThan(0.075);
  });

  test("have residuals of unit scatter once normalised, whatever weight a point has on the curve", () => {
    const squares = FLOWS.map(() => 0);
    for (let seed = 0; seed < 400; seed++) {
      for (const [i, { normalised }] of scattered(seed).tested.entries()) {
        squares[i] = (squares[i] ?? 0) + (normalised?.residual ?? Number.NaN) ** 2 / 400;
      }
    }
    for (const square of squares) expect(Math.abs(square - 1)).toBeLessThan(0.25);
  });

  test("find the point that lies off, and say that the curve does not fit", () => {
    const points = FLOWS.map((q, i) => {
      const off = i === 2 ? 1.03 : 1;
      return gaugePoint(`p${i}`, { flow_m3_s: known(q), suction_Pa: known(bent(q) * off, SIGMA_Pa) });
    });
    const { fits, tested } = curveOf(measureAirflow(points, exactly()).curve);
    expect(fits).toBeLessThan(1e-6);
    const worst = [...tested].sort(
      (a, b) => Math.abs(b.normalised?.residual ?? 0) - Math.abs(a.normalised?.residual ?? 0),
    )[0];
    expect(worst?.point).toBe("p2");
    expect(worst?.normalised?.residual).toBeGreaterThan(3);
    expect(worst?.residual_Pa).toBeGreaterThan(0);
  });

  test("make the figures less certain by as much as they scatter more than they should", () => {
    const withOff = (off: number) => {
      const points = FLOWS.map((q, i) => {
        const suction_Pa = bent(q) * (i === 2 ? 1 + off : 1);
        return gaugePoint(`p${i}`, { flow_m3_s: known(q), suction_Pa: known(suction_Pa, SIGMA_Pa) });
      });
      const curve = curveOf(measureAirflow(points, exactly()).curve);
      const degrees = FLOWS.length - 3;
      const chiSquared = curve.tested.reduce(
        (sum, { residual_Pa }) => sum + (residual_Pa / SIGMA_Pa) ** 2,
        0,
      );
      const shape = told(curve.suctionAtZeroFlow).budget.find(({ component }) => /shape/.test(component));
      const scatter = Math.sqrt(
        told(curve.suctionAtZeroFlow).uncertainty ** 2 - (shape?.contribution ?? 0) ** 2,
      );
      return { birge: Math.sqrt(chiSquared / degrees), scatter };
    };
    const { scatter: asSaid, birge: none } = withOff(0);
    expect(none).toBeLessThan(1e-6);
    const { scatter, birge } = withOff(0.03);
    expect(birge).toBeGreaterThan(3);
    expect(scatter / asSaid).toBeCloseTo(birge, 6);
  });

  test("have their flows' scatter counted as well as their suctions': a doubtful flow weighs little", () => {
    const points = FLOWS.map((q, i) => {
      const doubtful = i === 4;
      return gaugePoint(`p${i}`, {
        flow_m3_s: known(doubtful ? 1.1 * q : q, doubtful ? 0.1 * q : 1e-6),
        suction_Pa: known(bent(q), 5),
      });
    });
    const { fits, suctionAtZeroFlow } = curveOf(measureAirflow(points, exactly()).curve);
    expect(fits).toBeGreaterThan(0.05);
    expect(told(suctionAtZeroFlow).value).toBeCloseTo(14_000, -2);
  });
});

function bisect(falling: Fan, from: number, to: number): number {
  let [low, high] = [from, to];
  for (let i = 0; i < 60; i++) {
    const middle = (low + high) / 2;
    if (falling(middle) > 0) low = middle;
    else high = middle;
  }
  return low;
}
