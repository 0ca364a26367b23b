import { describe, expect, it } from "vitest";
import { toUnit } from "../../limits/quantity.ts";
import { suctionPowerResult } from "../../station/commands/calc/suction-power-result.ts";
import { plenumOrificeFlow } from "../../station/measure/gas/plenum-orifice.ts";

// ASTM F558 from memory: its orifice formula Q = 21.844 D^2 K1 sqrt(h/Dr) in cfm, D in inches, h in inches of water at
// 68 degF, K1 a function of the pressure ratio r = (0.4912 Bt - 0.03607 h) / (0.4912 Bt), Bt in inches of mercury; air
// power 0.117354 Q h in W. Its water weighs 62.3205 lb/ft3, its air 0.075 lb/ft3.

const LB_FT3_kg_m3 = 0.45359237 / 0.3048 ** 3;
const INCH_68_degF_Pa = (62.3205 * LB_FT3_kg_m3 * 9.80665 * 25.4) / 1000;
const BAROMETER_inHg = 29.92;
const AIR_kg_m3 = 0.075 * LB_FT3_kg_m3;

/** K1(r) = (a r - b) / (r - c), by the bore in inches. */
const K1: Readonly<Record<number, readonly [a: number, b: number, c: number]>> = {
  0.25: [0.5575, 0.5955, 1.0468],
  0.5: [0.5694, 0.5786, 1.0138],
  0.625: [0.5692, 0.5767, 1.0104],
  0.75: [0.5715, 0.5807, 1.0138],
  0.875: [0.574, 0.5841, 1.0158],
  1: [0.5687, 0.5785, 1.0146],
  1.125: [0.5675, 0.5819, 1.0225],
  1.25: [0.5717, 0.5814, 1.0152],
  1.375: [0.568, 0.5826, 1.0235],
  1.5: [0.5719, 0.582, 1.0165],
  1.75: [0.5695, 0.5839, 1.0235],
  2: [0.5757, 0.5853, 1.0157],
  2.25: [0.5709, 0.5878, 1.0279],
  2.5: [0.566, 0.59024, 1.04],
};

const relative = (value: number, expected: number) => Math.abs(value / expected - 1);

function f558(bore_in: number, h_inH2O: number) {
  const [a, b, c] = K1[bore_in] ?? [Number.NaN, 0, 0];
  const ratio = (0.4912 * BAROMETER_inHg - 0.03607 * h_inH2O) / (0.4912 * BAROMETER_inHg);
  const k1 = (a * ratio - b) / (ratio - c);
  return { flow_cfm: 21.844 * bore_in ** 2 * k1 * Math.sqrt(h_inH2O) };
}

/** The coefficient with which our orifice formula passes what theirs does. */
function impliedCoefficient(bore_in: number, h_inH2O: number): number {
  const uncontracted = plenumOrificeFlow({
    bore_m: bore_in * 0.0254,
    coefficient: 1,
    drop_Pa: h_inH2O * INCH_68_degF_Pa,
    upstream_Pa: BAROMETER_inHg * 3386.389,
    density_kg_m3: AIR_kg_m3,
  });
  return f558(bore_in, h_inH2O).flow_cfm / toUnit(uncontracted.volumeFlow_m3_s, "flow", "cfm");
}

describe("the constants of ASTM F558", () => {
  it("are its own inch of water and standard air, so that its air power is q h", () => {
    const airPower_W = INCH_68_degF_Pa / toUnit(1, "flow", "cfm");
    expect(relative(airPower_W, 0.117354)).toBeLessThan(5e-6);
    const jet_cfm = toUnit(
      (Math.PI / 4) * 0.0254 ** 2 * Math.sqrt((2 * INCH_68_degF_Pa) / AIR_kg_m3),
      "flow",
      "cfm",
    );
    expect(relative(jet_cfm, 21.844)).toBeLessThan(3e-5);
  });

  it("refer to 1.20 kg/m3 as IEC 62885-2 does, to 0.12 %", () => {
    expect(relative(AIR_kg_m3, 1.2)).toBeLessThan(1.2e-3);
  });
});

describe("suction power", () => {
  // Flow and air power of the formulas above, computed apart from this code.
  it.each([
    ["S01", 2, 3, 90.81090379, 31.97106841],
    ["S02", 1.5, 10, 91.39942406, 107.2608801],
    ["S03", 1.25, 18, 85.2494841, 180.0786232],
    ["S04", 1, 30, 70.07184815, 246.69635],
    ["S05", 0.75, 50, 50.49003615, 296.2603851],
    ["S06", 0.5, 70, 26.34632278, 216.4292454],
    ["S07", 0.25, 85, 7.604125184, 75.85183309],
    ["S21", 0.875, 40, 61.67083985, 289.4927896],
    ["S22", 2.5, 1.2, 90.22046335, 12.70527871],
  ])("%s: a bore of %d in at %d inH2O passes %d cfm, %d W", (_, bore_in, h_inH2O, flow_cfm, power_W) => {
    expect(relative(f558(bore_in, h_inH2O).flow_cfm, flow_cfm)).toBeLessThan(1e-8);
    // Our inch of 68 degF has the CIPM's water, 998.207 kg/m3, theirs 998.285.
    const { fields } = suctionPowerResult({ flow: `${flow_cfm} cfm`, suction: `${h_inH2O} inH2O@68degF` });
    expect(relative(Number(fields.value), power_W)).toBeLessThan(1e-4);
  });

  it.each(["30 inH2O", "-30 in H2O", "30 inH2O@68degF"])(
    "S10: names what three inches of water make of the same reading, %s",
    (suction) => {
      const { fields } = suctionPowerResult({ flow: "70.072 cfm", suction });
      expect(fields.inches).toMatchObject({
        conventions: [
          { value: expect.closeTo(246.6968846, 6) },
          { value: expect.closeTo(247.1233587, 6) },
          { value: expect.closeTo(247.3129412, 6) },
        ],
      });
    },
  );

  // IEC 62885-2 (from memory): q in dm3/s times h in kPa is P2 in W, efficiency 100 P2 / P1.
  it.each([
    ["S11", "22.5 dm3/s", "12 kPa", "720 W", 270, 37.5],
    ["S24", "118.8 m3/h", "86 mbar", "690 W", 283.8, 41.13043478],
  ])("%s: %s at %s of %s is %d W, %d %%", (_, flow, suction, inputPower, power_W, efficiency_percent) => {
    const { fields } = suctionPowerResult({ flow, suction, inputPower });
    expect(relative(Number(fields.value), power_W)).toBeLessThan(1e-9);
    expect(fields.efficiency).toEqual({ value: expect.closeTo(efficiency_percent, 7), unit: "%" });
  });
});

describe("the sharp-edged plenum orifice against the orifices of ASTM F558", () => {
  // Each orifice at about the suction that a suction cleaner has behind it: the wider, the less.
  it.each([
    ["S01", 2, 3],
    ["S02", 1.5, 10],
    ["S03", 1.25, 18],
    ["S04", 1, 30],
    ["S05", 0.75, 50],
    ["S06", 0.5, 70],
    ["S21", 0.875, 40],
    ["S22", 2.5, 1.2],
  ])("%s: a bore of %d in at %d inH2O needs a coefficient of 0.59 to 0.605", (_, bore_in, h_inH2O) => {
    const coefficient = impliedCoefficient(bore_in, h_inH2O);
    expect(coefficient).toBeGreaterThan(0.59);
    expect(coefficient).toBeLessThan(0.605);
  });

  // Some of these no cleaner can do: 2.5 in at 90 inH2O.
  it("needs, from half an inch, a coefficient that 20 to 90 inches of water move by 1 to 4 %, and one of 0.602 within 2.5 % for all", () => {
    const bores_in = Object.keys(K1)
      .map(Number)
      .filter((bore_in) => bore_in >= 0.5);
    for (const bore_in of bores_in) {
      const implied = [20, 30, 40, 50, 70, 90].map((h_inH2O) => impliedCoefficient(bore_in, h_inH2O));
      const spread = Math.max(...implied) / Math.min(...implied) - 1;
      expect(spread, `${bore_in} in`).toBeGreaterThan(0.01);
      expect(spread, `${bore_in} in`).toBeLessThan(0.04);
      for (const coefficient of implied) expect(relative(coefficient, 0.602)).toBeLessThan(0.025);
    }
  });

  // Below 12.5 mm, ISO 5167-2's smallest bore (from memory), edge and thickness count for more than the bore says.
  it("S07: needs more for a quarter of an inch, 0.64 at 85 inH2O", () => {
    expect(impliedCoefficient(0.25, 85)).toBeCloseTo(0.639, 2);
  });
});
