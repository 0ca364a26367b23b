import { describe, expect, it } from "vitest";
import { loadLimitFile } from "../../limits/limit-file.ts";
import type { AirflowStep, ModelLimits } from "../../limits/model.ts";
import { steadyRoom, withRipple } from "../../sim/plant/room.ts";
import { Population } from "../../sim/population.ts";
import { mean } from "../../station/measure/fit/mean.ts";
import { AirflowRig, FLOORS, type RigTrial, runStep } from "./airflow-rig.ts";

const MODELS = ["tub-12", "pod-4"].map((name) => loadLimitFile(`limits/models/${name}.yaml`));

function airflowStep({ steps }: ModelLimits): AirflowStep {
  const step = steps.find((candidate) => candidate.kind === "airflow");
  if (step?.kind !== "airflow") throw new Error("The demo model has an airflow step.");
  return step;
}

function cleaners(limits: ModelLimits, count: number, defect?: string) {
  const population = new Population({ seed: 11, models: [limits], defectRate: defect ? 1 : 0 });
  const found = [];
  for (let k = 0; found.length < count && k < 4000; k++) {
    const unit = population.unitAt(k);
    if (unit.defects.join() === (defect ?? "")) found.push(unit.cleaner);
  }
  return found;
}

const ROOMS = [
  ["steady mains", steadyRoom()],
  ["a slow beat of the mains", withRipple(steadyRoom(), 0.003, 19.3)],
  ["a ripple of 2 Hz", withRipple(steadyRoom(), 0.005, 2)],
] as const;

describe.each(MODELS.map((limits) => [limits.model, limits] as const))("the demo's %s", (_, limits) => {
  const step = airflowStep(limits);

  it.each(ROOMS)("with %s comes through every point, its means near what it really does", (_name, room) => {
    let far = 0;
    let means = 0;
    for (const [seed, cleaner] of cleaners(limits, 25).entries()) {
      const trial = { cleaner, seed, room };
      const { points, stopped } = runStep(trial, step);
      expect(stopped).toBeNull();
      for (const { orifice, samples } of points) {
        const truth = new AirflowRig(trial).truth(orifice);
        for (const [channel, { values }, true_] of [
          ["suction", samples.suction_Pa, truth.suction_Pa],
          ["flow", samples.flow_m3_s, truth.flow_m3_s],
          ["power", samples.power_W, truth.power_W],
        ] as const) {
          const wanted = Math.max(0.0015 * true_, FLOORS[channel] ?? 0);
          means++;
          if (Math.abs(mean(values) - true_) > 2 * wanted) far++;
        }
      }
    }
    expect(far / means).toBeLessThanOrEqual(0.05);
  });

  const verdicts = (trials: number, trial: Partial<RigTrial>) => {
    const [cleaner] = cleaners(limits, 1);
    if (!cleaner) throw new Error("no sound unit");
    const count = { held: 0, slow: 0, supply: 0, other: 0 };
    for (let seed = 0; seed < trials; seed++) {
      const { stopped } = runStep({ cleaner, ...trial, seed }, step);
      if (stopped?.kind !== "finding") count[stopped === null ? "held" : "other"]++;
      else if (stopped.finding.reason.code === "MOTOR_STAYS_SLOW") count.slow++;
      else if (/supply voltage drifts/.test(stopped.finding.reason.sentence)) count.supply++;
      else count.other++;
    }
    return count;
  };

  it.each([
    ["rises", 8],
    ["falls", -8],
  ])(
    "never fails a sound motor whose supply %s within its tolerance, but says what drifts",
    (_name, drift_V) => {
      const mains_V = (t_s: number) => 230 + drift_V * (Math.min(1, t_s / 6) - 0.5);
      const count = verdicts(20, { room: { ...steadyRoom(), mains_V } });
      expect(count.slow).toBe(0);
      expect(count.supply).toBeGreaterThanOrEqual(18);
    },
  );

  it("finds a motor slow that comes up twice as slowly as a sound one, and no sound one whatever the gauges' noise", () => {
    const [cleaner] = cleaners(limits, 1);
    if (!cleaner) throw new Error("no sound unit");
    expect(verdicts(20, { cleaner: { ...cleaner, runUpFactor: 2 } }).slow).toBeGreaterThanOrEqual(18);
    for (const noise of [1, 4, 8]) expect(verdicts(100, { noise }).slow).toBe(0);
  });

  it.each([
    ["motor_dead", "MOTOR_DID_NOT_START"],
    ["tight_bearing", "MOTOR_STAYS_SLOW"],
    ["shorted_winding", "MOTOR_DRAWS_TOO_MUCH"],
  ])("with %s fails in its run-up: %s", (defect, code) => {
    const found = cleaners(limits, 12, defect).map(
      (cleaner, seed) => runStep({ cleaner, seed }, step).stopped,
    );
    expect(found).toHaveLength(12);
    for (const stopped of found) {
      expect(stopped).toMatchObject({ kind: "finding", finding: { against: "unit", reason: { code } } });
    }
  });
});
