import { spawnSync } from "node:child_process";
import { describe, expect, it } from "vitest";
import { loadLimitFolder } from "../../limits/limit-file.ts";
import { dischargeCoefficient, INLET_PLATE, plateDrop_Pa } from "../../sim/plant/flow-plate.ts";
import { airDensity_kg_m3, airViscosity_Pa_s } from "../../sim/plant/gas.ts";
import { steadyRoom } from "../../sim/plant/room.ts";
import { Population } from "../../sim/population.ts";
import { StationPlant } from "../../sim/station-plant.ts";
import { VirtualClock } from "../../sim/virtual-clock.ts";
import { TestCable } from "./wire.ts";

const AIR = { pressure_Pa: 101_325, temperature_K: 293.15, density_kg_m3: airDensity_kg_m3(101_325, 293.15) };
// From a Reynolds number of 5300; below 5000 the standard does not go.
const MASS_FLOWS_kg_s = [0.006, 0.01, 0.025, 0.04, 0.06, 0.08];

/** Debian's, where python3-fluids is. */
const PYTHON = "/usr/bin/python3";
const SOLVE = `
import json, sys
from fluids.flow_meter import differential_pressure_meter_solver as solve
q = json.load(sys.stdin)
print(json.dumps([q["p"] - solve(D=q["pipe"], D2=q["bore"], rho=q["rho"], mu=q["mu"], k=1.4, P1=q["p"], m=m,
  meter_type="ISO 5167 orifice", taps="D and D/2") for m in q["m"]]))
`;

function fluidsDrops_Pa(): number[] {
  const question = {
    pipe: INLET_PLATE.pipe_m,
    bore: INLET_PLATE.bore_m,
    rho: AIR.density_kg_m3,
    mu: airViscosity_Pa_s(AIR.temperature_K),
    p: AIR.pressure_Pa,
    m: MASS_FLOWS_kg_s,
  };
  const { status, stdout, stderr } = spawnSync(PYTHON, ["-c", SOLVE], {
    input: JSON.stringify(question),
    encoding: "utf8",
  });
  if (status !== 0)
    throw new Error(`python3-fluids gave no answer (Debian package python3-fluids): ${stderr}`);
  return JSON.parse(stdout);
}

describe("the plate in the inlet pipe", () => {
  // ISO 5167-2:2003 equation 4, from two other implementations: D = 80 mm, d = 48 mm, Re = 80000, D and D/2 taps.
  it("has the published coefficient", () => {
    expect(dischargeCoefficient(INLET_PLATE, 80_000)).toBeCloseTo(0.6126012702, 8);
  });

  it("drops what python3-fluids says it drops, from a trickle to an open inlet", () => {
    const expected = fluidsDrops_Pa();
    expect(expected).toHaveLength(MASS_FLOWS_kg_s.length);
    for (const [i, massFlow_kg_s] of MASS_FLOWS_kg_s.entries()) {
      const drop_Pa = plateDrop_Pa(INLET_PLATE, massFlow_kg_s, AIR);
      expect(Math.abs(drop_Pa / (expected[i] ?? Number.NaN) - 1), `${massFlow_kg_s} kg/s`).toBeLessThan(1e-6);
    }
  });

  it("drops nothing at rest", () => {
    expect(plateDrop_Pa(INLET_PLATE, 0, AIR)).toBe(0);
  });

  it("is read over its own wire while the cleaner runs, whatever the demo station makes of it", async () => {
    const clock = new VirtualClock();
    const models = loadLimitFolder("limits/models");
    const plant = new StationPlant({ clock, seed: 1, models, room: steadyRoom() });
    const [plate, io] = [new TestCable(), new TestCable()];
    plant.instruments.get("flow_plate")?.attach(plate.far);
    plant.instruments.get("io_block")?.attach(io.far);
    plant.mount(new Population({ seed: 1, models, defectRate: 0 }).unitAt(0));
    const drop_Pa = async (): Promise<number> => {
      plate.lines();
      plate.say("MEAS:DROP?\n");
      await clock.advance_s(0.05);
      return Number(plate.lines()[0]);
    };
    expect(Math.abs(await drop_Pa())).toBeLessThan(3);
    io.say("SET motor=1 orifice_2=1\n");
    for (let beat = 0; beat < 20; beat++) {
      await clock.advance_s(0.5);
      io.say("BEAT\n");
      await drop_Pa();
    }
    const flow_m3_s = plant.air.flow_m3_s;
    const shown_Pa = await drop_Pa();
    // Sharp-edged plate, incompressible, by hand: q = C E A sqrt(2 dp / rho) with C 0.61 and E 1.072.
    const density = AIR.density_kg_m3;
    const byHand_m3_s = 0.61 * 1.072 * (Math.PI / 4) * 0.048 ** 2 * Math.sqrt((2 * shown_Pa) / density);
    expect(flow_m3_s).toBeGreaterThan(0.02);
    expect(byHand_m3_s / flow_m3_s).toBeCloseTo(1, 1);
  });
});
