import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { atReference_m3_s, capillaryMassFlow } from "../../../sim/plant/gas.ts";
import { capillaryLeaking, capillaryLeakRate_m3_s } from "../../../station/measure/gas/capillary-flow.ts";

const pressures = fc
  .tuple(fc.double({ min: 1e4, max: 1e6, noNaN: true }), fc.double({ min: 0.05, max: 0.9999, noNaN: true }))
  .map(([upstream_Pa, ratio]) => ({ upstream_Pa, downstream_Pa: ratio * upstream_Pa, temperature_K: 290 }));
const length = fc.double({ min: 1e-3, max: 1, noNaN: true });
const relative = (value: number, expected: number) => Math.abs(value / expected - 1);
const drive = { upstream_Pa: 101_325, downstream_Pa: 93_325, temperature_K: 293.15 };

describe("the capillary", () => {
  it("gives its leak back when the flow through it is worked out", () => {
    const leakRate = fc.double({ min: 1e-12, max: 1e-3, noNaN: true });
    fc.assert(
      fc.property(leakRate, length, pressures, (leak, length_m, given) => {
        const { diameter_m } = capillaryLeaking(leak, length_m, given);
        expect(relative(capillaryLeakRate_m3_s(diameter_m, length_m, given), leak)).toBeLessThan(1e-12);
      }),
    );
  });

  it("leaks as the simulated plant's does, written down apart from it", () => {
    const diameter = fc.double({ min: 1e-6, max: 1e-3, noNaN: true });
    fc.assert(
      fc.property(diameter, length, pressures, (diameter_m, length_m, given) => {
        const { upstream_Pa, downstream_Pa, temperature_K } = given;
        const theirs = capillaryMassFlow(diameter_m / 2, length_m, upstream_Pa, downstream_Pa, temperature_K);
        const ours = capillaryLeakRate_m3_s(diameter_m, length_m, given);
        expect(relative(ours, atReference_m3_s(theirs))).toBeLessThan(1e-9);
      }),
    );
  });

  it("leaks sixteen times as much at twice the width, and half as much at twice the length", () => {
    const one = capillaryLeakRate_m3_s(50e-6, 0.01, drive);
    expect(relative(capillaryLeakRate_m3_s(100e-6, 0.01, drive), 16 * one)).toBeLessThan(1e-12);
    expect(relative(capillaryLeakRate_m3_s(50e-6, 0.02, drive), one / 2)).toBeLessThan(1e-12);
  });

  it("is trusted when it is long and slow, and says what speaks against it otherwise", () => {
    expect(capillaryLeaking(1e-9, 0.01, drive).doubt).toBeUndefined();
    expect(capillaryLeaking(1e-6, 0.003, drive).doubt).toBe("too short");
    expect(capillaryLeaking(1e-4, 10, drive).doubt).toBe("turbulent");
    expect(capillaryLeaking(1e-6, 0.001, { ...drive, downstream_Pa: 1000 }).doubt).toBe("choked");
  });

  it("never chokes where an orifice does not, and is doubted there all the same when it would be too fast", () => {
    const leak = fc.double({ min: 1e-10, max: 1e-2, noNaN: true });
    fc.assert(
      fc.property(
        leak,
        length,
        fc.double({ min: 0.53, max: 0.999, noNaN: true }),
        (leak_m3_s, length_m, ratio) => {
          const near = { ...drive, downstream_Pa: ratio * drive.upstream_Pa };
          const { doubt, exitMach } = capillaryLeaking(leak_m3_s, length_m, near);
          expect(doubt).not.toBe("choked");
          if (exitMach > 0.8) expect(doubt).toBeDefined();
        },
      ),
    );
    // 60 L/min through 3 mm, driven by 8 kPa: faster than sound by a formula that does not hold.
    const short = capillaryLeaking(1e-3, 0.003, { ...drive, upstream_Pa: 101_325, downstream_Pa: 93_325 });
    expect(short.exitMach).toBeGreaterThan(1);
    expect(short.doubt).toBe("turbulent");
  });

  it.each([
    [0, 0.01, drive],
    [1e-6, 0, drive],
    [1e-6, 0.01, { ...drive, downstream_Pa: drive.upstream_Pa }],
    [1e-6, 0.01, { ...drive, downstream_Pa: -1 }],
  ])("is refused for a leak of %d, length %d, %o", (leak, length_m, given) => {
    expect(() => capillaryLeaking(leak, length_m, given)).toThrow(RangeError);
  });
});
