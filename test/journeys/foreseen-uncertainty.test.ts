import { expect, it } from "vitest";
import { airflowConditions } from "../../station/cycle/airflow-judging.ts";
import { foreseeAirflow } from "../../station/measure/airflow/foreseen-airflow.ts";
import { ROOM_NOBODY_MEASURED } from "../../station/measuring-time-warnings.ts";
import { SimulatedShift } from "./simulated-shift.ts";

it("what limits check foresees of an airflow step's uncertainties is what a unit is then measured with", async () => {
  const shift = await SimulatedShift.proven();
  const { file, models, population } = shift.simulated;
  const [model] = models;
  const step = model?.limits.steps.find(({ kind }) => kind === "airflow");
  if (!model || step?.kind !== "airflow") throw new Error("There is no airflow step.");
  const conditions = airflowConditions(step, ROOM_NOBODY_MEASURED, file.knowledge);
  if (!conditions) throw new Error("The room is not known.");
  const { characteristics } = model.limits;
  const foreseen = foreseeAirflow(step, characteristics, conditions, file.knowledge.openings);
  const { traveller } = await shift.tryUnit(population.unitAt(0));
  expect(traveller?.verdict).toBe("pass");
  const measured = traveller?.characteristics.filter((it) => it.step === step.name) ?? [];
  const ratios = measured.map(({ name, value, uncertainty }) => {
    const relative = foreseen(
      characteristics.find((it) => it.name === name) as (typeof characteristics)[number],
    );
    return [name, Number(relative) / (Number(uncertainty) / Number(value))] as const;
  });
  expect(ratios).toHaveLength(9);
  for (const [name, ratio] of ratios) {
    expect(ratio, name).toBeGreaterThan(0.8);
    // The scatter of a point is at most what it may be.
    expect(ratio, name).toBeLessThan(1.6);
  }
});
