import { describe, expect, it } from "vitest";
import { loadLimitFolder } from "../../limits/limit-file.ts";
import { Population, type SimulatedUnit } from "../../sim/population.ts";
import { referencePieces } from "../../sim/reference-pieces.ts";
import { StationPlant } from "../../sim/station-plant.ts";
import { VirtualClock } from "../../sim/virtual-clock.ts";
import { TestCable } from "./wire.ts";

const models = loadLimitFolder("limits/models");

function bench(seed = 7) {
  const clock = new VirtualClock();
  const plant = new StationPlant({ clock, seed, models });
  const [io, gauge, airflow, power] = ["io_block", "leak_gauge", "airflow_gauge", "power_meter"].map(
    (name) => {
      const cable = new TestCable();
      plant.instruments.get(name)?.attach(cable.far);
      return cable;
    },
  );
  if (!io || !gauge || !airflow || !power) throw new Error("the plant lacks an instrument");
  /** Sets outputs and lets time pass, keeping the watchdog awake. */
  const drive = async (levels: string, hold_s: number) => {
    io.say(`SET ${levels}\r\n`);
    for (let left_s = hold_s; left_s > 0; left_s -= 0.5) {
      await clock.advance_s(Math.min(0.5, left_s));
      io.say("BEAT\r\n");
    }
  };
  const pressures = () => gauge.lines().map((line) => Number(/P=(\S+)/.exec(line)?.[1]));
  const numbers = async (cable: TestCable, question: string) => {
    cable.say(`${question}\n`);
    await clock.advance_s(0.02);
    return (cable.lines().at(-1) ?? "").split(";").map(Number);
  };
  return { clock, plant, drive, pressures, airflow, power, numbers };
}

function reference(model: string, kind: "tight" | "leak"): SimulatedUnit {
  const limits = models.find((one) => one.model === model);
  if (!limits) throw new Error(`no limits for ${model}`);
  return referencePieces(limits)[kind].unit;
}

/** Pressure change over 8 s after half a minute of settling. */
async function decay_Pa(unit: SimulatedUnit, day: string | null): Promise<number> {
  const { plant, drive, pressures } = bench();
  plant.instruments.get("io_block")?.misbehave(day);
  plant.mount(unit);
  await drive("source=1 isolate=1 vent=0", 7);
  await drive("isolate=0", 30);
  pressures();
  await drive("isolate=0", 8);
  const curve = pressures();
  return (curve.at(-1) ?? Number.NaN) - (curve[0] ?? Number.NaN);
}

describe("the simulated station", () => {
  it.each([
    ["TUB-12", -8000],
    ["POD-4", 5000],
  ])("fills a %s towards %i Pa, loses some of it to the gas's heat, and vents", async (model, target_Pa) => {
    const { plant, drive, pressures } = bench();
    plant.mount(reference(model, "tight"));
    await drive("source=1 isolate=1 vent=0", 8);
    const filled_Pa = pressures().at(-1) ?? 0;
    expect(filled_Pa / target_Pa).toBeGreaterThan(0.97);
    await drive("isolate=0 source=0", 30);
    const settled_Pa = pressures().at(-1) ?? 0;
    expect(settled_Pa / target_Pa).toBeGreaterThan(0.7);
    expect(settled_Pa / filled_Pa).toBeLessThan(0.97);
    await drive("vent=1", 3);
    expect(Math.abs(pressures().at(-1) ?? 0)).toBeLessThan(30);
  });

  it("shows the leak of a leak reference, and next to nothing with a tight one", async () => {
    const [tight, leak] = [
      await decay_Pa(reference("TUB-12", "tight"), null),
      await decay_Pa(reference("TUB-12", "leak"), null),
    ];
    // 30 mL/min at 8 kPa, less at what is left of it, into 12.4 L: some 3.4 Pa/s.
    expect(leak - tight).toBeGreaterThan(8 * 2.8);
    expect(leak - tight).toBeLessThan(8 * 4.1);
    expect(Math.abs(tight)).toBeLessThan(6);
  });

  it("lets a leaking fixture look like a leaking unit", async () => {
    expect(await decay_Pa(reference("TUB-12", "tight"), "fixture_leak")).toBeGreaterThan(40);
  });

  it("measures suction, flow and power of the unit that is on", async () => {
    const { plant, drive, airflow, power, numbers } = bench();
    plant.mount(reference("TUB-12", "tight"));
    await drive("motor=1 orifice_2=1", 5);
    const [suction_Pa = 0, flow_L_s = 0] = await numbers(airflow, "MEAS:SUCT?;FLOW?");
    const [power_W = 0, mains_V = 0] = await numbers(power, "MEAS:POW?;VOLT?");
    expect(suction_Pa / plant.air.suction_Pa).toBeCloseTo(1, 1);
    expect(Math.abs(flow_L_s - 55)).toBeLessThan(1.5);
    expect(Math.abs(power_W - 1150)).toBeLessThan(40);
    expect(Math.abs(mains_V - 230)).toBeLessThan(3);
    await drive("motor=0", 1);
    expect(Math.abs((await numbers(power, "MEAS:POW?"))[0] ?? 99)).toBeLessThan(5);
  });

  it.each([
    [
      "source_weak",
      async ({ plant, drive }: ReturnType<typeof bench>) => {
        await drive("source=1 isolate=1 vent=0", 8);
        return Math.abs(plant.gas.source_Pa) < 5500 && Math.abs(plant.gas.pressure_Pa) < 5500;
      },
    ],
    [
      "isolate_stuck_closed",
      async ({ plant, drive }: ReturnType<typeof bench>) => {
        await drive("source=1 isolate=1 vent=0", 8);
        return Math.abs(plant.gas.pressure_Pa) < 1 && Math.abs(plant.gas.source_Pa) > 8000;
      },
    ],
    [
      "isolate_stuck_open",
      async ({ plant, drive }: ReturnType<typeof bench>) => {
        await drive("source=1 isolate=0 vent=0", 20);
        return Math.abs(plant.gas.pressure_Pa) > 7500;
      },
    ],
    [
      "vent_stuck_closed",
      async ({ plant, drive }: ReturnType<typeof bench>) => {
        await drive("source=1 isolate=1 vent=0", 8);
        await drive("source=0 isolate=0 vent=1", 10);
        return Math.abs(plant.gas.pressure_Pa) > 5000;
      },
    ],
    [
      "hose_blocked",
      async ({ plant, drive }: ReturnType<typeof bench>) => {
        await drive("source=1 isolate=1 vent=0", 0.5);
        return Math.abs(plant.gas.pressure_Pa) > 7800;
      },
    ],
    [
      "contactor_open",
      async ({ plant, drive }: ReturnType<typeof bench>) => {
        await drive("motor=1", 5);
        return plant.air.power_W === 0 && plant.motorSpeed === 0;
      },
    ],
    [
      "mains_low",
      async ({ plant, drive, power, numbers }: ReturnType<typeof bench>) => {
        await drive("motor=1", 5);
        const [mains_V = 0] = await numbers(power, "MEAS:VOLT?");
        return mains_V < 205 && plant.air.suction_Pa < 20_000;
      },
    ],
    [
      "shutters_stuck",
      async ({ plant, drive }: ReturnType<typeof bench>) => {
        await drive("motor=1 orifice_2=1", 5);
        return plant.air.flow_m3_s === 0 && plant.air.suction_Pa > 20_000;
      },
    ],
    [
      "shutter_1_shut",
      async ({ plant, drive }: ReturnType<typeof bench>) => {
        await drive("motor=1 orifice_2=1", 5);
        const isOtherFree = plant.air.flow_m3_s > 0.05;
        await drive("orifice_1=1 orifice_2=0", 2);
        return isOtherFree && plant.air.flow_m3_s === 0;
      },
    ],
    [
      "shutter_1_open",
      async ({ plant, drive }: ReturnType<typeof bench>) => {
        await drive("motor=1", 5);
        return plant.air.flow_m3_s > 0.015 && plant.air.flow_m3_s < 0.03;
      },
    ],
    [
      "shutter_2_half",
      async ({ plant, drive }: ReturnType<typeof bench>) => {
        await drive("motor=1 orifice_2=1", 5);
        const { suction_Pa, flow_m3_s } = plant.air;
        await drive("orifice_1=1 orifice_2=0", 2);
        const isOtherFree = plant.air.flow_m3_s > 0.015;
        // A quarter of what the whole opening would let through at four times the suction.
        return isOtherFree && flow_m3_s < 0.5 * Math.sqrt(suction_Pa / 1000) * 0.0508;
      },
    ],
    [
      "plenum_hose_off",
      async ({ plant, drive }: ReturnType<typeof bench>) => {
        await drive("motor=1 orifice_1=1", 5);
        const { suction_Pa, flow_m3_s, power_W } = plant.air;
        return suction_Pa === 0 && flow_m3_s === 0 && power_W > 1000;
      },
    ],
  ])("can have a day of %s", async (day, hasHappened) => {
    const station = bench();
    station.plant.mount(reference("TUB-12", "tight"));
    expect(await hasHappened(station)).toBe(false);
    const bad = bench();
    bad.plant.instruments.get("io_block")?.misbehave(day);
    bad.plant.mount(reference("TUB-12", "tight"));
    expect(await hasHappened(bad)).toBe(true);
  });

  it("keeps the motor running when its contactor has welded", async () => {
    const { plant, drive } = bench();
    plant.mount(reference("TUB-12", "tight"));
    await drive("motor=1", 4);
    plant.instruments.get("io_block")?.misbehave("contactor_welded");
    await drive("motor=0", 8);
    expect(plant.air.power_W).toBeGreaterThan(500);
    plant.instruments.get("io_block")?.misbehave(null);
    await drive("motor=0", 8);
    expect(plant.motorSpeed).toBe(0);
  });

  it("leaves the shutters where they were when they stick, and moves them again afterwards", async () => {
    const { plant, drive } = bench();
    plant.mount(reference("TUB-12", "tight"));
    await drive("motor=1 orifice_2=1", 5);
    const open_m3_s = plant.air.flow_m3_s;
    plant.instruments.get("io_block")?.misbehave("shutters_stuck");
    await drive("orifice_2=0", 2);
    expect(plant.air.flow_m3_s / open_m3_s).toBeCloseTo(1, 2);
    plant.instruments.get("io_block")?.misbehave(null);
    await drive("orifice_2=0", 2);
    expect(plant.air.flow_m3_s).toBe(0);
  });

  it("repeats to the last byte for the same seed, and not for another", async () => {
    const record = async (seed: number) => {
      const { plant, drive, airflow, power, numbers, pressures } = bench(seed);
      plant.mount(new Population({ seed: 7, models }).unitAt(1));
      await drive("source=1 isolate=1 vent=0", 6);
      await drive("source=0 isolate=0 vent=1 motor=1", 3);
      return [
        pressures(),
        await numbers(airflow, "MEAS:SUCT?;FLOW?"),
        await numbers(power, "MEAS:POW?;VOLT?"),
      ];
    };
    expect(await record(7)).toEqual(await record(7));
    expect(await record(7)).not.toEqual(await record(8));
  });

  it("starts every unit afresh: no pressure and a standing motor", async () => {
    const { plant, drive } = bench();
    plant.mount(reference("TUB-12", "tight"));
    await drive("source=1 isolate=1 vent=0 motor=1", 8);
    await drive("source=0 isolate=0 vent=1 motor=0", 0.1);
    plant.mount(reference("POD-4", "tight"));
    expect(plant.motorSpeed).toBe(0);
    expect(plant.gas.pressure_Pa).toBeCloseTo(0, 6);
  });
});
