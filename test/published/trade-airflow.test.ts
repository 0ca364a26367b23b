import { describe, expect, it } from "vitest";
import { convert, toUnit } from "../../limits/quantity.ts";
import { airflowAt, STANDARD_CONDITIONS } from "../../sim/plant/airflow.ts";
import { openArea_m2 } from "../../sim/plant/shutters.ts";
import { soundCleaner } from "../sim/sound-cleaner.ts";

// Common practice, no source: a suction cleaner with a motor of about 620 W moves about 500 US gallons of air a minute at open
// inlet, and its air stream runs near 100 mph. Hoses are 32 to 38 mm wide.

const FLOW_m3_s = convert(500, "gal/min", "m3/s", "flow");
const MPH_m_s = 1609.344 / 3600;
const speed_mph = (flow_m3_s: number, bore_mm: number) =>
  flow_m3_s / ((Math.PI / 4) * (bore_mm / 1000) ** 2) / MPH_m_s;

describe("500 gallons of air a minute at 100 mph", () => {
  it("are 31.5 L/s at 44.7 m/s, which by continuity is a bore of 30 mm", () => {
    expect(FLOW_m3_s * 1000).toBeCloseTo(31.545, 3);
    const bore_mm = Math.sqrt((4 * FLOW_m3_s) / (Math.PI * 100 * MPH_m_s)) * 1000;
    expect(bore_mm).toBeCloseTo(29.97, 2);
  });

  // So the two figures belong together at the narrow end only: 12 % below 100 mph in the narrowest usual hose, not near it in
  // the widest.
  it.each([
    [30, 99.8],
    [32, 87.7],
    [35, 73.3],
    [38, 62.2],
  ])("in a bore of %d mm run at %d mph", (bore_mm, expected_mph) => {
    expect(speed_mph(FLOW_m3_s, bore_mm)).toBeCloseTo(expected_mph, 1);
  });
});

describe("the simulated cleaner of that class", () => {
  const sound = soundCleaner("POD-4");

  it.each([
    ["the station's open orifice", openArea_m2(["orifice_2"])],
    ["no orifice at all", 1],
  ])("through %s moves 500 gallons a minute to 5 %%, with 620 W to 3 %%", (_, area_m2) => {
    const { flow_m3_s, power_W } = airflowAt(sound, area_m2, STANDARD_CONDITIONS);
    expect(Math.abs(toUnit(flow_m3_s, "flow", "gal/min") / 500 - 1)).toBeLessThan(0.05);
    expect(Math.abs(power_W / 620 - 1)).toBeLessThan(0.03);
  });

  it("has its air run near 100 mph in a bore of 30 mm, a little slower in the narrowest usual hose, far slower in the widest", () => {
    const { flow_m3_s } = airflowAt(sound, 1, STANDARD_CONDITIONS);
    expect(Math.abs(speed_mph(flow_m3_s, 30) / 100 - 1)).toBeLessThan(0.05);
    expect(Math.abs(speed_mph(flow_m3_s, 32) / 100 - 1)).toBeLessThan(0.16);
    expect(speed_mph(flow_m3_s, 38)).toBeLessThan(65);
  });
});
