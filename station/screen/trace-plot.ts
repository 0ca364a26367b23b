import { DIMENSION_OF } from "../../limits/measurand.ts";
import type { AirflowStep, LeakStep, ModelLimits } from "../../limits/model.ts";
import { toUnit } from "../../limits/quantity.ts";
import type { UnitProgress } from "../cycle/unit-progress.ts";
import { limitText, phaseLength } from "./live-values.ts";
import type { TraceSamples } from "./screen-state.ts";
import type { Plot, PlotLine } from "./trace.ts";

/** The house reference: leak rates are stated at this pressure. */
const REFERENCE_Pa = 101_325;
const UNIT_OF: Readonly<Record<TraceSamples["channel"], "kPa" | "W">> = {
  leak_pressure: "kPa",
  source_pressure: "kPa",
  suction: "kPa",
  power: "W",
};
const NAME_OF: Readonly<Record<TraceSamples["channel"], string>> = {
  leak_pressure: "Pressure",
  source_pressure: "Source pressure",
  suction: "Suction",
  power: "Input power",
};
/** Narrower spans are noise, in the unit shown. */
const LEAST_SPAN = { kPa: 0.02, W: 20 } as const;
/** One sample alone is noise. */
const ANCHOR_SAMPLES = 5;

/** @returns the running phase's curve with its limit or target; null where none is worth drawing */
export function tracePlot(
  limits: ModelLimits,
  progress: UnitProgress,
  trace: TraceSamples | null,
): Plot | null {
  const length = phaseLength(progress);
  if (!trace || !length || trace.samples.length === 0) return null;
  const unit = UNIT_OF[trace.channel];
  const scale = unit === "kPa" ? 1e-3 : 1;
  const { lines, meaning } = linesOf(limits, progress, trace, length.longest_s);
  const name = NAME_OF[trace.channel];
  return {
    samples: trace.samples.map(({ t_s, value }) => ({ t_s: t_s - trace.phaseStart_s, value: value * scale })),
    length_s: length.longest_s,
    lines: lines.map(({ from, to, ...since }) => ({ from: from * scale, to: to * scale, ...since })),
    unit,
    leastSpan: LEAST_SPAN[unit],
    captions: meaning === "" ? [name] : [`${name}   - - ${meaning}`, `- - ${meaning}`],
  };
}

/** SI. */
interface Lines {
  readonly lines: readonly PlotLine[];
  readonly meaning: string;
}

const NONE: Lines = { lines: [], meaning: "" };

function linesOf(limits: ModelLimits, progress: UnitProgress, trace: TraceSamples, length_s: number): Lines {
  const { step, phase, point } = progress;
  if (step?.kind === "leak") return leakLines(limits, step, phase, trace, length_s);
  if (step?.kind === "airflow" && phase === "coast") {
    return { lines: [level(step.stoppedBelow_W)], meaning: `stopped below ${step.stoppedBelow_W} W` };
  }
  return step?.kind === "airflow" && point ? suctionLines(limits, step, point.name, trace) : NONE;
}

function leakLines(
  limits: ModelLimits,
  step: LeakStep,
  phase: UnitProgress["phase"],
  trace: TraceSamples,
  length_s: number,
): Lines {
  switch (phase) {
    case "fill": {
      const { testPressure_Pa: target, fillTolerance_Pa: tolerance } = step;
      return {
        lines: [level(target - tolerance), level(target + tolerance)],
        meaning: `target ${kPa(target)} +- ${kPa(tolerance)} kPa`,
      };
    }
    case "settle":
    case "measure":
      return atLimitLeak(limits, step, trace, length_s);
    case "vent":
      return { lines: [level(0)], meaning: "room pressure" };
    default:
      return NONE;
  }
}

/**
 * From where the pressure is now, as it would go on at the limit leak rate alone. Not from where it was: it falls by
 * cooling too, and a tight body's would look like a leak. q = (V / p_ref) |dp/dt| at the reference temperature, ASTM
 * E2930: POD-4's 25 mL/min out of 4 L is 10.6 Pa/s.
 */
function atLimitLeak(limits: ModelLimits, step: LeakStep, trace: TraceSamples, length_s: number): Lines {
  const judged = limits.characteristics.find((it) => it.step === step.name && it.measurand === "leak_rate");
  const newest = trace.samples.slice(-ANCHOR_SAMPLES);
  const last = newest.at(-1);
  if (judged?.upper === undefined || !last) return NONE;
  const from = newest.reduce((sum, { value }) => sum + value, 0) / newest.length;
  const since_s = last.t_s - trace.phaseStart_s;
  const towardsRoom = -Math.sign(step.testPressure_Pa);
  const rates = [judged.lower, judged.upper].filter((rate) => rate !== undefined);
  const shown = rates.map((rate) => Number(toUnit(rate, DIMENSION_OF.leak_rate, judged.unit).toPrecision(4)));
  return {
    lines: rates.map((rate_m3_s) => {
      const slope_Pa_s = (towardsRoom * rate_m3_s * REFERENCE_Pa) / limits.volume_m3;
      return { from, to: from + slope_Pa_s * Math.max(0, length_s - since_s), since_s };
    }),
    meaning: `from here on at the limit${rates.length > 1 ? "s" : ""}, ${shown.join(" to ")} ${judged.unit.split(" @ ")[0]}`,
  };
}

function suctionLines(limits: ModelLimits, step: AirflowStep, point: string, trace: TraceSamples): Lines {
  const measurand = trace.channel === "power" ? "power" : "suction";
  const judged = limits.characteristics.find(
    (it) => it.step === step.name && it.point === point && it.measurand === measurand,
  );
  if (!judged) return NONE;
  return {
    lines: [judged.lower, judged.upper].flatMap((limit) => (limit === undefined ? [] : [level(limit)])),
    meaning: `limit ${limitText(judged)} ${judged.unit}`,
  };
}

function level(value: number): PlotLine {
  return { from: value, to: value };
}

function kPa(value_Pa: number): string {
  return String(Number((value_Pa / 1000).toPrecision(4)));
}
