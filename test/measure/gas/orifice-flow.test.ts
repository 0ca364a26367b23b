import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { orificeMassFlow } from "../../../sim/plant/gas.ts";
import {
  CRITICAL_PRESSURE_RATIO,
  type Drive,
  isChoked,
  massFlowOf,
  orificeMassFlux_kg_s_m2,
  sharpEdgedHole,
} from "../../../station/measure/gas/orifice-flow.ts";

const drive: fc.Arbitrary<Drive> = fc
  .record({
    upstream_Pa: fc.double({ min: 1e4, max: 1e6, noNaN: true }),
    ratio: fc.double({ min: 0.05, max: 0.9999, noNaN: true }),
    temperature_K: fc.double({ min: 250, max: 350, noNaN: true }),
  })
  .map(({ upstream_Pa, ratio, temperature_K }) => ({
    upstream_Pa,
    downstream_Pa: upstream_Pa * ratio,
    temperature_K,
  }));
const leakRate = fc.double({ min: 1e-12, max: 1e-2, noNaN: true });
const relative = (value: number, expected: number) => Math.abs(value / expected - 1);

describe("the sharp-edged hole", () => {
  it("gives its leak back when the flow through it is worked out", () => {
    fc.assert(
      fc.property(
        leakRate,
        drive,
        fc.double({ min: 0.1, max: 1, noNaN: true }),
        (leak, given, coefficient) => {
          const { diameter_m } = sharpEdgedHole(leak, given, coefficient);
          const area_m2 = (Math.PI / 4) * diameter_m ** 2;
          const flow_kg_s = coefficient * area_m2 * orificeMassFlux_kg_s_m2(given);
          expect(relative(flow_kg_s, massFlowOf(leak))).toBeLessThan(1e-12);
        },
      ),
    );
  });

  it("has a mass flow that is the simulated plant's, written down apart from it", () => {
    fc.assert(
      fc.property(drive, (given) => {
        const theirs = orificeMassFlow(1, given.upstream_Pa, given.downstream_Pa, given.temperature_K);
        expect(relative(orificeMassFlux_kg_s_m2(given), theirs)).toBeLessThan(1e-9);
      }),
    );
  });

  it("grows with the leak, and shrinks with the pressure difference until it chokes", () => {
    const at = (leak: number, downstream_Pa: number) =>
      sharpEdgedHole(leak, { upstream_Pa: 1e5, downstream_Pa, temperature_K: 293 }, 0.6).diameter_m;
    expect(at(4e-6, 9e4)).toBeCloseTo(2 * at(1e-6, 9e4), 12);
    fc.assert(
      fc.property(fc.double({ min: 2e3, max: 99e3, noNaN: true }), (downstream_Pa) => {
        const wider = at(1e-6, downstream_Pa);
        const narrower = at(1e-6, downstream_Pa - 1e3);
        if (downstream_Pa / 1e5 < CRITICAL_PRESSURE_RATIO) expect(narrower).toBe(wider);
        else expect(narrower).toBeLessThan(wider);
      }),
    );
  });

  it("keeps its digits at the smallest pressure differences: the incompressible jet's speed", () => {
    const given = { upstream_Pa: 100_000.001, downstream_Pa: 100_000, temperature_K: 293.15 };
    const density_kg_m3 = 100_000 / (287.05 * 293.15);
    expect(relative(orificeMassFlux_kg_s_m2(given), Math.sqrt(2 * density_kg_m3 * 0.001))).toBeLessThan(1e-6);
  });

  it("says whether it is choked", () => {
    expect(isChoked({ upstream_Pa: 100_000, downstream_Pa: 52_000, temperature_K: 293 })).toBe(true);
    expect(isChoked({ upstream_Pa: 100_000, downstream_Pa: 53_000, temperature_K: 293 })).toBe(false);
  });

  it.each([
    [1e-6, { upstream_Pa: 1e5, downstream_Pa: 1e5, temperature_K: 293 }, 0.6],
    [1e-6, { upstream_Pa: 9e4, downstream_Pa: 1e5, temperature_K: 293 }, 0.6],
    [1e-6, { upstream_Pa: 1e5, downstream_Pa: 0, temperature_K: 293 }, 0.6],
    [1e-6, { upstream_Pa: 1e5, downstream_Pa: 9e4, temperature_K: 0 }, 0.6],
    [0, { upstream_Pa: 1e5, downstream_Pa: 9e4, temperature_K: 293 }, 0.6],
    [1e-6, { upstream_Pa: 1e5, downstream_Pa: 9e4, temperature_K: 293 }, 0],
  ])("is refused for a leak of %d with %o and coefficient %d", (leak, given, coefficient) => {
    expect(() => sharpEdgedHole(leak, given, coefficient)).toThrow(RangeError);
  });
});
