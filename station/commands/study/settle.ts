import type { LeakStep, ModelLimits } from "../../../limits/model.ts";
import { formatMeasured, formatNumber } from "../../../limits/print-quantity.ts";
import { HOUSE_REFERENCE, toUnit } from "../../../limits/quantity.ts";
import type { ReferencePiece } from "../../cycle/attempt.ts";
import { mean } from "../../measure/fit/mean.ts";
import { pressureLoss_Pa_s } from "../../measure/leak/e2930.ts";
import { roomDrift_Pa_s } from "../../measure/leak/room-drift.ts";
import { fixedTimes } from "../../measure/study/fixed-timer-times.ts";
import {
  type LearnedSettling,
  learnSettling,
  type SettleStudyOptions,
} from "../../measure/study/settle-study.ts";
import { watchRuns } from "../../study-runs.ts";
import type { DecayRun } from "../../watch-decay.ts";
import { type StudyReport, saved, sayStopped } from "./report.ts";
import { openStage, pieceOf, type Stage, type StageOptions } from "./stage.ts";

export interface SettleArguments extends Omit<StageOptions, "longest_s" | "pieces"> {
  readonly runs: number;
  readonly watch_s: number;
  readonly rest_s: number;
  readonly who: string | null;
  readonly unitSpread: SettleStudyOptions["unitSpread"];
}

/** @returns the exit code: 0 learned and saved, 1 the runs give no calibration, 2 stopped */
export async function studySettle(args: SettleArguments, report: StudyReport): Promise<0 | 1 | 2> {
  const stage = await openStage({
    ...args,
    pieces: ["tight"],
    longest_s: args.runs * (args.watch_s + args.rest_s + 60),
  });
  try {
    return await settleOn(stage, args, report);
  } finally {
    await stage.close();
  }
}

/** The study on a stage that is open; see `studySettle`. */
export async function settleOn(stage: Stage, args: SettleArguments, report: StudyReport): Promise<0 | 1 | 2> {
  const { model, step } = stage;
  const { limits } = model;
  const piece = pieceOf(stage.file, limits.model, "tight");
  report.cautions(stage, args.runs);
  const watched = await stage.perform(async () => {
    const words = `Put the tight reference piece ${piece.serial} on the fixture.`;
    if (!(await stage.mount({ piece: piece.serial, words }))) return null;
    const order = { limits, step, piece: piece.serial, ...args };
    return watchRuns(stage.bench, order, (run, number) => report.run(piece.serial, run, number, args.runs));
  });
  if (!watched || watched.kind === "stopped") return sayStopped(stage, watched?.reasons ?? []);
  const learned = learn(stage, piece, watched.runs, args);
  if (learned.kind === "not learned") {
    report.no(`Nothing was saved. ${learned.sentence}`);
    return 1;
  }
  const path = await saved(stage, args, [piece.serial], { kind: "settle", values: learned.calibration });
  const told = summary(stage, learned, watched.runs);
  const lines = [
    `${limits.model}, ${learned.calibration.runs} runs at ${step.testPressure_Pa / 1000} kPa:`,
    ...settleLines(learned, told),
  ];
  report.found(settleFields(learned, told), lines, stage, path);
  return 0;
}

function learn(
  stage: Stage,
  piece: ReferencePiece,
  runs: readonly DecayRun[],
  { unitSpread }: SettleArguments,
): ReturnType<typeof learnSettling> {
  const { testPressure_Pa } = stage.step;
  const temperature_K = mean(runs.map(({ ambient }) => ambient.temperature_K));
  const absolute_Pa = mean(runs.map(({ ambient }) => ambient.pressure_Pa)) + testPressure_Pa;
  const learned = learnSettling(runs, {
    testPressure_Pa,
    unitSpread,
    pieceLoss_Pa_s: pressureLoss_Pa_s(piece.certified_m3_s, stage.volume_m3, temperature_K),
    roomDrift_Pa_s: roomDrift_Pa_s(absolute_Pa, temperature_K),
  });
  if (learned.kind === "not learned") return learned;
  const perSlope = 1 / pressureLoss_Pa_s(1, stage.volume_m3, temperature_K);
  const background_m3_s = learned.calibration.background_Pa_s * perSlope;
  if (Math.abs(background_m3_s) <= piece.tolerance_m3_s) return learned;
  const inUnit = (value_m3_s: number) =>
    `${formatNumber(toUnit(value_m3_s, "leakRate", piece.unit, { reference: HOUSE_REFERENCE }), { significant: 3 })} ${piece.unit}`;
  return {
    kind: "not learned",
    sentence: `${piece.serial} reads ${inUnit(background_m3_s)} beside its certified value when all has settled, more than its tolerance of ${inUnit(piece.tolerance_m3_s)}: look for a leak of the fixture's seals, then run the study again.`,
  };
}

/** What the summary says beside the calibration itself. Leak rates in the unit of the limit. */
interface SettleSummary {
  readonly unit: string;
  readonly background: number;
  readonly backgroundUncertainty: number;
  readonly fixed: { readonly settle_s: number; readonly measure_s: number } | null;
}

function summary(stage: Stage, { calibration }: LearnedSettling, runs: readonly DecayRun[]): SettleSummary {
  const { limits } = stage.model;
  const temperature_K = mean(runs.map(({ ambient }) => ambient.temperature_K));
  const perLeak_Pa_s = pressureLoss_Pa_s(1, stage.volume_m3, temperature_K);
  const limit = limitOf(limits, stage.step);
  const unit = limit?.unit ?? "mL/min @ 20 degC";
  const inUnit = (slope_Pa_s: number) =>
    toUnit(slope_Pa_s / perLeak_Pa_s, "leakRate", unit, { reference: HOUSE_REFERENCE });
  const [run] = runs;
  const spacing_s = run ? (run.t_s[run.t_s.length - 1] ?? 0) / run.t_s.length : 0;
  return {
    unit,
    background: inUnit(calibration.background_Pa_s),
    backgroundUncertainty: inUnit(calibration.backgroundUncertainty_Pa_s),
    fixed: limit ? fixedTimes(calibration, limit.upper_m3_s * perLeak_Pa_s, spacing_s) : null,
  };
}

function limitOf(
  { characteristics }: ModelLimits,
  step: LeakStep,
): { readonly upper_m3_s: number; readonly unit: string } | null {
  const found = characteristics.find((it) => it.measurand === "leak_rate" && it.step === step.name);
  return found?.upper === undefined ? null : { upper_m3_s: found.upper, unit: found.unit };
}

/** Lines of a table for people; the number after +- is the expanded uncertainty (k = 2). */
function settleLines({ calibration: found, cautions }: LearnedSettling, told: SettleSummary): string[] {
  const percent = (spread: number, value: number) =>
    `${formatNumber((100 * spread) / Math.abs(value), { significant: 2 })} %`;
  const background = formatMeasured({ value: told.background, uncertainty: 2 * told.backgroundUncertainty });
  const slow =
    found.slow_Pa === 0
      ? `none seen; up to about ${formatNumber(found.slowSpread_Pa, { significant: 2 })} Pa may be hidden`
      : `${formatNumber(found.slow_Pa, { significant: 3 })} Pa, time constant ${formatNumber(found.slowTau_s, { significant: 3 })} s`;
  return [
    `  fill           ${formatNumber(found.fill_s, { significant: 3 })} s`,
    `  time constant  ${formatNumber(found.tau_s, { significant: 4 })} s, expected to spread by ${percent(found.tauSpread_s, found.tau_s)} from unit to unit`,
    `  heat           ${formatNumber(found.heat_Pa, { significant: 4 })} Pa, expected to spread by ${percent(found.heatSpread_Pa, found.heat_Pa)}`,
    `  slow part      ${slow}`,
    `  background     ${background.value} +- ${background.uncertainty} ${told.unit}`,
    `  gauge noise    ${formatNumber(found.noise.white_Pa, { significant: 2 })} Pa, and ${formatNumber(found.noise.wander_Pa, { significant: 2 })} Pa that wanders over ${formatNumber(found.noise.wanderTau_s, { significant: 2 })} s`,
    ...(told.fixed
      ? [
          `  A fixed timer would settle for ${told.fixed.settle_s} s and measure for ${told.fixed.measure_s} s: heat and noise are then each a twentieth of the limit.`,
        ]
      : []),
    ...cautions.map((caution) => `  Mind: ${caution}`),
  ];
}

function settleFields(
  { calibration, cautions, runToRun, pattern_Pa }: LearnedSettling,
  { unit, background, backgroundUncertainty, fixed }: SettleSummary,
): Readonly<Record<string, unknown>> {
  const { meanCurve: _, noise, ...values } = calibration;
  return {
    kind: "settle",
    ...values,
    noise,
    background: { value: background, unit, uncertainty: backgroundUncertainty },
    run_to_run: runToRun,
    pattern_Pa,
    fixed_timer: fixed,
    cautions,
  };
}
