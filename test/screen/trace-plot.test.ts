import { describe, expect, it } from "vitest";
import { loadLimitFile } from "../../limits/limit-file.ts";
import type { ModelLimits } from "../../limits/model.ts";
import { tracePlot } from "../../station/screen/trace-plot.ts";
import { tub } from "./example-state.ts";

const pod = loadLimitFile("limits/models/pod-4.yaml");

function measured(limits: ModelLimits, value: number, at_s: number) {
  const [step = null] = limits.steps;
  const samples = Array.from({ length: 10 }, (_, i) => ({ t_s: 100 + at_s - (9 - i) * 0.01, value }));
  const progress = { phase: "measure", step, point: null, elapsed_s: at_s } as const;
  return tracePlot(limits, progress, { channel: "leak_pressure", phaseStart_s: 100, samples });
}

describe("the line of the limit leak", () => {
  // By hand, ASTM E2930: 25 mL/min = 4.1667e-7 m3/s; times 101325 Pa over 4e-3 m3 is 10.555 Pa/s.
  it("falls from a pressurised body's pressure as fast as its limit and volume say", () => {
    const [line] = measured(pod, 5000, 3)?.lines ?? [];
    expect(line?.from).toBeCloseTo(5, 9);
    expect(line?.since_s).toBeCloseTo(3, 9);
    expect(line?.to).toBeCloseTo(5 - 0.010555 * 10, 4);
  });

  it("rises from an evacuated body's, towards the room's pressure", () => {
    const [line] = measured(tub, -8000, 3)?.lines ?? [];
    const perSecond_kPa = (1e-6 * 101_325) / tub.volume_m3 / 1000;
    expect(line?.to).toBeCloseTo(-8 + perSecond_kPa * 13, 6);
  });

  it("is not there for a step without a leak limit", () => {
    const characteristics = tub.characteristics.filter(({ measurand }) => measurand !== "leak_rate");
    expect(measured({ ...tub, characteristics }, -8000, 3)?.lines).toEqual([]);
  });
});

describe("a curve", () => {
  it("begins where its phase began, in the unit it is read in", () => {
    const plot = measured(tub, -8000, 3);
    expect(plot?.unit).toBe("kPa");
    expect(plot?.samples.at(-1)).toEqual({ t_s: 3, value: -8 });
  });

  it("is not drawn outside the steps, nor before the first sample", () => {
    const trace = { channel: "leak_pressure", phaseStart_s: 100, samples: [] } as const;
    const [step = null] = tub.steps;
    expect(tracePlot(tub, { phase: "fill", step, point: null, elapsed_s: 0 }, trace)).toBeNull();
    expect(tracePlot(tub, { phase: "safing", step: null, point: null, elapsed_s: null }, trace)).toBeNull();
  });
});
