import type { Clock } from "../../drivers/ports.ts";
import { encodeCurve } from "../../station/records/curve.ts";
import type { AttemptFacts, AttemptOutcome } from "../../station/records/traveller.ts";

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

/** A pressure falling slowly from -8 kPa, with noise, every 10.25 ms. */
export function decay(samples: number): { t_s: number; value: number }[] {
  return Array.from({ length: samples }, (_, at) => ({
    t_s: at * 0.01025 + 0.0003 * Math.sin(at * 12.9898),
    value: -8000 + at * 0.05 + 1.2 * Math.sin(at * at * 78.233),
  }));
}
