import { describe, expect, it } from "vitest";
import { loadLimitFolder } from "../../limits/limit-file.ts";
import type { ModelLimits } from "../../limits/model.ts";
import { bodyDesign } from "../../sim/bodies.ts";
import { airflowAt, STANDARD_CONDITIONS } from "../../sim/plant/airflow.ts";
import { atReference_m3_s } from "../../sim/plant/gas.ts";
import { Housing } from "../../sim/plant/housing.ts";
import { steadyRoom } from "../../sim/plant/room.ts";
import { openArea_m2 } from "../../sim/plant/shutters.ts";
import { DEFAULT_SEED, Population, type SimulatedUnit } from "../../sim/population.ts";
import { referencePieces } from "../../sim/reference-pieces.ts";
import { DEMO_FIXTURE } from "../../sim/station-plant.ts";
import { truthOf } from "../../sim/truth.ts";
import { station as demoStation } from "../made-traveller.ts";

const models = loadLimitFolder("limits/models");

function limitsOf(unit: SimulatedUnit): ModelLimits {
  const limits = models.find(({ model }) => model === unit.model);
  if (!limits) throw new Error(`no limits for ${unit.model}`);
  return limits;
}

function first(count: number, seed = DEFAULT_SEED, defectRate?: number): SimulatedUnit[] {
  return [
    ...new Population({ seed, models, ...(defectRate === undefined ? {} : { defectRate }) }).units(count),
  ];
}

/** Leak of a body held at a pressure for minutes and then closed off: its mass balance, nobody's gauge. */
function measuredLeak_m3_s(unit: SimulatedUnit, pressure_Pa: number): number {
  const fixture = { ...DEMO_FIXTURE, leakPaths: [], regulator_kg_sPa: 1e-2, reservoir_m3: 10 };
  const housing = new Housing({ room: steadyRoom(), fixture });
  const body = { ...unit.body, wallOffset_K: 0 };
  housing.mount(0, body, { pressure_Pa, restrictorArea_m2: 2e-5 });
  housing.setValves(0, { source: true, isolate: true, vent: false });
  housing.setValves(120, { source: false, isolate: false, vent: false });
  const before = housing.stateAt(120);
  const after = housing.stateAt(120.2);
  // Only where the source could hold the pressure is this the leak at that pressure.
  expect(Math.abs(before.pressure_Pa / pressure_Pa - 1)).toBeLessThan(0.002);
  return Math.abs(atReference_m3_s((after.mass_kg - before.mass_kg) / 0.2));
}

describe("the population", () => {
  it("is the same for the same seed, and another for another", () => {
    expect(first(20)).toEqual(first(20));
    expect(first(20, 8)).not.toEqual(first(20, 7));
  });

  it("makes unit k the same however many are asked for, and in whatever order the models were read", () => {
    const alone = new Population({ seed: 3, models: [...models].reverse() }).unitAt(41);
    expect(first(100, 3)[41]).toEqual(alone);
  });

  it("gives serials that match their model's pattern and never come twice", () => {
    const units = first(2000);
    expect(new Set(units.map(({ serial }) => serial)).size).toBe(2000);
    for (const unit of units) expect(unit.serial).toMatch(limitsOf(unit).serialPattern);
  });

  it("finds a unit by its serial however late it comes, and none with a serial it never gives", () => {
    const population = new Population({ seed: 7, models });
    for (const index of [0, 11, 999, 1000, 5000]) {
      expect(population.indexOf(population.unitAt(index).serial, 5001)).toBe(index);
    }
    expect(population.indexOf(population.unitAt(5000).serial, 5000)).toBeNull();
    const [{ serial = "" } = {}] = population.units(1);
    const ofTheOther = serial.startsWith("POD") ? serial.replace("POD", "TUB") : serial.replace("TUB", "POD");
    for (const unknown of [ofTheOther, "", "POD", `${serial}x`, "9".repeat(400)]) {
      expect(population.indexOf(unknown, 5000), unknown).toBeNull();
    }
  });

  it("gives every tracked part of the limit file a value that matches its pattern", () => {
    for (const unit of first(200)) {
      for (const part of limitsOf(unit).parts) expect(unit.parts[part.name]).toMatch(part.pattern);
    }
  });

  it("shows good units, both models and several kinds of defect among the first dozen of the default seed", () => {
    const dozen = first(12);
    expect(new Set(dozen.map(({ model }) => model)).size).toBe(2);
    expect(dozen.filter((unit) => truthOf(unit, limitsOf(unit)).conforms).length).toBeGreaterThanOrEqual(6);
    expect(new Set(dozen.flatMap(({ defects }) => defects)).size).toBeGreaterThanOrEqual(4);
  });

  it("has about the asked part of defective units, none when none is asked for, and all kinds among many", () => {
    expect(first(500, 1, 0).every(({ defects }) => defects.length === 0)).toBe(true);
    expect(first(200, 1, 1).every(({ defects }) => defects.length > 0)).toBe(true);
    const units = first(3000, 1);
    expect(units.filter(({ defects }) => defects.length > 0).length / 3000).toBeCloseTo(0.28, 1);
    expect(new Set(units.flatMap(({ defects }) => defects)).size).toBe(13);
  });

  it("finds porous mouldings in one tub cavity of a model only", () => {
    const cavities = new Set(
      first(3000).flatMap(({ defects, parts }) =>
        defects.includes("porous_moulding") ? [parts.tub_cavity] : [],
      ),
    );
    expect([...cavities].sort()).toEqual(["P2", "T3"]);
  });

  it("finds most cracked tubs in the cavity with the worn gate, and some in each other", () => {
    const cracked = new Map<string, number>();
    for (const { defects, parts } of first(20_000)) {
      const cavity = parts.tub_cavity ?? "none";
      if (defects.includes("cracked_tub")) cracked.set(cavity, (cracked.get(cavity) ?? 0) + 1);
    }
    expect([...cracked.keys()].sort()).toEqual(["P1", "P2", "T1", "T2", "T3", "T4"]);
    for (const [worn, others] of [
      ["T2", ["T1", "T3", "T4"]],
      ["P1", ["P2"]],
    ] as const) {
      for (const other of others)
        expect(cracked.get(worn)).toBeGreaterThan(2.5 * (cracked.get(other) ?? Number.NaN));
    }
  });

  it("keeps sound units clear of the airflow limits, and has units near the leak limit on both sides", () => {
    const ratios: number[] = [];
    for (const unit of first(1500, 5, 0)) {
      const limits = limitsOf(unit);
      for (const { name, value, conforms } of truthOf(unit, limits).characteristics) {
        const upper = limits.characteristics.find((one) => one.name === name)?.upper;
        if (name === "leak rate") ratios.push(value / (upper ?? Number.NaN));
        else expect(conforms, `${unit.serial} ${name} ${value}`).toBe(true);
      }
    }
    expect(ratios.filter((ratio) => ratio > 0.75 && ratio < 1).length).toBeGreaterThan(10);
    expect(ratios.filter((ratio) => ratio > 1 && ratio < 1.26).length).toBeGreaterThan(10);
    expect(ratios.filter((ratio) => ratio < 0.56).length / ratios.length).toBeGreaterThan(0.9);
  });

  it("refuses a defect rate that is none, and a model that the demo plant does not make", () => {
    expect(() => new Population({ seed: 1, models, defectRate: 1.2 })).toThrow(/between 0 and 1/);
    const [any] = models;
    if (!any) throw new Error("no models");
    expect(() => new Population({ seed: 1, models: [{ ...any, model: "JUG-9" }] })).toThrow(/JUG-9.*TUB-12/);
  });
});

describe("the truth of a unit", () => {
  it("is what its physics loses at the test pressure", () => {
    let compared = 0;
    for (const unit of first(40)) {
      const limits = limitsOf(unit);
      const step = limits.steps.find((one) => one.kind === "leak");
      const { leak_m3_s } = truthOf(unit, limits);
      if (step?.kind !== "leak" || leak_m3_s > 5e-6) continue;
      expect(measuredLeak_m3_s(unit, step.testPressure_Pa) / leak_m3_s).toBeCloseTo(1, 2);
      compared++;
    }
    expect(compared).toBeGreaterThan(25);
  });

  it("does not conform for any motor defect or gross leak", () => {
    for (const unit of first(3000)) {
      const certain = [
        "missing_gasket",
        "crooked_lid",
        "wrong_motor",
        "motor_dead",
        "weak_motor",
        "tight_bearing",
        "shorted_winding",
      ] as const;
      if (certain.some((name) => unit.defects.includes(name))) {
        expect(truthOf(unit, limitsOf(unit)).conforms, `${unit.serial} ${unit.defects}`).toBe(false);
      }
    }
  });

  it("has shorted turns take more than any limit of input power, and pull less than any limit of suction", () => {
    let seen = 0;
    for (const unit of first(20_000)) {
      if (unit.defects.join() !== "shorted_winding") continue;
      const limits = limitsOf(unit);
      const { points } = truthOf(unit, limits);
      const open = points.find(({ name }) => name === "open");
      const part = (open?.power_W ?? Number.NaN) / unit.cleaner.fan.freePower_W;
      expect(part, unit.serial).toBeGreaterThan(1.5);
      expect(part, unit.serial).toBeLessThan(2.3);
      for (const { measurand, point, lower } of limits.characteristics) {
        if (measurand !== "suction" || lower === undefined) continue;
        expect(points.find(({ name }) => name === point)?.suction_Pa).toBeLessThan(0.7 * lower);
      }
      seen++;
    }
    expect(seen).toBeGreaterThan(50);
  });

  it("says so when the limits name an orifice that the plant does not have", () => {
    const [unit] = first(1);
    if (!unit) throw new Error("no unit");
    expect(() => truthOf(unit, limitsOf(unit), { closed: null, working: "orifice_1" })).toThrow(/open/);
  });
});

describe("reference pieces", () => {
  it.each(models.map((limits) => [limits.model, limits] as const))(
    "of %s leak what their certificates say",
    (_, limits) => {
      const { tight, leak } = referencePieces(limits);
      expect(truthOf(tight.unit, limits).leak_m3_s).toBe(0);
      expect(truthOf(leak.unit, limits).leak_m3_s / leak.certified_m3_s).toBeCloseTo(1, 9);
    },
  );

  // Flow of two sharp edges one after the other by Bernoulli, each with Buckingham's expansion: worked out apart.
  it.each(models.map((limits) => [limits.model, limits] as const))(
    "of %s let through what the demo station's file has certified, through two orifices one after the other",
    (model, limits) => {
      const { unit, certified_m3_s } = referencePieces(limits).orifice;
      const stated = demoStation.referenceCheck?.pieces.find(({ serial }) => serial === unit.serial);
      expect(stated?.certified_m3_s).toBeCloseTo(certified_m3_s, 5);
      const { bore_m, atSuction_Pa } = bodyDesign(model).referenceOrifice;
      expect(stated?.orifice?.atSuction_Pa).toBe(atSuction_Pa);
      const alone = 0.62 * (Math.PI / 4) * bore_m ** 2 * Math.sqrt((2 * atSuction_Pa) / 1.2);
      const behind = 1 / Math.sqrt(1 + (bore_m / 0.05) ** 4);
      const expansion = 1 - (0.41 * atSuction_Pa) / (1.4 * 100_979);
      expect(certified_m3_s / (alone * behind * expansion)).toBeCloseTo(1, 2);
      const found = airflowAt(unit.cleaner, openArea_m2(["orifice_2"]), STANDARD_CONDITIONS);
      const brought = found.flow_m3_s * Math.sqrt(atSuction_Pa / found.suction_Pa);
      expect(Math.abs(brought / certified_m3_s - 1)).toBeLessThan(0.002);
    },
  );
});
