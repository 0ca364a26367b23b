import { describe, expect, it } from "vitest";
import type { ModelLimits } from "../../limits/model.ts";
import type { StationKnowledge } from "../../station/cycle/characteristic-result.ts";
import { judgeAttempt } from "../../station/cycle/judging.ts";
import type { UnitEvidence } from "../../station/cycle/unit-context.ts";
import type { CurveSamples } from "../../station/cycle/watchers.ts";
import { attemptOn, pod } from "./unit-bench.ts";

const station: StationKnowledge = {
  fixtureVolume_m3: 4e-4,
  fixtureVolumeUncertainty_m3: 1e-5,
  fixtureLeakBound_m3_s: 0,
  flowFrom: { kind: "gauge" },
  openings: new Map(),
  channels: new Map(
    [
      "leak_pressure",
      "suction",
      "flow",
      "power",
      "voltage",
      "ambient_temperature",
      "ambient_pressure",
      "ambient_humidity",
    ].map((name) => [name, { absolute: 1e-4, relative: 1e-3 }]),
  ),
};

/** 8 s of decay, a little rough so that the gauge looks alive. */
function decay(slope_Pa_s: number, from_Pa = 5_000): CurveSamples {
  const i = Array.from({ length: 400 }, (_, n) => n);
  return {
    t_us: i.map((n) => n * 20_000),
    pressure_mPa: i.map((n) => Math.round((from_Pa - slope_Pa_s * n * 0.02) * 1000) + ((n * 7) % 11) - 5),
  };
}

/** A second of readings, three seconds after the command. */
function steady(value: number | undefined) {
  const t_s = Array.from({ length: 20 }, (_, n) => 3 + n * 0.05);
  return { t_s, values: t_s.map(() => value ?? Number.NaN) };
}

const airflow = (["closed", "working", "open"] as const).map((point, k) => ({
  step: "airflow",
  point,
  samples: {
    since_s: 0,
    suction_Pa: steady([13_900, 9_100, 380][k]),
    flow_m3_s: steady([0, 0.0155, 0.0302][k]),
    power_W: steady([425, 530, 600][k]),
    drop_Pa: { t_s: [], values: [] },
    voltage_V: steady(230),
  },
}));

function evidence(changes: Partial<UnitEvidence>): UnitEvidence {
  return {
    startedAt_ms: 0,
    start_s: 0,
    ambient: { temperature_K: 293.15, pressure_Pa: 101_325, relativeHumidity: 0.5 },
    leaks: [{ step: "leak", settle: decay(1), measure: decay(1) }],
    airflow,
    phases: [],
    fails: [],
    voids: [],
    ...changes,
  };
}

/** The compact body's limits, its leak rate taken by the fixed timer: these curves have nothing to fit. */
const byTimer: ModelLimits = {
  ...pod,
  steps: pod.steps.map((step) =>
    step.kind === "leak"
      ? { ...step, method: { kind: "slope", subtractsMeanCurve: false }, earlyVerdict: null }
      : step,
  ),
};

function verdict(changes: Partial<UnitEvidence>, knowledge = station) {
  const { verdict: it, reasons } = judgeAttempt(attemptOn(byTimer), evidence(changes), knowledge);
  return { verdict: it, codes: reasons.map((reason) => reason.code) };
}

describe("the verdict of an attempt", () => {
  it("is pass when everything is measured and conforms", () => {
    expect(verdict({})).toEqual({ verdict: "pass", codes: [] });
  });

  it("is fail when one characteristic is out of its limits, naming it", () => {
    expect(verdict({ leaks: [{ step: "leak", measure: decay(20) }] })).toEqual({
      verdict: "fail",
      codes: ["OUT_OF_LIMITS"],
    });
  });

  it.each([
    ["no leak was measured", { leaks: [] }],
    ["a point was not held", { airflow: airflow.slice(0, 2) }],
    ["nothing was measured at all", { leaks: [], airflow: [] }],
    ["the room was not read", { ambient: null }],
  ] satisfies (readonly [string, Partial<UnitEvidence>])[])("is void, never pass, when %s", (_, changes) => {
    expect(verdict(changes).verdict).toBe("void");
  });

  it.each(["leak_pressure", "suction", "flow", "power", "voltage", "ambient_pressure"])(
    "is void when nothing is known of the uncertainty of %s",
    (channel) => {
      const channels = new Map(station.channels);
      channels.delete(channel);
      expect(verdict({}, { ...station, channels }).verdict).toBe("void");
    },
  );

  it("is void whatever was measured when the measurement became doubtful", () => {
    const doubt = { code: "INSTRUMENT_FAULT", sentence: "gone" } as const;
    expect(verdict({ voids: [doubt] })).toEqual({ verdict: "void", codes: ["INSTRUMENT_FAULT"] });
    expect(verdict({ voids: [doubt], leaks: [{ step: "leak", measure: decay(20) }] }).verdict).toBe("void");
  });

  it.each([
    ["a conforming", { measure: decay(1) }],
    ["a leaking", { measure: decay(20) }],
    ["an empty", { gross: decay(800, 3_000) }],
  ])("is void, with no leak rate, when it was the hose that was vented of %s body", (_, curve) => {
    const leak = { step: "leak", ...curve, vent: { from_Pa: 4_900, took_s: 0.04 } };
    expect(verdict({ leaks: [leak] }).verdict).toBe("void");
    const [rate] = judgeAttempt(attemptOn(byTimer), evidence({ leaks: [leak] }), station).characteristics;
    expect(rate).toMatchObject({ value: null, verdict: "void" });
  });

  it("is fail for a body that had emptied before it could be measured, though its slope is nothing", () => {
    const emptied = { step: "leak", settle: decay(500), measure: decay(0, 10) };
    expect(verdict({ leaks: [emptied] })).toEqual({ verdict: "fail", codes: ["GROSS_LEAK"] });
  });

  it("is fail for a body that could not be filled, and says it once", () => {
    const finding = { code: "GROSS_LEAK", sentence: "could not be filled" } as const;
    const gross = { step: "leak", gross: decay(800, 2_000) };
    expect(verdict({ leaks: [gross], fails: [finding], airflow: [] })).toEqual({
      verdict: "fail",
      codes: ["GROSS_LEAK"],
    });
  });
});
