import { describe, expect, it } from "vitest";
import { loadLimitFile } from "../limits/limit-file.ts";
import type { LeakMethod, LeakStep, ModelLimits } from "../limits/model.ts";
import { UsageError } from "../station/explain.ts";
import { type LimitOverrides, withOverrides } from "../station/limit-overrides.ts";
import { mLmin, podLeak, podWith } from "./made-traveller.ts";

const FITTED = podWith({
  settle_s: 0.3,
  measureLongest_s: 12,
  method: { kind: "fitted" },
  earlyVerdict: { measureShortest_s: 2, lookEvery_s: 0.25, falseAccept: 5e-4, falseReject: 5e-4 },
});

function changed(limits: ModelLimits, overrides: LimitOverrides) {
  const after = withOverrides(limits, overrides);
  const step = after.steps.find((one) => one.kind === "leak");
  const rate = after.characteristics.find(({ measurand }) => measurand === "leak_rate");
  if (step?.kind !== "leak" || !rate) throw new Error("no leak step");
  return { step, rate };
}

describe("a quick question to a limit file", () => {
  it("changes what it names and nothing else", () => {
    const { step, rate } = changed(podLeak, { settle: "5 s", measure: "8000 ms", limit: "50 mL/min" });
    const [before] = podLeak.steps;
    expect(step).toEqual({ ...before, settle_s: 5, measureLongest_s: 8 });
    expect(rate).toEqual({ ...podLeak.characteristics[0], upper: mLmin(50) });
    expect(withOverrides(podLeak, {})).toBe(podLeak);
  });

  it("leaves the airflow alone", () => {
    const pod = loadLimitFile("limits/models/pod-4.yaml");
    const after = withOverrides(pod, { limit: "50 mL/min" });
    const airflow = (limits: ModelLimits) => ({
      steps: limits.steps.filter(({ kind }) => kind === "airflow"),
      characteristics: limits.characteristics.filter(({ measurand }) => measurand !== "leak_rate"),
    });
    expect(airflow(after)).toEqual(airflow(pod));
  });

  it("takes a fixed timer's early verdict away, and keeps a fit's", () => {
    expect(changed(FITTED, { method: "slope" }).step.earlyVerdict).toBeNull();
    expect(changed(FITTED, { method: "fitted" }).step.earlyVerdict).toEqual(
      (FITTED.steps[0] as LeakStep).earlyVerdict,
    );
  });

  it.each([
    [{ kind: "slope", subtractsMeanCurve: true }, {}, { kind: "slope", subtractsMeanCurve: true }],
    [
      { kind: "slope", subtractsMeanCurve: true },
      { method: "slope" },
      { kind: "slope", subtractsMeanCurve: false },
    ],
    [
      { kind: "slope", subtractsMeanCurve: false },
      { subtractMeanCurve: true },
      { kind: "slope", subtractsMeanCurve: true },
    ],
    [
      { kind: "fitted" },
      { method: "difference", subtractMeanCurve: true },
      { kind: "difference", subtractsMeanCurve: true },
    ],
  ] satisfies [LeakMethod, LimitOverrides, LeakMethod][])(
    "from %j with %j makes %j",
    (method, more, made) => {
      expect(changed(podWith({ method }), { settle: "5 s", ...more }).step.method).toEqual(made);
    },
  );

  it("means the conditions that the limit file shows its leak rates at, when a limit names none", () => {
    const cold = {
      ...podLeak,
      characteristics: podLeak.characteristics.map((one) => ({ ...one, unit: "mL/min @ 0 degC" })),
    };
    const { rate } = changed(cold, { limit: "50 mL/min" });
    expect(rate.upper).toBeCloseTo((mLmin(50) * 293.15) / 273.15, 12);
    expect(changed(cold, { limit: "50 mL/min @ 20 degC" }).rate.upper).toBeCloseTo(mLmin(50), 12);
  });

  it.each([
    [
      "a fit with a mean curve",
      podLeak,
      { method: "fitted", subtractMeanCurve: true },
      /--subtract-mean-curve/,
    ],
    ["a fit's file with a mean curve", FITTED, { subtractMeanCurve: true }, /add --method slope/],
    ["no time for a look", FITTED, { measure: "2.2 s" }, /give 2\.25 s or more/],
    ["a settle before the shut-off", podLeak, { settle: "-1 s" }, /--settle/],
    ["no measuring time", podLeak, { measure: "0 s" }, /--measure/],
    ["a time without unit", podLeak, { settle: "5" }, /--settle: found "5".*the unit is missing/],
    ["a time that is a pressure", podLeak, { measure: "5 kPa" }, /--measure: found "(5 )?kPa"/],
    ["a limit of nothing", podLeak, { limit: "0 mL/min" }, /--limit/],
    ["a limit that names no conditions at all", podLeak, { limit: "50 sccm" }, /--limit.*sccm/],
  ] satisfies [string, ModelLimits, LimitOverrides, RegExp][])(
    "is refused with %s",
    (_, limits, overrides, words) => {
      expect(() => withOverrides(limits, overrides)).toThrow(UsageError);
      expect(() => withOverrides(limits, overrides)).toThrow(words);
    },
  );

  it("is refused below the lower limit of the file, with two leak rates, and without any", () => {
    const [rate] = podLeak.characteristics;
    if (!rate) throw new Error("no leak rate");
    const between = { ...podLeak, characteristics: [{ ...rate, lower: mLmin(10) }] };
    expect(() => withOverrides(between, { limit: "10 mL/min" })).toThrow(/not above the lower limit/);
    const two = { ...podLeak, characteristics: [rate, { ...rate, name: "again" }] };
    expect(() => withOverrides(two, { settle: "5 s" })).toThrow(/more than one leak rate/);
    expect(withOverrides(two, {})).toBe(two);
    expect(() => withOverrides({ ...podLeak, characteristics: [] }, {})).toThrow(/no leak rate/);
  });
});
