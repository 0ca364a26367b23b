import fc from "fast-check";
import { describe, expect, it, test } from "vitest";
import { plenumFlow_m3_s } from "../../../station/measure/airflow/flow-at-point.ts";
import { referenceFlow } from "../../../station/measure/airflow/reference-flow.ts";
import { exactly, gaugePoint, known } from "./stated-airflow.ts";

/** Dry air of 1.20 kg/m3 at 20 degC. */
const STANDARD = { temperature_K: 293.15, pressure_Pa: 100_979, relativeHumidity: 0 };

function roomOf(air: typeof STANDARD, uncertain = {}) {
  const room = {
    ...air,
    temperatureUncertainty_K: 0,
    pressureUncertainty_Pa: 0,
    relativeHumidityUncertainty: 0,
    ...uncertain,
  };
  return exactly({ room });
}

const at = (suction_Pa: number, flow_m3_s: number) =>
  gaugePoint("open", { suction_Pa: known(suction_Pa), flow_m3_s: known(flow_m3_s) });

const measured = (suction_Pa: number, flow_m3_s: number, air = STANDARD, atSuction_Pa = 8000) =>
  referenceFlow(at(suction_Pa, flow_m3_s), roomOf(air), atSuction_Pa).value;

describe("the flow of a reference orifice", () => {
  it("at its certificate's suction and air is the flow that was measured", () => {
    // CIPM-2007 has 1.2004 kg/m3 there.
    expect(measured(8000, 0.02) / 0.02).toBeCloseTo(1, 3);
  });

  it("at another suction is as in its documentation: 20 L/s at 7 kPa are 21.33 L/s at 8 kPa", () => {
    expect(measured(7000, 0.02) * 1000).toBeCloseTo(21.33, 2);
  });

  // Bernoulli, ISO 5167-1: flow as the root of the drop over the density. At drops this small no air expands to speak of.
  it.each([
    [60, 100, Math.sqrt(100 / 60)],
    [100, 60, Math.sqrt(60 / 100)],
  ])("goes as the root of the suction where it is small: from %d to %d Pa", (from_Pa, to_Pa, factor) => {
    expect(measured(from_Pa, 0.01, STANDARD, to_Pa) / 0.01 / factor).toBeCloseTo(1, 3);
  });

  // 90 kPa, 25 degC, dry: 1.0516 kg/m3 (p / R T with R = 287.05 J/(kg K)).
  it("goes as the root of the density, in the thin air of the hills", () => {
    const hills = { temperature_K: 298.15, pressure_Pa: 90_000, relativeHumidity: 0 };
    expect(measured(100, 0.01, hills, 100) / 0.01 / Math.sqrt(1.0516 / 1.2)).toBeCloseTo(1, 3);
  });

  it("is the same at whatever suction and in whatever room the same orifice is held", () => {
    const rooms = fc.record({
      temperature_K: fc.double({ min: 285, max: 308, noNaN: true }),
      pressure_Pa: fc.double({ min: 80_000, max: 104_000, noNaN: true }),
      relativeHumidity: fc.constant(0),
    });
    const orifice = { bore_m: 0.021, coefficient: 0.607 };
    const certified = plenumFlow_m3_s(orifice, 8000, { ...STANDARD, density_kg_m3: 1.2 });
    fc.assert(
      fc.property(rooms, fc.double({ min: 4001, max: 15_999, noNaN: true }), (room, suction_Pa) => {
        const density_kg_m3 = room.pressure_Pa / (287.05 * room.temperature_K);
        const flow_m3_s = plenumFlow_m3_s(orifice, suction_Pa, { ...room, density_kg_m3 });
        // CIPM-2007 knows dry air a little better than the ideal gas does.
        expect(Math.abs(measured(suction_Pa, flow_m3_s, room) / certified - 1)).toBeLessThan(6e-4);
      }),
    );
  });

  test.each([3999, 16_001, 0, -20, Number.NaN])(
    "can't be told at %d Pa, too far from the certificate's 8 kPa",
    (suction_Pa) => {
      expect(() => measured(suction_Pa, 0.02)).toThrow(/certificate is for 8\.00 kPa: too far apart/);
    },
  );

  it("is as uncertain as flow, half the suction and half the density are, and as what the air's expansion leaves", () => {
    const conditions = {
      ...roomOf(STANDARD, { pressureUncertainty_Pa: 1009.79 }),
      channels: new Map([
        ["flow", { absolute: 0, relative: 0.005 }],
        ["suction", { absolute: 0, relative: 0.004 }],
        ["power", { absolute: 0, relative: 0 }],
      ]),
    };
    const { value, uncertainty } = referenceFlow(at(7000, 0.02), conditions, 8000);
    // By hand: 0.5 %, 0.2 % less what more suction expands, 0.5 %, and 0.027 times 1 kPa over the room's pressure.
    const byHand = Math.hypot(0.005, 0.0019, 0.005, 0.027 * (1000 / 100_979));
    expect(uncertainty / value / byHand).toBeCloseTo(1, 1);
  });
});
