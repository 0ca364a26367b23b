import { describe, expect, it } from "vitest";
import type { LeakStep, ModelLimits } from "../../limits/model.ts";
import type { UnitProgress } from "../../station/cycle/unit-progress.ts";
import { liveValues, phaseLength } from "../../station/screen/live-values.ts";
import { tub } from "./example-state.ts";

const leakStep = leakStepOf(tub);
const rule = { measureShortest_s: 2, lookEvery_s: 0.5, falseAccept: 1e-3, falseReject: 1e-3 };

function leakStepOf({ steps }: ModelLimits): LeakStep {
  const step = steps.find((candidate) => candidate.kind === "leak");
  if (!step) throw new Error("the demo model has a leak step");
  return step;
}

function inPhase(phase: UnitProgress["phase"], step: LeakStep = leakStep): UnitProgress {
  return { phase, step, point: null, elapsed_s: 1 };
}

describe("a phase on the screen", () => {
  it("that measures takes its time, or at most its time where a verdict may come early", () => {
    const longest_s = leakStep.measureLongest_s;
    expect(phaseLength(inPhase("measure", { ...leakStep, earlyVerdict: null }))).toEqual({
      longest_s,
      isFixed: true,
    });
    expect(phaseLength(inPhase("measure", { ...leakStep, earlyVerdict: rule }))).toEqual({
      longest_s,
      isFixed: false,
    });
  });

  it("that reads the source before the fill shows the source, and no bar", () => {
    const values = liveValues(tub, inPhase("rest"), { source_pressure: -8_241, leak_pressure: 3 }, true);
    expect(values.map(({ name, value }) => [name, value])).toEqual([["source", "-8.24"]]);
    expect(phaseLength(inPhase("rest"))).toBeNull();
  });
});
