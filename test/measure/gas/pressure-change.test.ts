import fc from "fast-check";
import { describe, expect, it } from "vitest";
import {
  gasLossRate_m3_s,
  isothermalLeakRate_m3_s,
  thermalPressureFall_Pa,
} from "../../../station/measure/gas/pressure-change.ts";

const positive = (min: number, max: number) => fc.double({ min, max, noNaN: true });
const volume = positive(1e-4, 10);
const time = positive(0.1, 1e5);
const kelvin = positive(200, 400);
const pascal = positive(1000, 1e6);
const close = (value: number, expected: number) =>
  expect(Math.abs(value - expected)).toBeLessThanOrEqual(1e-9 * Math.abs(expected));

describe("leak rate of a change of pressure", () => {
  it("is the isothermal one where the temperature stays, in pressure and in vacuum", () => {
    fc.assert(
      fc.property(volume, time, kelvin, pascal, pascal, (volume_m3, time_s, temperature_K, p1, p2) => {
        fc.pre(Math.abs(p1 - p2) > 1e-3 * p1);
        const rate = gasLossRate_m3_s({
          volume_m3,
          time_s,
          start: { pressure_Pa: p1, temperature_K },
          end: { pressure_Pa: p2, temperature_K },
        });
        close(rate, isothermalLeakRate_m3_s({ volume_m3, time_s, temperature_K, pressureLoss_Pa: p1 - p2 }));
      }),
    );
  });

  it("does not see a change of temperature of a closed volume", () => {
    fc.assert(
      fc.property(volume, time, kelvin, kelvin, pascal, (volume_m3, time_s, T1, T2, p1) => {
        const start = { pressure_Pa: p1, temperature_K: T1 };
        const fall_Pa = thermalPressureFall_Pa(start, T2);
        const end = { pressure_Pa: p1 - fall_Pa, temperature_K: T2 };
        const rate = gasLossRate_m3_s({ volume_m3, time_s, start, end });
        const wholeContent = isothermalLeakRate_m3_s({
          volume_m3,
          time_s,
          temperature_K: T1,
          pressureLoss_Pa: p1,
        });
        expect(Math.abs(rate)).toBeLessThan(1e-12 * wholeContent);
      }),
    );
  });

  it("changes its sign when start and end are swapped: gas out is positive, gas in negative", () => {
    const less = { pressure_Pa: 100_000, temperature_K: 293 };
    const more = { pressure_Pa: 101_000, temperature_K: 293 };
    const out = gasLossRate_m3_s({ volume_m3: 1, time_s: 1, start: more, end: less });
    expect(out).toBeGreaterThan(0);
    expect(gasLossRate_m3_s({ volume_m3: 1, time_s: 1, start: less, end: more })).toBe(-out);
  });

  it("grows with the volume and falls with the time", () => {
    const change = { volume_m3: 0.012, time_s: 20, temperature_K: 293.15, pressureLoss_Pa: 150 };
    const rate = isothermalLeakRate_m3_s(change);
    close(isothermalLeakRate_m3_s({ ...change, volume_m3: 0.024 }), 2 * rate);
    close(isothermalLeakRate_m3_s({ ...change, time_s: 40 }), rate / 2);
  });

  it.each([
    { volume_m3: 0 },
    { volume_m3: Number.NaN },
    { time_s: 0 },
    { time_s: -1 },
    { start: { pressure_Pa: 0, temperature_K: 293 } },
    { end: { pressure_Pa: -5, temperature_K: 293 } },
    { end: { pressure_Pa: 1e5, temperature_K: 0 } },
  ])("is refused for %o", (wrong) => {
    const state = { pressure_Pa: 1e5, temperature_K: 293 };
    const change = { volume_m3: 1, time_s: 1, start: state, end: state };
    expect(() => gasLossRate_m3_s({ ...change, ...wrong })).toThrow(RangeError);
  });
});
