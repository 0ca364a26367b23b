import type { Clock } from "../../drivers/ports.ts";
import { encodeCurve } from "../../station/records/curve.ts";
import type { AttemptFacts, AttemptOutcome } from "../../station/records/traveller.ts";
import type { TravellerAirflow } from "../../station/records/traveller-airflow.ts";

const STARTED_AT = "2026-01-05T06:00:00.000Z";

/** A wall clock that stands at 06:00 UTC on 5 January 2026, or where it is put. */
export function stoppedClock(start = STARTED_AT): Clock & { wall: string } {
  return {
    wall: start,
    now_s: () => 0,
    wall_ms() {
      return Date.parse(this.wall);
    },
    setTimeout: () => undefined,
    clearTimeout: () => undefined,
    afterArrivals: () => undefined,
  };
}

export function facts(serial: string, attempt = 1, more: Partial<AttemptFacts> = {}): AttemptFacts {
  return {
    kind: "unit",
    serial,
    model: "demo-body",
    parts: { tub_cavity: "3" },
    attempt: { number: attempt, kind: attempt === 1 ? "first" : "retest" },
    draft: false,
    started_at: STARTED_AT,
    who: { inspector: "Ines", sign_in: "stated" },
    station: { name: "line 1", software: "drumtight 0.1.0", simulated: true },
    limit_file: {
      path: "demo-body.yaml",
      model: "demo-body",
      revision: 3,
      sha256: "a".repeat(64),
      approved_by: "Quentin",
    },
    gauges: [
      { name: "leak gauge", profile: "scpi-gauge", identity: "DEMO,1", calibration_due: "2026-06-30" },
    ],
    reference_check: { at: "2026-01-05T05:30:00.000Z", travellers: ["b".repeat(64)] },
    ...more,
  };
}

export function outcome(more: Partial<AttemptOutcome> = {}): AttemptOutcome {
  return {
    verdict: "pass",
    reasons: [],
    ended_at: "2026-01-05T06:00:21.400Z",
    duration_s: 21.4,
    ambient: { temperature_K: 294.35, pressure_Pa: 100_950, relative_humidity: 0.42 },
    characteristics: [
      {
        name: "leak rate",
        step: "leak",
        measurand: "leak_rate",
        value: 22.4,
        unit: "mL/min",
        uncertainty: 0.61,
        expanded_uncertainty: 1.22,
        upper: 60,
        rule: { kind: "guarded", conformance: 0.95 },
        conformance: 1,
        verdict: "pass",
        budget: [{ component: "fit", value: 0.4, unit: "Pa/s", sensitivity: 1.2, contribution: 0.48 }],
      },
    ],
    phases: [{ step: "leak", phase: "fill", at_s: 0, seconds: 1.6 }],
    curves: [{ step: "leak", channel: "pressure", ...encodeCurve(decay(400), "mPa") }],
    ...more,
  };
}

/** A three-point airflow step at standard conditions, with its curve; invented. */
export function airflow(more: Partial<TravellerAirflow> = {}): TravellerAirflow {
  const point = (
    name: string,
    [h, q, p1, p2, efficiency]: readonly [number, number, number, number, number],
  ) => ({
    point: name,
    orifice: name,
    samples: 12,
    readings: {
      suction_Pa: { mean: h * 0.99, scatter: 3 },
      power_W: { mean: p1 * 0.99, scatter: 0.4 },
      voltage_V: { mean: 229.6, scatter: 0.05 },
      flow_m3_s: { mean: q, scatter: 2e-5 },
    },
    suction_Pa: { value: h, uncertainty: 24.6 },
    flow_m3_s: { value: q, uncertainty: 1.4e-4 },
    power_W: { value: p1, uncertainty: 1.92 },
    suction_power_W: { value: p2, uncertainty: 3.1 },
    efficiency: { value: efficiency, uncertainty: 0.0028 },
  });
  return {
    step: "airflow",
    air: { density_kg_m3: { value: 1.18624, uncertainty: 0.00061 } },
    stated_at: {
      density_kg_m3: 1.2,
      supply_voltage_V: 230,
      speed_per_density: -0.17,
      speed_per_voltage: 0.55,
      exponent_uncertainty: 0.05,
    },
    flow_from: { kind: "gauge" },
    points: [
      point("closed", [22_312, 0, 774, 0, 0]),
      point("working", [15_620, 0.0301, 1043.4, 470.2, 0.4506]),
      point("open", [1311, 0.0554, 1169.2, 72.6, 0.0621]),
    ],
    curve: {
      kind: "parabola",
      coefficients: [22_312, -80_000, -5_400_000],
      suction_at_zero_flow_Pa: { value: 22_312, uncertainty: 24.6, extrapolated: false },
      flow_at_zero_suction_m3_s: { value: 0.0571, uncertainty: 2.1e-4, extrapolated: true },
      largest_suction_power_W: { value: 482.3, uncertainty: 3.4, at_flow_m3_s: 0.03341, extrapolated: false },
      tested: [
        { point: "closed", flow_m3_s: 0, suction_Pa: 22_312, uncertainty_Pa: 24.6, residual_Pa: 0 },
        { point: "working", flow_m3_s: 0.0301, suction_Pa: 15_620, uncertainty_Pa: 24.6, residual_Pa: 0 },
        { point: "open", flow_m3_s: 0.0554, suction_Pa: 1311, uncertainty_Pa: 24.6, residual_Pa: 0 },
      ],
      fit_probability: null,
    },
    ...more,
  };
}

export const SUSPECTS: NonNullable<AttemptOutcome["suspects"]> = [
  {
    cause: "blocked path",
    look_at: "Take the unit from the mains, then look through hose, inlet and filter.",
    evidence: ["open flow 41.20 L/s is 0.841 of its lower limit 49 L/s", "sealed suction passed"],
  },
  { cause: "weak motor", look_at: "Try the unit with another lid.", evidence: ["tub cavity T3"] },
];

/** A pressure falling slowly from -8 kPa, with noise, every 10.25 ms. */
export function decay(samples: number): { t_s: number; value: number }[] {
  return Array.from({ length: samples }, (_, at) => ({
    t_s: at * 0.01025 + 0.0003 * Math.sin(at * 12.9898),
    value: -8000 + at * 0.05 + 1.2 * Math.sin(at * at * 78.233),
  }));
}
