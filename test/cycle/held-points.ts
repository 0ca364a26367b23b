import type { AirflowStep } from "../../limits/model.ts";
import type { UnitEvidence } from "../../station/cycle/unit-context.ts";
import { pod } from "./unit-bench.ts";

/** The compact body's airflow step. */
export const step = pod.steps.find((it): it is AirflowStep => it.kind === "airflow") as AirflowStep;
export const standardAir = { temperature_K: 293.15, pressure_Pa: 101_325, relativeHumidity: 0.5 };
/** A morning in the hills: 5 % thinner air, and mains 2 V down. */
export const thinAir = { temperature_K: 296.15, pressure_Pa: 97_000, relativeHumidity: 0.4 };

/** Of a channel that the station does not have. */
export const NOTHING = { t_s: [], values: [] };

export type Point = readonly [suction_Pa: number, flow_m3_s: number, power_W: number];
/** What a sound compact body does at its points. */
export const sound: readonly Point[] = [
  [13_900, 0, 425],
  [9_100, 0.0155, 530],
  [380, 0.0302, 600],
];

/** Readings of a second, three seconds after the command. */
export function held(points: readonly Point[], voltage_V = 230): UnitEvidence["airflow"] {
  return step.points.slice(0, points.length).map(({ name }, i) => {
    const [suction, flow, power] = points[i] as Point;
    const t_s = Array.from({ length: 21 }, (_, n) => 3 + n * 0.05);
    const rough = (mean: number) => ({
      t_s,
      values: t_s.map((_, n) => mean * (1 + 1e-4 * (((n * 8) % 21) - 10))),
    });
    return {
      step: step.name,
      point: name,
      samples: {
        since_s: 0,
        suction_Pa: rough(suction),
        flow_m3_s: rough(flow),
        power_W: rough(power),
        drop_Pa: NOTHING,
        voltage_V: rough(voltage_V),
      },
    };
  });
}
