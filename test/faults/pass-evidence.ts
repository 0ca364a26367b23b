import type { ModelLimits, Step } from "../../limits/model.ts";
import { decodeCurve } from "../../station/records/curve.ts";
import type { Traveller } from "../../station/records/traveller.ts";

/** The leak gauge's lines in a second; a test may begin and end between two. */
const LINES_PER_s = 50;
const LINES_LEAST = 0.9;
/** What the right instrument says of itself, by the profile its gauge is driven with. */
const SAYS: Readonly<Record<string, string>> = {
  "stream-pressure": "STREAM-PRESSURE",
  "scpi-pressure": "PRESSURE",
  "scpi-airflow": "AIRFLOW",
  "scpi-power": "POWER",
  "scpi-ambient": "AMBIENT",
};

/** @returns what a passed traveller lacks of what its limit file asks for, a sentence each */
export function incompleteEvidence(traveller: Traveller, limits: ModelLimits): string[] {
  const { reference, characteristics, limit_file, ambient, ended_at } = traveller;
  const missing: string[] = [];
  if (limit_file.sha256 !== limits.source.sha256) missing.push("judged by another limit file");
  if (traveller.reasons.length > 0) missing.push("a pass with reasons against it");
  if (ended_at === null || ambient === null) missing.push("nobody saw the room or the end");
  for (const { name, profile, identity } of traveller.gauges) {
    const kind = SAYS[profile];
    if (!kind || !identity.includes(kind)) missing.push(`${name} said ${identity} when asked who it is`);
  }
  for (const { name, value, uncertainty, conformance } of characteristics) {
    if (value === null || uncertainty === null || conformance === null)
      missing.push(`${name} was not measured`);
  }
  if (reference) return missing;
  for (const { name } of limits.characteristics) {
    const found = characteristics.find((one) => one.name === name);
    if (found?.verdict !== "pass") missing.push(`${name} is ${found?.verdict ?? "not there"}`);
  }
  for (const step of limits.steps) missing.push(...missingOfStep(step, traveller));
  return missing;
}

function missingOfStep(step: Step, { phases, curves }: Traveller): string[] {
  const done = (phase: string, point?: string) =>
    phases.find((one) => one.step === step.name && one.phase === phase && (!point || one.point === point));
  if (step.kind === "airflow") {
    return [
      ...["run_up", "coast"].filter((phase) => !done(phase)).map((phase) => `no ${phase} in ${step.name}`),
      ...step.points.filter(({ name }) => !done("hold", name)).map(({ name }) => `${name} was not held`),
    ];
  }
  const missing = ["fill", "settle", "measure", "vent"]
    .filter((phase) => !done(phase))
    .map((phase) => `no ${phase} in ${step.name}`);
  const measure = done("measure");
  const curve = curves.find((one) => one.step === step.name && one.phase === "measure");
  if (!measure || !curve) return [...missing, `no curve of ${step.name}`];
  const samples = decodeCurve(curve);
  const seconds = (samples.at(-1)?.t_s ?? 0) - (samples[0]?.t_s ?? 0);
  const shortest_s = step.earlyVerdict?.measureShortest_s ?? step.measureLongest_s;
  if (seconds < shortest_s * LINES_LEAST) missing.push(`measured for ${seconds.toFixed(2)} s only`);
  if (samples.length < measure.seconds * LINES_PER_s * LINES_LEAST) {
    missing.push(`${samples.length} readings only`);
  }
  return missing;
}
