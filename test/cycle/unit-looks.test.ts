import { describe, expect, it } from "vitest";
import type { LeakStep, ModelLimits } from "../../limits/model.ts";
import type { PreparedAttempt } from "../../station/cycle/attempt.ts";
import type { UnitInput } from "../../station/cycle/unit-context.ts";
import { attemptOn, pod, unitBench } from "./unit-bench.ts";

const rule = { measureShortest_s: 2, lookEvery_s: 0.5, falseAccept: 1e-3, falseReject: 1e-3 };
const leakStep = pod.steps.find((step) => step.kind === "leak");
if (!leakStep) throw new Error("the demo model has a leak step");

function withRule(earlyVerdict: LeakStep["earlyVerdict"]): ModelLimits {
  return {
    ...pod,
    steps: pod.steps.map((step) => (step.kind === "leak" ? { ...step, earlyVerdict } : step)),
  };
}

async function atMeasure(attempt: PreparedAttempt, newLook: UnitInput["newLook"]) {
  const bench = await unitBench({}, { attempt, newLook });
  await bench.reach("leak.measure");
  const observed = bench.observed();
  if (observed.watch !== "curve") throw new Error(`watches ${observed.watch}`);
  return { bench, observed };
}

describe("a measurement that may end early", () => {
  it("is looked at as the limit file says, by one judge made when it begins, who knows the settled curve", async () => {
    const asked: Parameters<UnitInput["newLook"]>[] = [];
    const lookAt = () => null;
    const attempt = attemptOn(withRule(rule));
    const { bench, observed } = await atMeasure(attempt, (...args) => {
      asked.push(args);
      return lookAt;
    });
    expect(observed.looks).toEqual({ first_s: 2, every_s: 0.5, lookAt });
    expect(observed.duration_s).toBe(leakStep.measureLongest_s);
    expect(asked).toHaveLength(1);
    const [given, evidence, step] = asked[0] ?? [];
    expect(given).toBe(attempt);
    expect(evidence?.leaks[0]?.settle).toBeDefined();
    expect(step?.earlyVerdict).toEqual(rule);

    const curve = { t_us: [0, 20_000], pressure_mPa: [5_000_000, 4_999_000] };
    const look = {
      number: 4,
      at_s: 31.5,
      early: true,
      decision: { distance: 6, boundary: 4, riskSpent: 0.2 },
    };
    await bench.fulfil({ kind: "curve", curve, look });
    expect(bench.phase()).toBe("leak.vent");
    await bench.reach("airflow.coast");
    await bench.fulfil();
    expect((await bench.end()).evidence.leaks[0]).toMatchObject({ measure: curve, look });
    expect(asked).toHaveLength(1);
  });

  it.each([
    ["the limit file turns early verdicts off", attemptOn(withRule(null))],
    [
      "a reference piece is on, which proves the station",
      {
        ...attemptOn(withRule(rule)),
        reference: {
          serial: "REF-TIGHT-POD-4",
          kind: "tight",
          model: "POD-4",
          certified_m3_s: 0,
          tolerance_m3_s: 1e-8,
          orifice: null,
          unit: "mL/min @ 20 degC",
        },
      },
    ],
  ] satisfies [string, PreparedAttempt][])(
    "is measured to the end, and nobody asked, when %s",
    async (_, attempt) => {
      let asked = 0;
      const { observed } = await atMeasure(attempt, () => {
        asked++;
        return () => ({});
      });
      expect(observed.looks).toBeUndefined();
      expect(asked).toBe(0);
    },
  );

  it("is measured to the end when there is nothing to look with", async () => {
    const { observed } = await atMeasure(attemptOn(withRule(rule)), () => null);
    expect(observed.looks).toBeUndefined();
  });
});
