import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { airflowAt, STANDARD_CONDITIONS } from "../../../sim/plant/airflow.ts";
import { capillariesLeaking, type LeakPath, orificeLeaking } from "../../../sim/plant/leak-path.ts";
import {
  fanThrough,
  inletPassing,
  type LeakLaw,
  leakLeaving,
  operatingPoint,
  type StatedFan,
} from "../../../station/measure/airflow/leak-cost.ts";
import { soundCleaner } from "../../sim/sound-cleaner.ts";

const SUCTION_TEST = { pressure_Pa: -8000, barometer_Pa: 101_325 };
const PRESSURE_TEST = { pressure_Pa: 10_000, barometer_Pa: 101_325 };
const INLET = { bore_m: 0.0165, coefficient: 0.62 };
const mL_min = (value: number) => value / 6e7;

function stated(points: Parameters<typeof fanThrough>[0]): StatedFan {
  const fan = fanThrough(points);
  if (!fan) throw new Error("no fan curve");
  return fan;
}

const STRAIGHT = stated({ sealed_Pa: 22_000, open_m3_s: 0.068, middle: null });
const BENT = stated({
  sealed_Pa: 22_000,
  open_m3_s: 0.068,
  middle: { flow_m3_s: 0.034, suction_Pa: 22_000 * (1 - 0.4 * 0.5 - 0.6 * 0.25) },
});

/** The plant's cleaner of the same fan: its own physics, its own solver. */
function plantSuction_Pa(straightness: number, leakPaths: readonly LeakPath[]): number {
  const cleaner = soundCleaner("TUB-12", {
    fan: { sealed_Pa: 22_000, free_m3_s: 0.068, straightness, sealedPower_W: 760, freePower_W: 1205 },
    inletResistance: 0,
    filterResistance: 0,
    leakPaths,
  });
  return airflowAt(cleaner, 0.62 * (Math.PI / 4) * 0.0165 ** 2, STANDARD_CONDITIONS).suction_Pa;
}

describe("what a leak costs in suction", () => {
  const FANS = [
    { kind: "straight", fan: STRAIGHT, straightness: 1 },
    { kind: "bent", fan: BENT, straightness: 0.4 },
  ];
  const LEAKS = [60, 1000, 60_000].flatMap((rate) =>
    [SUCTION_TEST, PRESSURE_TEST].flatMap((leakTest) =>
      (["laminar", "orifice"] as const).map((law) => ({ rate, leakTest, law })),
    ),
  );

  test.each(FANS)(
    "is what the simulated plant loses by the same leak, to 0.5 %, with a $kind fan: inlets by ISO 5167-2 and by Buckingham",
    ({ fan, straightness }) => {
      for (const { rate, leakTest, law } of LEAKS) {
        const leak_m3_s = mL_min(rate);
        const path =
          law === "laminar"
            ? capillariesLeaking(leak_m3_s, leakTest.pressure_Pa, 0.003)
            : orificeLeaking(leak_m3_s, leakTest.pressure_Pa);
        const plant_Pa = plantSuction_Pa(straightness, []) - plantSuction_Pa(straightness, [path]);
        const tight = operatingPoint(fan, INLET, 0, law, leakTest);
        const leaking = operatingPoint(fan, INLET, leak_m3_s, law, leakTest);
        expect(Math.abs(tight.suction_Pa / plantSuction_Pa(straightness, []) - 1)).toBeLessThan(0.0025);
        expect(Math.abs((tight.suction_Pa - leaking.suction_Pa) / plant_Pa - 1)).toBeLessThan(0.005);
        expect(plant_Pa).toBeGreaterThan(0.2);
      }
    },
  );

  test("is 0.50 Pa of 15.40 kPa for 60 mL/min through fine pores, less through a hole: it grows slower with pressure", () => {
    const lost = (law: LeakLaw) =>
      operatingPoint(STRAIGHT, INLET, 0, law, SUCTION_TEST).suction_Pa -
      operatingPoint(STRAIGHT, INLET, mL_min(60), law, SUCTION_TEST).suction_Pa;
    expect(lost("laminar")).toBeCloseTo(0.5005, 4);
    expect(lost("orifice")).toBeCloseTo(0.3592, 4);
  });

  test("never grows with a smaller leak, and leaves fan, inlet and leak in balance", () => {
    const rate = fc.double({ min: 0, max: mL_min(2e6), noNaN: true });
    const law = fc.constantFrom<LeakLaw>("laminar", "orifice");
    fc.assert(
      fc.property(rate, rate, law, fc.constantFrom(STRAIGHT, BENT), (a, b, by, fan) => {
        const [small, large] = [Math.min(a, b), Math.max(a, b)].map((leak_m3_s) =>
          operatingPoint(fan, INLET, leak_m3_s, by, SUCTION_TEST),
        );
        expect(large?.suction_Pa).toBeLessThanOrEqual(small?.suction_Pa ?? Number.NaN);
        const { suction_Pa = 0, inlet_m3_s = 0, leak_m3_s = 0 } = large ?? {};
        const [c0 = 0, c1 = 0, c2 = 0] = fan.coefficients;
        const moved = inlet_m3_s + leak_m3_s;
        expect(c0 + c1 * moved + c2 * moved * moved).toBeCloseTo(suction_Pa, 6);
      }),
    );
  });

  test("is all of it when the leak is larger than anything the fan can move", () => {
    const { suction_Pa, inlet_m3_s } = operatingPoint(BENT, INLET, 1e3, "orifice", SUCTION_TEST);
    expect(suction_Pa).toBeLessThan(0.01);
    expect(inlet_m3_s).toBeLessThan(3e-5);
  });
});

describe("the leak that leaves a suction", () => {
  test("gives back the leak whose cost was asked", () => {
    const rate = fc.double({ min: mL_min(10), max: mL_min(1e6), noNaN: true });
    const law = fc.constantFrom<LeakLaw>("laminar", "orifice");
    const leakTest = fc.constantFrom(SUCTION_TEST, PRESSURE_TEST);
    fc.assert(
      fc.property(rate, law, leakTest, fc.constantFrom(STRAIGHT, BENT), (leak_m3_s, by, at, fan) => {
        const { suction_Pa } = operatingPoint(fan, INLET, leak_m3_s, by, at);
        const found = leakLeaving(fan, INLET, suction_Pa, by, at);
        expect((found ?? 0) / leak_m3_s).toBeCloseTo(1, 6);
      }),
    );
  });

  test("is 48.9 L/min for 15 kPa to remain of 15.40, counted at 8 kPa", () => {
    expect(leakLeaving(STRAIGHT, INLET, 15_000, "laminar", SUCTION_TEST)).toBeCloseTo(0.00081534, 8);
  });

  test("is none where the tight cleaner has not even that, or no fan makes it", () => {
    const tight = operatingPoint(STRAIGHT, INLET, 0, "laminar", SUCTION_TEST).suction_Pa;
    for (const suction_Pa of [tight + 1, 22_000, 30_000, 0]) {
      expect(leakLeaving(STRAIGHT, INLET, suction_Pa, "laminar", SUCTION_TEST)).toBeNull();
    }
  });
});

describe("fan and inlet as stated", () => {
  test("an inlet that passes 16 L/s makes 16 L/s the tight working flow", () => {
    for (const fan of [STRAIGHT, BENT]) {
      const inlet = inletPassing(fan, 0.016, 0.6);
      expect(inlet).not.toBeNull();
      if (!inlet) return;
      const { inlet_m3_s } = operatingPoint(fan, inlet, 0, "laminar", SUCTION_TEST);
      expect(inlet_m3_s).toBeCloseTo(0.016, 9);
    }
    expect(inletPassing(STRAIGHT, 0.016, 0.6)?.bore_m).toBeCloseTo(0.014555, 6);
    expect(inletPassing(STRAIGHT, 0.068, 0.6)).toBeNull();
  });

  test.each([
    { what: "a middle that makes it rise first", middle: { flow_m3_s: 0.034, suction_Pa: 21_000 } },
    { what: "a middle so low that it turns up", middle: { flow_m3_s: 0.034, suction_Pa: 2000 } },
    { what: "a middle beyond its open flow", middle: { flow_m3_s: 0.08, suction_Pa: 2000 } },
  ])("no fan has $what", ({ middle }) => {
    expect(fanThrough({ sealed_Pa: 22_000, open_m3_s: 0.068, middle })).toBeNull();
  });

  test("no fan sucks more than the room has", () => {
    expect(fanThrough({ sealed_Pa: 105_000, open_m3_s: 0.068, middle: null })).toBeNull();
  });
});
