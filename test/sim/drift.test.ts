import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { loadLimitFolder } from "../../limits/limit-file.ts";
import { readDrift } from "../../sim/drift.ts";
import { LineUp } from "../../sim/line-up.ts";
import { airflowAt, STANDARD_CONDITIONS } from "../../sim/plant/airflow.ts";
import { leakRate_m3_s } from "../../sim/plant/leak-path.ts";
import { Population, type SimulatedUnit } from "../../sim/population.ts";

const models = loadLimitFolder("limits/models");
const pod = models.filter(({ model }) => model === "POD-4");
const SEED = 11;
/** Of the compact body. */
const LEAK_AT_Pa = 5000;

function first(count: number, drift?: string, of = models): SimulatedUnit[] {
  const planted = drift === undefined ? {} : { drift: readDrift(drift) };
  return [...new Population({ seed: SEED, models: of, defectRate: 0.1, ...planted }).units(count)];
}

const leaksOf = (units: readonly SimulatedUnit[]) =>
  units.map(({ body }) => leakRate_m3_s(body.leakPaths, LEAK_AT_Pa));
const sealedSuctionsOf = (units: readonly SimulatedUnit[]) =>
  units.map(({ cleaner }) => airflowAt(cleaner, 0, STANDARD_CONDITIONS).suction_Pa);

const mean = (values: readonly number[]) => values.reduce((sum, it) => sum + it, 0) / values.length;
const deviation = (values: readonly number[]) =>
  Math.sqrt(mean(values.map((it) => (it - mean(values)) ** 2)));

describe("a planted drift", () => {
  it("leaves every unit before it, and every unit of other parts, exactly as they were", () => {
    const usual = first(300);
    const drifting = first(300, "leak rate +2 sd from unit 101 of tub_cavity=P2 with gasket_lot=G2420");
    usual.forEach((unit, k) => {
      if (k >= 100 && unit.parts.tub_cavity === "P2") {
        expect(drifting[k]).toMatchObject({
          ...{ serial: unit.serial, model: unit.model, defects: unit.defects, hasDrift: true },
          parts: { ...unit.parts, gasket_lot: "G2420" },
        });
      } else expect(drifting[k]).toEqual(unit);
    });
    expect(drifting.some(({ hasDrift }) => hasDrift)).toBe(true);
  });

  it("raises the leak rate by so many standard deviations of sound units, and takes suction by hardly anything", () => {
    const usual = first(1000, undefined, pod);
    const drifting = first(1000, "leak rate +1.5 sd from unit 1", pod);
    const sound = usual.filter(({ defects }) => defects.length === 0);
    const [before, after] = [leaksOf(usual), leaksOf(drifting)];
    const spread = deviation(leaksOf(sound));
    for (const [k, value] of after.entries()) {
      const shift = (value - (before[k] ?? 0)) / spread;
      expect(shift).toBeGreaterThan(1.35);
      expect(shift).toBeLessThan(1.65);
    }
    const suction = mean(sealedSuctionsOf(drifting)) / mean(sealedSuctionsOf(usual));
    expect(Math.abs(suction - 1)).toBeLessThan(0.001);
  });

  it("lowers the suction by so many standard deviations of sound units, and leaves leaks alone", () => {
    const usual = first(1000, undefined, pod).filter(({ defects }) => defects.length === 0);
    const drifting = first(1000, "suction -2 sd from unit 1", pod).filter(
      ({ defects }) => defects.length === 0,
    );
    const [before, after] = [sealedSuctionsOf(usual), sealedSuctionsOf(drifting)];
    const shift = (mean(after) - mean(before)) / deviation(before);
    expect(shift).toBeGreaterThan(-2.2);
    expect(shift).toBeLessThan(-1.8);
    expect(leaksOf(drifting)).toEqual(leaksOf(usual));
  });

  it("is in a unit however it comes to the fixture: next in line, or by its serial", () => {
    const lineUp = new LineUp({
      ...{ seed: SEED, models: pod, count: 20 },
      drift: readDrift("suction +1 sd from unit 10"),
    });
    const units = Array.from({ length: 20 }, () => lineUp.next());
    expect(units.map((unit) => unit?.hasDrift ?? false)).toEqual(units.map((_, k) => k >= 9));
    for (const unit of units) expect(lineUp.find(unit?.serial ?? "")).toEqual(unit);
  });

  it("is read as it was written", () => {
    const part = fc.tuple(fc.stringMatching(/^[a-z_]{1,12}$/), fc.stringMatching(/^[A-Z0-9]{1,8}$/));
    fc.assert(
      fc.property(
        fc.constantFrom("leak rate" as const, "suction" as const),
        fc.integer({ min: 1, max: 2000 }),
        fc.integer({ min: 1, max: 999_999_999 }),
        fc.option(part, { nil: undefined }),
        fc.option(part, { nil: undefined }),
        (of, hundredths, fromUnit, within, added) => {
          const tail = `${within ? ` of ${within.join("=")}` : ""}${added ? ` with ${added.join("=")}` : ""}`;
          expect(readDrift(`${of} +${hundredths / 100} sd from unit ${fromUnit}${tail}`)).toEqual({
            ...{ of, shift_sd: hundredths / 100, fromUnit },
            ...(within ? { within: { name: within[0], value: within[1] } } : {}),
            ...(added ? { newPart: { name: added[0], value: added[1] } } : {}),
          });
        },
      ),
    );
  });

  it.each([
    { typed: "", says: '"" is not how a drift is written: give leak rate or suction' },
    { typed: "leak rate 1 sd from unit 5", says: "is not how a drift is written" },
    { typed: "leak rate +1 sd from unit 0", says: "is not how a drift is written" },
    { typed: "power +1 sd from unit 5", says: "is not how a drift is written" },
    { typed: "suction +0 sd from unit 5", says: "up to 20 standard deviations (sd), and not of 0" },
    { typed: "suction -21 sd from unit 5", says: "up to 20 standard deviations" },
    { typed: "leak rate -1 sd from unit 5", says: "A simulated leak rate can only rise: write it with +" },
    { typed: "suction -1 sd from unit 5 of tub_cavity=T1", says: "let one drift of tub_cavity=P1" },
    { typed: "suction -1 sd from unit 5 of colour=red", says: "No unit on this line has colour=red" },
    { typed: "suction -1 sd from unit 5 with gasket_lot=X", says: "POD-4 can't have gasket_lot=X" },
  ])('is refused in a sentence: "$typed"', ({ typed, says }) => {
    expect(() => first(1, typed, pod)).toThrow(
      expect.objectContaining({ name: "DriftError", message: expect.stringContaining(says) }),
    );
  });
});
