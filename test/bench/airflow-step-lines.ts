import { loadLimitFile } from "../../limits/limit-file.ts";
import type { AirflowStep } from "../../limits/model.ts";
import { steadyRoom, withRipple } from "../../sim/plant/room.ts";
import { Population } from "../../sim/population.ts";
import { randomStream } from "../../sim/random.ts";
import { packageRoot } from "../../station/package-root.ts";
import type { RigTrial } from "../cycle/airflow-rig.ts";

/** How the units of a line, and its mains, differ. Sizes are invented (common practice, no source). */
export interface AirflowLine {
  readonly name: string;
  /** Run-up time constant and noise of each unit against the demo's, from and to, every ratio equally likely per decade. */
  readonly runUp?: readonly [from: number, to: number];
  readonly noise?: readonly [from: number, to: number];
  /** Amplitude of the mains, as part, and frequency. */
  readonly ripple?: readonly [relative: number, frequency_Hz: number];
}

export const AIRFLOW_LINES: readonly AirflowLine[] = [
  { name: "units alike" },
  { name: "units differ", runUp: [0.6, 1.7], noise: [0.5, 2] },
  { name: "mains beat", ripple: [0.003, 19.3] },
];

export const AIRFLOW_MODELS = ["TUB-12", "POD-4"] as const;
export type AirflowModel = (typeof AIRFLOW_MODELS)[number];

const LONGEST_s = 12;

/** The demo's airflow step of a model, and sound units of a line to test by it. */
export function airflowLine(
  line: AirflowLine,
  model: AirflowModel,
): { readonly step: AirflowStep; readonly unitAt: (index: number) => RigTrial } {
  const limits = loadLimitFile(`${packageRoot()}/limits/models/${model.toLowerCase()}.yaml`);
  const step = limits.steps.find((candidate) => candidate.kind === "airflow");
  if (step?.kind !== "airflow") throw new Error(`${model} has no airflow step.`);
  // Long enough for the slowest and noisiest unit of any line: what they take is measured, not cut off.
  const patient = {
    ...step,
    runUpLongest_s: LONGEST_s,
    points: step.points.map((point) => ({ ...point, holdLongest_s: LONGEST_s })),
  };
  const population = new Population({ seed: 5, models: [limits], defectRate: 0 });
  const room = line.ripple ? withRipple(steadyRoom(), ...line.ripple) : steadyRoom();
  return {
    step: patient,
    unitAt(index) {
      const random = randomStream(index, `airflow ${line.name} ${model}`);
      const between = ([from, to]: readonly [number, number]) => from * (to / from) ** random.uniform();
      const { cleaner } = population.unitAt(index);
      const runUpFactor = cleaner.runUpFactor * between(line.runUp ?? [1, 1]);
      const noise = between(line.noise ?? [1, 1]);
      return { cleaner: { ...cleaner, runUpFactor }, noise, room, seed: random.nextUint32() };
    },
  };
}
