import { describe, expect, it } from "vitest";
import { loadLimitFolder } from "../../limits/limit-file.ts";
import type { Measurand, ModelLimits } from "../../limits/model.ts";
import { STANDARD_CONDITIONS } from "../../sim/plant/airflow.ts";
import { airflowCurve } from "../../sim/plant/airflow-curve.ts";
import { Population } from "../../sim/population.ts";
import { referencePieces } from "../../sim/reference-pieces.ts";
import { truthOf } from "../../sim/truth.ts";

const models = loadLimitFolder("limits/models");

function modelOf(name: string): ModelLimits {
  const limits = models.find(({ model }) => model === name);
  if (!limits) throw new Error(`no limits for ${name}`);
  return limits;
}

describe("the curve of a cleaner", () => {
  // By hand: h = 22000 (1 - q / 0.068) - (2e5 + 8e5) q^2, zero at 57.707 L/s, and h q largest at 29.865 L/s.
  it("of the 12 L body has the ends and the top that its fan and its resistances give by algebra", () => {
    const { cleaner } = referencePieces(modelOf("TUB-12")).tight.unit;
    const curve = airflowCurve(cleaner, STANDARD_CONDITIONS);
    expect(curve.suctionAtZeroFlow_Pa).toBeCloseTo(22_000, 2);
    expect(curve.flowAtZeroSuction_m3_s * 1000).toBeCloseTo(57.707, 2);
    const q = 0.029865;
    const top_W = q * (22_000 * (1 - q / 0.068) - 1e6 * q * q);
    expect(Math.abs(curve.largestSuctionPower_W / top_W - 1)).toBeLessThan(5e-4);
  });

  it("of a dead motor is nothing", () => {
    const { cleaner } = referencePieces(modelOf("POD-4")).tight.unit;
    expect(airflowCurve({ ...cleaner, speedFactor: 0 }, STANDARD_CONDITIONS)).toEqual({
      suctionAtZeroFlow_Pa: 0,
      flowAtZeroSuction_m3_s: 0,
      largestSuctionPower_W: 0,
    });
  });
});

describe("the truth of the quantities that are worked out", () => {
  const limits = modelOf("POD-4");
  const asked: readonly [Measurand, string | undefined, string][] = [
    ["suction", "working", "Pa"],
    ["flow", "working", "m3/s"],
    ["power", "working", "W"],
    ["suction_power", "working", "W"],
    ["efficiency", "working", "%"],
    ["suction_power", "closed", "W"],
    ["largest_suction_power", undefined, "W"],
    ["suction_at_zero_flow", undefined, "Pa"],
    ["flow_at_zero_suction", undefined, "m3/s"],
  ];
  const asking: ModelLimits = {
    ...limits,
    characteristics: asked.map(([measurand, point, unit]) => ({
      name: `${measurand} ${point ?? ""}`,
      step: "airflow",
      measurand,
      unit,
      lower: 0,
      rule: { kind: "simple" },
      ...(point === undefined ? {} : { point }),
    })),
  };
  const pods = [...new Population({ seed: 7, models: [limits] }).units(60)];

  it("is suction times flow, and that over the input power", () => {
    for (const unit of pods) {
      const [suction = 0, flow = 0, power = 0, suctionPower = 0, efficiency, atClosed] = truthOf(
        unit,
        asking,
      ).characteristics.map(({ value }) => value);
      expect(suctionPower).toBeCloseTo(suction * flow, 9);
      if (unit.defects.includes("motor_dead")) expect(efficiency).toBe(0);
      else expect(efficiency).toBeCloseTo(suctionPower / power, 9);
      expect(atClosed).toBe(0);
    }
  });

  it("is never more suction power at a point than the largest, nor more suction or flow than at the curve's ends", () => {
    for (const unit of pods) {
      const { characteristics, points } = truthOf(unit, asking);
      const [largest_W, sealed_Pa, free_m3_s] = characteristics.slice(-3).map(({ value }) => value * 1.0005);
      for (const { suction_Pa, flow_m3_s } of points) {
        expect(suction_Pa * flow_m3_s, unit.serial).toBeLessThanOrEqual(largest_W ?? Number.NaN);
        expect(suction_Pa, unit.serial).toBeLessThanOrEqual(sealed_Pa ?? Number.NaN);
        expect(flow_m3_s, unit.serial).toBeLessThanOrEqual(free_m3_s ?? Number.NaN);
      }
    }
  });
});
