import { describe, expect, it } from "vitest";
import { atReference_m3_s, GAS_CONSTANT_J_kgK, HEAT_RATIO } from "../../sim/plant/gas.ts";
import { type Fixture, Housing, type HousingBody } from "../../sim/plant/housing.ts";
import { capillariesLeaking, leakRate_m3_s, orificeLeaking } from "../../sim/plant/leak-path.ts";
import { type Room, steadyRoom } from "../../sim/plant/room.ts";

const p0_Pa = 101_325;
const T0_K = 293.15;
const sealed = { source: false, isolate: false, vent: false };
const filling = { source: true, isolate: true, vent: false };

const rigidBody: HousingBody = {
  volume_m3: 0.012,
  elasticCompliance_m3_Pa: 0,
  creepCompliance_m3_Pa: 0,
  creepTau_s: 15,
  thermalTau_s: 4,
  wallOffset_K: 0,
  leakPaths: [],
};
const fixture: Fixture = {
  volume_m3: 0.0004,
  leakPaths: [],
  ventArea_m2: 1e-5,
  reservoir_m3: 0.02,
  regulator_kg_sPa: 1e-5,
};

function bench(
  body: Partial<HousingBody>,
  options: { room?: Room; tolerance_Pa?: number; set_Pa?: number } = {},
) {
  const { room = steadyRoom(), set_Pa = -8000, ...rest } = options;
  const housing = new Housing({ room, fixture, ...rest });
  housing.mount(0, { ...rigidBody, ...body }, { pressure_Pa: set_Pa, restrictorArea_m2: 2.2e-6 });
  return housing;
}

/** Filled to the source's very pressure, settled for minutes, closed off at t = 300 s. */
function settledAt(set_Pa: number, body: Partial<HousingBody>) {
  const housing = bench(body, { set_Pa });
  housing.setValves(0, filling);
  housing.setValves(300, sealed);
  return housing;
}

describe("the housing", () => {
  it("keeps every gram in a tight sealed body", () => {
    const housing = settledAt(-8000, { elasticCompliance_m3_Pa: 5e-10, creepCompliance_m3_Pa: 1e-10 });
    const before = housing.stateAt(300).mass_kg;
    for (const t_s of [301, 310, 400, 1000]) {
      expect(Math.abs(housing.stateAt(t_s).mass_kg / before - 1)).toBeLessThan(1e-12);
    }
  });

  it("loses exactly the mass that its leak passes", () => {
    const leakPaths = [orificeLeaking(40e-6 / 60, -8000), capillariesLeaking(60e-6 / 60, -8000, 0.003)];
    const housing = settledAt(-8000, { leakPaths });
    const step_s = 0.5;
    let passed_kg = 0;
    const rate_kg_s = (t_s: number) => {
      const gauge_Pa = housing.stateAt(t_s).pressure_Pa;
      // Leak rates are stated for air at 20 degC on both sides, which is what comes in from this room.
      return (leakRate_m3_s(leakPaths, gauge_Pa) * p0_Pa) / (GAS_CONSTANT_J_kgK * T0_K);
    };
    const start = housing.stateAt(300).mass_kg;
    // Simpson's rule over the way the pressure takes.
    for (let t_s = 300; t_s < 330; t_s += step_s) {
      const [from, middle, to] = [rate_kg_s(t_s), rate_kg_s(t_s + step_s / 2), rate_kg_s(t_s + step_s)];
      passed_kg += ((from + 4 * middle + to) * step_s) / 6;
    }
    expect((housing.stateAt(330).mass_kg - start) / passed_kg).toBeCloseTo(1, 5);
  });

  // Ideal gas law, p V = m R T.
  it("obeys the ideal gas law at rest, and while it does not rest", () => {
    const housing = bench({ elasticCompliance_m3_Pa: 5e-10 });
    housing.setValves(0, filling);
    for (const t_s of [0.5, 3, 60, 600]) {
      const { pressure_Pa, volume_m3, mass_kg, temperature_K } = housing.stateAt(t_s);
      const law = (mass_kg * GAS_CONSTANT_J_kgK * temperature_K) / volume_m3;
      expect((pressure_Pa + p0_Pa) / law).toBeCloseTo(1, 9);
      expect(volume_m3).toBeCloseTo(0.0124 + 5e-10 * pressure_Pa, 12);
    }
    expect(housing.stateAt(600).temperature_K).toBeCloseTo(T0_K, 3);
  });

  // Isothermal decay: V dp/dt = q p_ref at 20 degC (the ideal gas amount balance of 40 CFR 1065.644).
  it.each([-8000, 5000])("decays from %i Pa at the rate q p_ref / V of its stated leak", (set_Pa) => {
    const leakPaths = [capillariesLeaking(60e-6 / 60, set_Pa, 0.003)];
    const housing = settledAt(set_Pa, { leakPaths });
    // At first the gas answers adiabatically; after some time constants the wall holds its temperature.
    const [first, middle, last] = [housing.stateAt(330), housing.stateAt(332), housing.stateAt(334)];
    const leak_m3_s = leakRate_m3_s(leakPaths, middle.pressure_Pa);
    const slope_Pa_s = (last.pressure_Pa - first.pressure_Pa) / 4;
    // Half a percent: the gas lags a little behind the wall as the pressure changes.
    expect(slope_Pa_s / ((Math.sign(-set_Pa) * leak_m3_s * p0_Pa) / 0.0124)).toBeCloseTo(1, 2);
    const lost_m3_s = Math.abs(atReference_m3_s((last.mass_kg - first.mass_kg) / 4));
    expect(lost_m3_s / leak_m3_s).toBeCloseTo(1, 3);
  });

  // Charging a rigid adiabatic vessel from a line at T0: T2 = k T0 / (1 + (k - 1) p1/p2), which is k T0 for an
  // evacuated vessel (uniform-state charging, in any thermodynamics text, for example Cengel and Boles).
  it.each([5000, 50_000])("heats by the textbook amount when filled adiabatically to %i Pa", (set_Pa) => {
    const housing = bench({ thermalTau_s: Number.POSITIVE_INFINITY }, { set_Pa });
    housing.setValves(0, filling);
    const { pressure_Pa, temperature_K } = housing.stateAt(600);
    const expected_K = (HEAT_RATIO * T0_K) / (1 + ((HEAT_RATIO - 1) * p0_Pa) / (p0_Pa + pressure_Pa));
    expect(pressure_Pa).toBeCloseTo(set_Pa, 0);
    expect(temperature_K).toBeCloseTo(expected_K, 2);
  });

  // What stays in a vessel being emptied expands isentropically: T2 = T1 (p2/p1)^((k-1)/k).
  it("cools isentropically when evacuated adiabatically", () => {
    const housing = bench({ thermalTau_s: Number.POSITIVE_INFINITY }, { set_Pa: -8000 });
    housing.setValves(0, filling);
    const { pressure_Pa, temperature_K } = housing.stateAt(600);
    const expected_K = T0_K * ((p0_Pa + pressure_Pa) / p0_Pa) ** ((HEAT_RATIO - 1) / HEAT_RATIO);
    expect(temperature_K).toBeCloseTo(expected_K, 2);
  });

  it("relaxes after a fast fill with the thermal time constant of the body", () => {
    const housing = bench({ thermalTau_s: 4 });
    housing.setValves(0, filling);
    housing.setValves(5, sealed);
    const end_Pa = housing.stateAt(105).pressure_Pa;
    const again = bench({ thermalTau_s: 4 });
    again.setValves(0, filling);
    again.setValves(5, sealed);
    const left = (t_s: number) => again.stateAt(t_s).pressure_Pa - end_Pa;
    const [first, second] = [left(6), left(14)];
    expect(Math.abs(first)).toBeGreaterThan(300);
    // Constant volume, less gas than at ambient: the time constant shrinks with the mass (by 7 %).
    const massRatio = again.stateAt(14).mass_kg / ((p0_Pa * 0.0124) / (GAS_CONSTANT_J_kgK * T0_K));
    expect(8 / Math.log(first / second)).toBeCloseTo(4 * massRatio, 2);
  });

  it("creeps towards its slow volume with the creep time constant", () => {
    const creep = 2e-10;
    const housing = bench({ creepCompliance_m3_Pa: creep, thermalTau_s: 0.5 }, { set_Pa: -8000 });
    housing.setValves(0, filling);
    const volume = (t_s: number) => housing.stateAt(t_s).volume_m3;
    const [at30, at45] = [volume(30), volume(45)];
    const last = 0.0124 - 8000 * creep;
    expect((at45 - last) / (at30 - last)).toBeCloseTo(Math.exp(-1), 2);
  });

  // A sealed adiabatic gas whose wall moves slowly changes state isentropically: T V^(k-1) is constant.
  it("does work on the gas when the wall moves", () => {
    const housing = bench({
      thermalTau_s: Number.POSITIVE_INFINITY,
      elasticCompliance_m3_Pa: 1e-8,
      creepCompliance_m3_Pa: 2e-8,
    });
    housing.setValves(0, filling);
    housing.setValves(8, sealed);
    const [before, after] = [housing.stateAt(8), housing.stateAt(200)];
    expect(1 - after.volume_m3 / before.volume_m3).toBeGreaterThan(0.003);
    const expected_K = before.temperature_K * (before.volume_m3 / after.volume_m3) ** (HEAT_RATIO - 1);
    expect(after.temperature_K - before.temperature_K).toBeGreaterThan(0.3);
    expect(after.temperature_K).toBeCloseTo(expected_K, 2);
  });

  it("is accurate far below a gauge's resolution: a tolerance a hundred times finer changes nothing", () => {
    const run = (tolerance_Pa: number) => {
      const leakPaths = [orificeLeaking(60e-6 / 60, -8000)];
      const housing = bench({ leakPaths, elasticCompliance_m3_Pa: 5e-10 }, { tolerance_Pa });
      housing.setValves(0, filling);
      const samples: number[] = [];
      for (let i = 1; i <= 300; i++) samples.push(housing.stateAt(i * 0.02).pressure_Pa);
      housing.setValves(6, sealed);
      for (let i = 1; i <= 1500; i++) samples.push(housing.stateAt(6 + i * 0.02).pressure_Pa);
      housing.setValves(36, { ...sealed, vent: true });
      for (let i = 1; i <= 200; i++) samples.push(housing.stateAt(36 + i * 0.02).pressure_Pa);
      return samples;
    };
    const [usual, fine] = [run(0.001), run(0.00001)];
    const worst_Pa = Math.max(...usual.map((value, i) => Math.abs(value - (fine[i] ?? Number.NaN))));
    expect(worst_Pa).toBeLessThan(0.02);
  });

  it("takes the same way whoever looks, and however often", () => {
    const run = (looks: number) => {
      const housing = bench({ leakPaths: [orificeLeaking(1e-6, -8000)] });
      housing.setValves(0, filling);
      for (let i = 1; i <= looks; i++) housing.stateAt((5 * i) / looks);
      return housing.stateAt(5).pressure_Pa;
    };
    expect(run(1)).toBe(run(977));
  });

  it("never reaches pressure through a gap its source cannot feed, while the source stays near its setting", () => {
    const housing = bench({ leakPaths: [{ kind: "orifice", effectiveArea_m2: 45e-6 }] }, { set_Pa: -8240 });
    housing.setValves(0, filling);
    const { pressure_Pa, source_Pa } = housing.stateAt(10);
    expect(Math.abs(pressure_Pa)).toBeLessThan(100);
    expect(source_Pa).toBeLessThan(-8240 * 0.96);
  });

  it("is only the hose when the body is cut off: no leak of it is felt, and it fills in its part of the time", () => {
    const leakPaths = [orificeLeaking(500e-6 / 60, -8000)];
    const timeTo = (housing: Housing, pressure_Pa: number) => {
      let t_s = 0;
      while (housing.stateAt(t_s).pressure_Pa > pressure_Pa) t_s += 0.005;
      return t_s;
    };
    const whole = bench({});
    const cut = bench({ leakPaths });
    cut.setCutOff(0, true);
    whole.setValves(0, filling);
    cut.setValves(0, filling);
    // Ideal gas: the time to a pressure goes with the volume, here 0.4 L of 12.4 L, the heat changing little of it.
    const share = timeTo(cut, -6000) / timeTo(whole, -6000);
    expect(share / (0.4 / 12.4)).toBeGreaterThan(0.8);
    expect(share / (0.4 / 12.4)).toBeLessThan(1.3);
    cut.setValves(5, sealed);
    expect(cut.stateAt(60).volume_m3).toBeCloseTo(fixture.volume_m3, 9);
    expect(Math.abs(cut.stateAt(60).pressure_Pa - cut.stateAt(20).pressure_Pa)).toBeLessThan(1);
  });

  it("mixes the air of hose and body when they are connected again, gram by gram", () => {
    const housing = settledAt(-8000, { elasticCompliance_m3_Pa: 5e-10, creepCompliance_m3_Pa: 1e-10 });
    const before = housing.stateAt(300);
    housing.setCutOff(300, true);
    expect(housing.stateAt(300).pressure_Pa).toBeCloseTo(before.pressure_Pa, 6);
    housing.setCutOff(310, false);
    expect(housing.stateAt(310).mass_kg / before.mass_kg).toBeCloseTo(1, 12);
    expect(housing.stateAt(310).pressure_Pa).toBeCloseTo(before.pressure_Pa, 1);

    housing.setCutOff(310, true);
    housing.setValves(310, { ...sealed, vent: true });
    housing.setValves(315, sealed);
    expect(Math.abs(housing.stateAt(315).pressure_Pa)).toBeLessThan(1);
    housing.setCutOff(315, false);
    // 12 of 12.4 L still hold what they held.
    const mixed_Pa = housing.stateAt(315).pressure_Pa / before.pressure_Pa;
    expect(mixed_Pa).toBeGreaterThan(0.955);
    expect(mixed_Pa).toBeLessThan(0.98);
  });

  it("stays cut off for the next body, which is full of room air behind the kink", () => {
    const housing = bench({});
    housing.setCutOff(0, true);
    housing.mount(1, rigidBody);
    expect(housing.stateAt(1).volume_m3).toBeCloseTo(fixture.volume_m3, 9);
    housing.setCutOff(2, false);
    expect(housing.stateAt(2).pressure_Pa).toBeCloseTo(0, 6);
    expect(housing.stateAt(2).volume_m3).toBeCloseTo(fixture.volume_m3 + rigidBody.volume_m3, 9);
  });

  it("shows no pressure on a bare fixture", () => {
    const housing = new Housing({ room: steadyRoom(), fixture });
    housing.setValves(0, filling);
    expect(housing.stateAt(5).pressure_Pa).toBe(0);
  });

  it("vents to ambient within seconds", () => {
    const housing = settledAt(-8000, {});
    housing.setValves(300, { ...sealed, vent: true });
    expect(Math.abs(housing.stateAt(303).pressure_Pa)).toBeLessThan(20);
  });
});
