import { describe, expect, it } from "vitest";
import {
  AirflowPlant,
  type AirflowState,
  airflowAt,
  type Cleaner,
  STANDARD_CONDITIONS,
} from "../../sim/plant/airflow.ts";
import { orificeLeaking } from "../../sim/plant/leak-path.ts";
import { steadyRoom, withRipple } from "../../sim/plant/room.ts";
import { ORIFICE_DISCHARGE, openArea_m2 } from "../../sim/plant/shutters.ts";
import { soundCleaner } from "./sound-cleaner.ts";

const closed = 0;
const working = openArea_m2(["orifice_1"]);
const open = openArea_m2(["orifice_2"]);

describe("airflow", () => {
  it("gives the 12 L body about 22 kPa sealed, 55 L/s open and 1150 W", () => {
    expect(airflowAt(soundCleaner("TUB-12"), closed, STANDARD_CONDITIONS).suction_Pa).toBeCloseTo(22_000, 0);
    const { flow_m3_s, power_W } = airflowAt(soundCleaner("TUB-12"), open, STANDARD_CONDITIONS);
    expect(flow_m3_s * 1000).toBeCloseTo(55, 0);
    expect(Math.abs(power_W - 1150)).toBeLessThan(10);
  });

  // Common practice, no source: a motor of about 620 W moves about 500 US gallons (1892.7 L) of air a minute.
  it("gives the 4 L body of some 600 W about 500 gallons of air a minute at open inlet", () => {
    const { flow_m3_s, power_W } = airflowAt(soundCleaner("POD-4"), open, STANDARD_CONDITIONS);
    expect(Math.abs((flow_m3_s * 60_000) / (500 * 3.785411784) - 1)).toBeLessThan(0.05);
    expect(Math.abs(power_W - 610)).toBeLessThan(15);
  });

  // ASTM F558 (K1 for 0.625 in, the bore nearest ours): Q = 10.309 D^2 K1 sqrt(h/Dr) L/s, h in inH2O at 68 degF.
  it("draws through its orifice what the published suction-test formula says, within the spread of coefficients", () => {
    const { suction_Pa, flow_m3_s } = airflowAt(soundCleaner("TUB-12"), working, STANDARD_CONDITIONS);
    const h_inH2O = suction_Pa / 248.659;
    const r = 1 - (0.03607 * h_inH2O) / (0.4912 * 29.92);
    const k1 = (0.5692 * r - 0.5767) / (r - 1.0104);
    const expected_L_s = 10.309 * (16.5 / 25.4) ** 2 * k1 * Math.sqrt(h_inH2O);
    expect(Math.abs((flow_m3_s * 1000) / expected_L_s - 1)).toBeLessThan(0.03);
    expect(ORIFICE_DISCHARGE).toBeCloseTo(0.62, 2);
  });

  // ASTM F558 (from memory): Cs = 1 + 0.667 (1 - Dr), Cp = 1 + 0.5 (1 - Dr) bring suction and input power to Dr = 1.
  it.each([0.94, 0.97, 1.03])(
    "pulls in air of %f of the standard density what a suction standard's correction expects",
    (dr) => {
      const thin = { ...STANDARD_CONDITIONS, pressure_Pa: STANDARD_CONDITIONS.pressure_Pa * dr };
      const [normal, high] = [STANDARD_CONDITIONS, thin].map((air) =>
        airflowAt(soundCleaner("TUB-12"), closed, air),
      );
      const corrected = (measured = 0, factor: number) => measured * (1 + factor * (1 - dr));
      // To first order: the standard's line against a power law.
      expect(Math.abs(corrected(high?.suction_Pa, 0.667) / (normal?.suction_Pa ?? 1) - 1)).toBeLessThan(
        0.003,
      );
      expect(Math.abs(corrected(high?.power_W, 0.5) / (normal?.power_W ?? 1) - 1)).toBeLessThan(0.003);
    },
  );

  it("counts the moisture of the air: at the same barometer a damp hall's air is the thinner, and pulls less", () => {
    const damp = { ...STANDARD_CONDITIONS, temperature_K: 300.15, relativeHumidity: 0.8 };
    const dry = { ...damp, relativeHumidity: 0 };
    const ratio = (of: (air: AirflowState) => number, area_m2: number) =>
      of(airflowAt(soundCleaner("TUB-12"), area_m2, damp)) /
      of(airflowAt(soundCleaner("TUB-12"), area_m2, dry));
    // 80 % of 3568 Pa (CIPM-2007, 27 degC) of 100971 Pa, at 18/29 of dry air's mass: 1.07 % thinner.
    const thinner = 1 - (0.378 * 0.8 * 1.0041 * 3568) / 100_971;
    expect(ratio((air) => air.suction_Pa, closed)).toBeCloseTo(thinner ** (2 / 3), 4);
    expect(ratio((air) => air.power_W, closed)).toBeCloseTo(thinner ** 0.5, 4);
    expect(ratio((air) => air.flow_m3_s, open)).toBeGreaterThan(1);
  });

  // Fan laws: suction as speed squared, power as speed cubed.
  it("follows the fan laws when the motor is slow", () => {
    const slow = airflowAt(soundCleaner("TUB-12", { speedFactor: 0.9 }), closed, STANDARD_CONDITIONS);
    expect(slow.suction_Pa).toBeCloseTo(22_000 * 0.81, 0);
    expect(slow.power_W).toBeCloseTo(760 * 0.729, 0);
  });

  it("shows a blocked inlet as less flow at an unchanged sealed suction, a missing filter as more flow", () => {
    const good = soundCleaner("TUB-12");
    const blocked = soundCleaner("TUB-12", { inletResistance: 20 * good.inletResistance });
    const bare = soundCleaner("TUB-12", { filterResistance: 0 });
    const flow = (body: Cleaner) => airflowAt(body, open, STANDARD_CONDITIONS).flow_m3_s;
    expect(flow(blocked)).toBeLessThan(0.85 * flow(good));
    expect(flow(bare)).toBeGreaterThan(1.08 * flow(good));
    expect(airflowAt(blocked, closed, STANDARD_CONDITIONS).suction_Pa).toBeCloseTo(22_000, 0);
  });

  it("loses sealed suction to a gap the size of a missing gasket, and next to none to a leak at the limit", () => {
    const sealed = (leakPaths: Cleaner["leakPaths"]) =>
      airflowAt(soundCleaner("TUB-12", { leakPaths }), closed, STANDARD_CONDITIONS).suction_Pa;
    expect(sealed([{ kind: "orifice", effectiveArea_m2: 45e-6 }])).toBeLessThan(20_500);
    expect(sealed([orificeLeaking(60e-6 / 60, -8000)])).toBeGreaterThan(21_990);
  });

  it("moves no air and takes no power when the motor is dead", () => {
    expect(airflowAt(soundCleaner("POD-4", { speedFactor: 0 }), open, STANDARD_CONDITIONS)).toEqual({
      suction_Pa: 0,
      flow_m3_s: 0,
      power_W: 0,
    });
  });

  it("runs up with an inrush, settles, loses its power at once when switched off and its suction as it coasts", () => {
    const plant = new AirflowPlant(steadyRoom());
    plant.mount(soundCleaner("TUB-12"));
    plant.setMotor(1, true);
    const steady = plant.stateAt(9);
    expect(plant.stateAt(1).suction_Pa).toBeCloseTo(0, 6);
    expect(plant.stateAt(1.05).power_W).toBeGreaterThan(steady.power_W * 1.5);
    expect(plant.stateAt(3.5).power_W / steady.power_W).toBeCloseTo(1, 1);
    plant.setMotor(10, false);
    expect(plant.stateAt(10).power_W).toBe(0);
    expect(plant.stateAt(10.2).suction_Pa).toBeGreaterThan(0.3 * steady.suction_Pa);
    expect(plant.stateAt(18)).toEqual({ suction_Pa: 0, flow_m3_s: 0, power_W: 0 });
  });

  it("comes up to speed late with a tight bearing, and takes its inrush for longer", () => {
    const seenAt = (t_s: number, runUpFactor: number) => {
      const plant = new AirflowPlant(steadyRoom());
      plant.mount(soundCleaner("POD-4", { runUpFactor, speedFactor: runUpFactor > 1 ? 0.95 : 1 }));
      plant.setMotor(0, true);
      return plant.stateAt(t_s);
    };
    const usual = seenAt(3, 1);
    expect(seenAt(3, 6).suction_Pa).toBeLessThan(0.6 * usual.suction_Pa);
    expect(seenAt(3, 6).power_W).toBeGreaterThan(0.9 * usual.power_W);
    expect(seenAt(30, 6).suction_Pa / usual.suction_Pa).toBeCloseTo(0.95 ** 2, 2);
  });

  it("takes more than the fan asks for with shorted turns, as the mains squared, and nothing when switched off", () => {
    const at = (mains_V: number, shortedLoss_W: number) =>
      airflowAt(soundCleaner("POD-4", { shortedLoss_W }), open, { ...STANDARD_CONDITIONS, mains_V });
    expect(at(230, 500).power_W - at(230, 0).power_W).toBeCloseTo(500, 6);
    expect(at(115, 500).power_W - at(115, 0).power_W).toBeCloseTo(125, 6);
    expect(at(230, 500).suction_Pa).toBe(at(230, 0).suction_Pa);
    const plant = new AirflowPlant(steadyRoom());
    plant.mount(soundCleaner("POD-4", { shortedLoss_W: 500 }));
    plant.setMotor(0, true);
    plant.setMotor(5, false);
    expect(plant.stateAt(5).power_W).toBe(0);
  });

  it("shows a ripple of the mains in what it draws, as a beat to a gauge that reads twenty times a second", () => {
    const powers = (relative: number) => {
      const plant = new AirflowPlant(withRipple(steadyRoom(), relative, 19.3));
      plant.mount(soundCleaner("POD-4"));
      plant.setMotor(0, true);
      return Array.from({ length: 40 }, (_, k) => plant.stateAt(20 + k / 20).power_W);
    };
    const spread = (values: readonly number[]) =>
      (Math.max(...values) - Math.min(...values)) / (values[0] ?? Number.NaN);
    expect(spread(powers(0))).toBeLessThan(1e-6);
    // Power goes as the mains to the 1.65th: twice 1.65 times 0.3 %.
    expect(spread(powers(0.003))).toBeCloseTo(0.0099, 3);
    const rising = powers(0.003).slice(0, 8);
    expect(rising).toEqual([...rising].sort((a, b) => b - a));
  });

  it("leaves a motor's run-up the same however often it is looked at", () => {
    const run = (looks: number) => {
      const plant = new AirflowPlant(steadyRoom());
      plant.mount(soundCleaner("POD-4"));
      plant.setMotor(0, true);
      for (let i = 0; i < looks; i++) plant.stateAt(i / looks);
      plant.setOrifice(1, open);
      return plant.stateAt(1.4);
    };
    expect(run(1)).toEqual(run(50));
  });
});
