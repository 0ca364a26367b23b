import { join } from "node:path";
import { loadLimitFolder } from "../../limits/limit-file.ts";
import { leakConditions } from "../../station/cycle/leak-judging.ts";
import { readStationFileAlone } from "../../station/load-station.ts";
import { roomDrift_Pa_s } from "../../station/measure/leak/room-drift.ts";
import type { SettleCalibration } from "../../station/measure/leak/settle-calibration.ts";
import { learnSettling } from "../../station/measure/study/settle-study.ts";
import { packageRoot } from "../../station/package-root.ts";
import { watchBody } from "../measure/leak/leak-plant.ts";
import type { Curve, LeakStation } from "./leak-step-methods.ts";
import { drawTrial, type LeakLine, type LeakModel, type UnitOrder } from "./leak-step-plants.ts";

const RUNS = 5;
const WATCH_s = 60;
/** What `drumtight study settle` takes where nobody says otherwise. */
const UNIT_SPREAD = { tau: 0.08, heat: 0.05, slow: 0.25 };
const AMBIENT = { pressure_Pa: 101_325, temperature_K: 293.15, relativeHumidity: 0.5 };

/**
 * The demo station at one of the lines: limits, leak step, volumes and gauge as its files say, and the settling learned in
 * five runs on a tight reference of that line.
 * @throws Error where the runs give no calibration, or one with a caution, or the limit file wants no early verdict
 */
export function stationAt(line: LeakLine, model: LeakModel): LeakStation {
  const { knowledge, limits } = demoStation(model);
  const step = limits.steps.find((candidate) => candidate.kind === "leak");
  const judged = limits.characteristics.find(({ measurand }) => measurand === "leak_rate");
  if (step?.kind !== "leak" || judged?.upper === undefined) throw new Error(`${model} has no leak limit.`);
  const { earlyVerdict, ...rest } = step;
  if (!earlyVerdict || step.method.kind !== "fitted") throw new Error(`${model} wants no early verdict.`);
  const settle = { calibration: learn(line, model, step.testPressure_Pa), date: "", sha256: "", file: "" };
  const conditions = leakConditions(
    step,
    { limits, calibration: { settle, volume: null } },
    { ambient: AMBIENT, phases: [] },
    knowledge,
  );
  if (!conditions) throw new Error("The demo station does not know its gauges.");
  return { conditions, limit_m3_s: judged.upper, rule: judged.rule, step: { ...rest, earlyVerdict } };
}

function learn(line: LeakLine, model: LeakModel, testPressure_Pa: number): SettleCalibration {
  const piece = { line, model, leak_m3_s: 0, watch_s: WATCH_s, body: "tight reference", isReference: true };
  const learned = learnSettling(
    Array.from({ length: RUNS }, (_, run) => watchBody(drawTrial({ ...piece, test: `run ${run}` }))),
    {
      testPressure_Pa,
      unitSpread: UNIT_SPREAD,
      pieceLoss_Pa_s: 0,
      roomDrift_Pa_s: roomDrift_Pa_s(AMBIENT.pressure_Pa + testPressure_Pa, AMBIENT.temperature_K),
    },
  );
  if (learned.kind !== "learned") throw new Error(`${line.name}, ${model}: ${learned.sentence}`);
  if (learned.cautions.length > 0) throw new Error(`${line.name}, ${model}: ${learned.cautions.join(" ")}`);
  return learned.calibration;
}

function demoStation(model: LeakModel) {
  const { knowledge, limitsFolder } = readStationFileAlone(join(packageRoot(), "sim", "demo-station.yaml"));
  const limits = loadLimitFolder(limitsFolder).find((candidate) => candidate.model === model);
  if (!limits) throw new Error(`There is no limit file of ${model}.`);
  return { limits, knowledge };
}

/** A unit's curve since the shut-off. */
export function curveOf(order: UnitOrder): Curve {
  const { t_s, pressure_Pa } = watchBody(drawTrial(order));
  return { t_s: Float64Array.from(t_s), pressure_Pa: Float64Array.from(pressure_Pa) };
}
