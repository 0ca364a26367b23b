import { randomStream } from "../../sim/random.ts";
import type { MeasuredSeries, YieldDetail } from "../../station/yield-page/yield-detail.ts";

/** Leak rates of a body that leaks 12 mL/min or so, and some that leak far too much. */
export function madeSeries(count: number, changes: Partial<MeasuredSeries> = {}): MeasuredSeries {
  const random = randomStream(7, "leak rates");
  const values = Array.from({ length: count }, () =>
    random.uniform() < 0.04 ? 30 + 300 * random.uniform() : Math.max(0.5, 12 + 3 * random.normal()),
  );
  return {
    model: "POD-4",
    characteristic: "leak rate",
    measurand: "leak_rate",
    unit: "mL/min @ 20 degC",
    lower: null,
    upper: 25,
    acceptedFrom: null,
    acceptedTo: 24.2,
    conformance: 0.95,
    limitsChanged: false,
    values,
    passed: values.map((value) => value <= 24.2),
    serials: values.map((_, k) => `POD${String(k + 1).padStart(6, "0")}`),
    at_ms: values.map((_, k) => Date.parse("2026-01-05T05:00:00Z") + 20_000 * k),
    withoutValue: 0,
    ...changes,
  };
}

export function madeDetail(changes: Partial<YieldDetail> = {}): YieldDetail {
  return {
    measured: [madeSeries(140)],
    failures: [
      {
        serial: "POD000017",
        model: "POD-4",
        at: "2026-01-05T07:12:00.000Z",
        attempt: 1,
        kind: "first",
        failedBy: ["leak rate"],
        suspect: "gasket pinched",
        now: "failed",
        path: "2026/01/05/00000017-POD000017-1.json",
      },
    ],
    failuresLeftOut: 0,
    notes: [],
    ...changes,
  };
}
