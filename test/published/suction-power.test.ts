import { describe, expect, test } from "vitest";
import { parseQuantity } from "../../limits/quantity.ts";
import { measureAirflow } from "../../station/measure/airflow/performance.ts";
import { exactly, gaugePoint, known } from "../measure/airflow/stated-airflow.ts";

function si(text: string, dimension: "flow" | "pressure" | "power"): number {
  const parsed = parseQuantity(text, dimension);
  if (!parsed.ok) throw new Error(text);
  return parsed.value.value_SI;
}

function pointAt(flow_m3_s: number, suction_Pa: number, power_W = 1000) {
  const read = { flow_m3_s: known(flow_m3_s), suction_Pa: known(suction_Pa), power_W };
  const [point] = measureAirflow([gaugePoint("working", read)], exactly()).points;
  if (!point) throw new Error("no point");
  return point;
}

describe("suction power q h and efficiency q h / P1 of IEC 62885-2 (from memory)", () => {
  test.each([
    { flow: "22.5 L/s", suction: "12 kPa", input: "720 W", power_W: 270, efficiency: 0.375 },
    { flow: "118.8 m3/h", suction: "86 mbar", input: "690 W", power_W: 283.8, efficiency: 0.4113043478 },
  ])("$flow at $suction with $input is $power_W W", ({ flow, suction, input, power_W, efficiency }) => {
    const point = pointAt(si(flow, "flow"), si(suction, "pressure"), si(input, "power"));
    expect(point.suctionPower.value).toBeCloseTo(power_W, 7);
    expect(point.efficiency).toMatchObject({ value: expect.closeTo(efficiency, 9) });
  });
});

describe("air power of ASTM F558, 0.117354 W per cfm and inch of water (from memory)", () => {
  // The standard's inch of water is of 68 degF and 62.3205 lb/ft3: 248.659 Pa.
  const INCH_PA = 248.6590439;

  test.each([
    { cfm: 90.81090379, inches: 3, power_W: 31.97106841 },
    { cfm: 70.07184815, inches: 30, power_W: 246.69635 },
    { cfm: 7.604125184, inches: 85, power_W: 75.85183309 },
  ])("$cfm cfm at $inches inches are $power_W W", ({ cfm, inches, power_W }) => {
    const { suctionPower } = pointAt(si(`${cfm} cfm`, "flow"), inches * INCH_PA);
    expect(suctionPower.value / power_W).toBeCloseTo(1, 5);
    expect(suctionPower.value / (0.117354 * cfm * inches)).toBeCloseTo(1, 5);
  });
});
