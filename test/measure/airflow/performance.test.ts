import { describe, expect, test } from "vitest";
import type {
  AirflowConditions,
  MeasuringOrifice,
  PointMeans,
} from "../../../station/measure/airflow/airflow-evidence.ts";
import { type AirflowPerformance, measureAirflow } from "../../../station/measure/airflow/performance.ts";
import { standardFactors } from "../../../station/measure/airflow/standard-conditions.ts";
import { curveOf, exactly, gaugePoint, known, told } from "./stated-airflow.ts";

const ORIFICE: MeasuringOrifice = {
  bore_m: 0.03,
  boreUncertainty_m: 1e-4,
  coefficient: 0.6,
  coefficientUncertainty: 0.003,
  isCalibrated: false,
};

function drawn(point: string, suction_Pa: number, power_W = 900): PointMeans {
  return {
    ...gaugePoint(point, { flow_m3_s: known(0), suction_Pa: known(suction_Pa), power_W }),
    flow_m3_s: null,
  };
}

/** Relative standard uncertainty of the expansibility at 9 kPa. */
const EXPANSION = (0.027 * 9000) / 101_325;

const plenum = (orifice: MeasuringOrifice = ORIFICE): AirflowConditions["flowFrom"] => ({
  kind: "plenum",
  orifices: new Map([
    ["closed", null],
    ["working", orifice],
  ]),
});

function only(performance: AirflowPerformance) {
  const [point] = performance.points;
  if (!point) throw new Error("no point");
  return point;
}

const contributions = (measured: { budget: readonly { component: string }[] }) =>
  measured.budget.map(({ component }) => component);

describe("the flow at a point", () => {
  test("through an orifice into the plenum is the jet's times coefficient and expansibility", () => {
    const conditions = exactly({ flowFrom: plenum() });
    const { flow, asMeasured } = only(measureAirflow([drawn("working", 9000)], conditions));
    // 0.050771 m3/s at 1.2 kg/m3, here 1.19931.
    expect(flow.value).toBeCloseTo(0.050771 * Math.sqrt(1.2 / 1.199313895), 6);
    expect(asMeasured.flow_m3_s).toBe(flow.value);
  });

  test("goes with bore squared and coefficient, and a calibration has the bore's part in it", () => {
    const conditions = (isCalibrated: boolean) => exactly({ flowFrom: plenum({ ...ORIFICE, isCalibrated }) });
    const handbook = only(measureAirflow([drawn("working", 9000)], conditions(false))).flow;
    const byBore = 2 * (1e-4 / 0.03);
    expect(handbook.uncertainty / handbook.value).toBeCloseTo(Math.hypot(byBore, 0.003 / 0.6, EXPANSION), 5);
    const calibrated = only(measureAirflow([drawn("working", 9000)], conditions(true))).flow;
    expect(calibrated.uncertainty / calibrated.value).toBeCloseTo(Math.hypot(0.003 / 0.6, EXPANSION), 5);
    expect(contributions(calibrated)).not.toContain("bore of the orifice working");
  });

  test("has the expansion's doubt as one input that grows with the drop, so that two orifices err together", () => {
    const exact = { ...ORIFICE, coefficientUncertainty: 0, isCalibrated: true };
    const orifices = new Map([
      ["working", exact],
      ["open", exact],
    ]);
    const conditions = exactly({ flowFrom: { kind: "plenum", orifices } });
    const { points } = measureAirflow([drawn("working", 15_000), drawn("open", 3000)], conditions);
    for (const { flow } of points) {
      expect(contributions(flow).filter((name) => /orifice/.test(name))).toEqual([
        "expansion of the air in the orifices",
      ]);
    }
    const relative = points.map(({ flow }) => flow.uncertainty / flow.value);
    expect(relative[0]).toBeCloseTo((0.027 * 15_000) / 101_325, 6);
    expect((relative[0] ?? 0) / (relative[1] ?? 0)).toBeCloseTo(5, 2);
  });

  test("through a closed inlet is none, exactly: no suction power, no efficiency, and no doubt about it", () => {
    const { flow, suctionPower, efficiency } = only(
      measureAirflow([drawn("closed", 21_000)], exactly({ flowFrom: plenum() })),
    );
    for (const figure of [flow, suctionPower, efficiency]) {
      expect(figure).toEqual({ value: 0, uncertainty: 0, budget: [] });
    }
  });

  test("through a plate in a pipe is that of ISO 5167-2, with the standard's 0.25 % in its budget", () => {
    const plate = {
      pipe_m: 0.1,
      pipeUncertainty_m: 0,
      bore_m: 0.06,
      boreUncertainty_m: 0,
      taps: "corner",
      coefficient: null,
    } as const;
    const means = { ...drawn("working", 9000), drop_Pa: known(1000) };
    const conditions = exactly({ flowFrom: { kind: "pipe", plate, closed: new Set() } });
    const { flow } = only(measureAirflow([means], conditions));
    expect(flow.value).toBeCloseTo(0.075527 * Math.sqrt(1.2 / 1.199313895), 5);
    expect(flow.uncertainty / flow.value).toBeCloseTo(0.0025, 4);
    const coefficient = { value: 0.61217, uncertainty: 0.0061217 };
    const calibrated = exactly({
      flowFrom: { kind: "pipe", plate: { ...plate, coefficient }, closed: new Set() },
    });
    const own = only(measureAirflow([means], calibrated)).flow;
    expect(own.value / flow.value).toBeCloseTo(1, 4);
    expect(own.uncertainty / own.value).toBeCloseTo(0.01, 4);
  });

  test("through a plate in a pipe is known to 5 % where ISO 5167-2 vouches for nothing, and only there", () => {
    const plate = {
      pipe_m: 0.1,
      pipeUncertainty_m: 0,
      bore_m: 0.06,
      boreUncertainty_m: 0,
      taps: "corner",
      coefficient: null,
    } as const;
    const at = (point: string, drop_Pa: number) => ({ ...drawn(point, 9000), drop_Pa: known(drop_Pa) });
    const performance = measureAirflow(
      // A closed inlet has no flow, whatever the gauge makes of none.
      [at("closed", 0.4), at("blocked", 1), at("open", 1000)],
      exactly({ flowFrom: { kind: "pipe", plate, closed: new Set(["closed"]) } }),
    );
    const relative = performance.points.map(({ flow }) => flow.uncertainty / flow.value);
    expect(performance.points[0]?.flow).toMatchObject({ value: 0, uncertainty: 0 });
    expect(relative[1]).toBeCloseTo(0.05, 6);
    expect(relative[2]).toBeCloseTo(0.0025, 4);
  });

  test("of a body that does not pull is small and its uncertainty that of the gauge's zero, not nothing", () => {
    const channels = new Map(exactly().channels).set("suction", { absolute: 5, relative: 0 });
    const { flow } = only(measureAirflow([drawn("working", 0)], exactly({ flowFrom: plenum(), channels })));
    expect(flow.value).toBe(0);
    // What 5 Pa would draw: C A sqrt(2 h / rho).
    expect(flow.uncertainty).toBeCloseTo(0.6 * (Math.PI / 4) * 0.03 ** 2 * Math.sqrt(10 / 1.1993), 5);
  });
});

describe("standard conditions", () => {
  const CORRECTION = { speedPerDensity: -1 / 6, speedPerVoltage: 0.55, exponentUncertainty: 0.05 };
  const HIGH = { ...exactly().room, temperature_K: 299.15, pressure_Pa: 84_000 };

  test("state the same unit alike from a mountain on a weak supply and from sea level", () => {
    const low = measureAirflow(
      [gaugePoint("working", { flow_m3_s: known(0.02), suction_Pa: known(15_000), power_W: 950 })],
      exactly({ correction: CORRECTION }),
    );
    // The same unit up there, by the fan laws.
    const [there, here] = [HIGH, exactly().room].map((room) => measureAirflow([], exactly({ room })).air);
    const ratio = (there?.density_kg_m3.value ?? 0) / (here?.density_kg_m3.value ?? 1);
    const factors = standardFactors({ density: ratio, voltage: 226 / 230 }, CORRECTION);
    const read = {
      flow_m3_s: known(0.02 / factors.flow),
      suction_Pa: known(15_000 / factors.suction),
      power_W: 950 / factors.power,
      voltage_V: 226,
    };
    const high = measureAirflow(
      [gaugePoint("working", read)],
      exactly({ room: HIGH, correction: CORRECTION }),
    );
    for (const figure of ["suction", "flow", "power", "suctionPower"] as const) {
      expect(only(high)[figure].value / only(low)[figure].value).toBeCloseTo(1, 9);
    }
    expect(high.corrected).toBe(true);
    expect(only(high).asMeasured.suction_Pa).toBeCloseTo(15_000 / factors.suction, 6);
    // Far from standard conditions the exponents count, near them they don't.
    expect(only(high).suction.uncertainty).toBeGreaterThan(20 * only(low).suction.uncertainty);
  });

  test("leave efficiency and its budget alone", () => {
    const points = [gaugePoint("working", { flow_m3_s: known(0.02), suction_Pa: known(12_000) })];
    const plain = only(measureAirflow(points, exactly({ room: HIGH }))).efficiency;
    const corrected = only(measureAirflow(points, exactly({ room: HIGH, correction: CORRECTION })));
    expect(corrected.efficiency).toEqual(plain);
  });

  test("are not asked for: figures are as measured, and say so", () => {
    const points = [gaugePoint("working", { flow_m3_s: known(0.02), suction_Pa: known(12_000) })];
    const performance = measureAirflow(points, exactly({ room: HIGH }));
    expect(performance.corrected).toBe(false);
    expect(only(performance).suction.value).toBe(12_000);
  });
});

describe("what points share", () => {
  const flows = [0, 0.02, 0.04];
  const straight = (uncertainty: number) =>
    flows.map((flow_m3_s, i) => {
      const suction_Pa = 20_000 - 3e5 * flow_m3_s;
      return gaugePoint(`p${i}`, {
        flow_m3_s: known(flow_m3_s),
        suction_Pa: known(suction_Pa, uncertainty * suction_Pa),
      });
    });

  test("a suction gauge that reads 1 % wrong everywhere does not move the place of no suction; 1 % scatter does", () => {
    const channels = new Map(exactly().channels).set("suction", { absolute: 0, relative: 0.01 });
    const shared = curveOf(measureAirflow(straight(0), exactly({ channels })).curve);
    const scattered = curveOf(measureAirflow(straight(0.01), exactly()).curve);
    expect(told(shared.flowAtZeroSuction).uncertainty).toBeLessThan(1e-9);
    expect(told(scattered.flowAtZeroSuction).uncertainty).toBeGreaterThan(0.001);
    expect(told(shared.suctionAtZeroFlow).uncertainty).toBeCloseTo(200, 6);
  });
});

describe("what can't be measured", () => {
  const point = gaugePoint("working", { flow_m3_s: known(0.02), suction_Pa: known(12_000) });

  test("efficiency of a motor that takes no power is none, and says why", () => {
    const still = { ...point, power_W: known(0.4, 0.3) };
    const { efficiency, suctionPower } = only(measureAirflow([still], exactly()));
    expect(efficiency).toEqual({ kind: "none", why: expect.stringMatching(/no power/) });
    expect(suctionPower.value).toBeCloseTo(240, 9);
  });

  test.each([
    { what: "a mean that is no number", means: { ...point, suction_Pa: known(Number.NaN) }, says: /suction/ },
    {
      what: "a scatter without end",
      means: { ...point, power_W: known(900, Number.POSITIVE_INFINITY) },
      says: /power/,
    },
    { what: "a flow nobody read", means: { ...point, flow_m3_s: null }, says: /working.*flow/ },
    { what: "no voltage", means: { ...point, voltage_V: known(0) }, says: /voltage/ },
    {
      what: "a voltage that is no number",
      means: { ...point, voltage_V: known(Number.NaN) },
      says: /voltage/,
    },
  ])("$what is refused by name", ({ means, says }) => {
    expect(() => measureAirflow([means], exactly())).toThrow(RangeError);
    expect(() => measureAirflow([means], exactly())).toThrow(says);
  });

  test("a gauge without a calibration and an orifice nobody knows are refused by name", () => {
    const channels = new Map([...exactly().channels].filter(([name]) => name !== "suction"));
    expect(() => measureAirflow([point], exactly({ channels }))).toThrow(/suction/);
    const other = { ...drawn("working", 9000), orifice: "hatch" };
    expect(() => measureAirflow([other], exactly({ flowFrom: plenum() }))).toThrow(/hatch/);
  });

  test("without a correction the voltage gauge needs no calibration", () => {
    const channels = new Map([...exactly().channels].filter(([name]) => name !== "voltage"));
    expect(only(measureAirflow([point], exactly({ channels }))).suction.value).toBe(12_000);
    const correction = { speedPerDensity: 0, speedPerVoltage: 0.55, exponentUncertainty: 0 };
    expect(() => measureAirflow([point], exactly({ channels, correction }))).toThrow(/voltage/);
  });
});
