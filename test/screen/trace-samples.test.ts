import { describe, expect, it } from "vitest";
import type { UnitProgress } from "../../station/cycle/unit-progress.ts";
import { TraceRecorder } from "../../station/screen/trace-samples.ts";
import { tub } from "./example-state.ts";

const [leak] = tub.steps;
const at = (phase: UnitProgress["phase"], elapsed_s: number): UnitProgress => ({
  phase,
  step: leak ?? null,
  point: null,
  elapsed_s,
});

describe("the running phase's curve", () => {
  it("keeps its beginning and its end however long it gets, evenly thinned", () => {
    const recorder = new TraceRecorder();
    let trace = null;
    for (let k = 0; k < 5000; k++) trace = recorder.look(at("settle", k / 10), k, 100 + k / 10);
    const values = trace?.samples.map(({ value }) => value) ?? [];
    expect(values.length).toBeLessThanOrEqual(600);
    expect(values[0]).toBe(0);
    expect(values.at(-1)).toBeGreaterThan(4980);
    const steps = values.slice(1).map((value, i) => value - (values[i] ?? 0));
    expect(new Set(steps).size).toBe(1);
  });

  it("begins anew with each phase and ends with the test; a missing reading is a gap and no zero", () => {
    const recorder = new TraceRecorder();
    recorder.look(at("fill", 0), 1, 10);
    const gap = recorder.look(at("fill", 0.1), undefined, 10.1);
    expect(gap?.samples).toEqual([{ t_s: 10, value: 1 }]);
    const next = recorder.look(at("settle", 0), 7, 11);
    expect(next).toEqual({ channel: "leak_pressure", samples: [{ t_s: 11, value: 7 }], phaseStart_s: 11 });
    expect(recorder.look(null, 7, 12)).toBeNull();
  });
});
