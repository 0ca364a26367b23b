import type { Characteristic, LeakStep, ModelLimits } from "../../../limits/model.ts";
import { formatNumber } from "../../../limits/print-quantity.ts";
import { quoted, toUnit } from "../../../limits/quantity.ts";
import { UsageError } from "../../explain.ts";
import { limitWarnings } from "../../limit-warnings.ts";
import { plannedLooks } from "../../measure/leak/planned-looks.ts";
import { NoStudy } from "../../quality/study-report.ts";
import { LEAST_CURVES } from "../../quality/test-setting/setting-error.ts";
import type { Risks, Timing } from "../../quality/test-setting/setting-risks.ts";
import {
  FITTED_SETTLES_S,
  MEASURES_S,
  SETTLES_S,
  timingGrid,
} from "../../quality/test-setting/timing-grid.ts";
import { stepAt, timingReport } from "../../quality/test-setting/timing-report.ts";
import { studyTiming } from "../../quality/test-setting/timing-study.ts";
import { needsSettleCalibration } from "../../replay-curves.ts";
import { presentStudy } from "../../study-page/present-study.ts";
import {
  type CurvesMeasured,
  longestCovered_s,
  measureTimings,
  readTimingRecords,
  type TimingOrder,
  type TimingRecords,
} from "../../timing-records.ts";
import { readAboveZero, readQuantity } from "../calc/quantity-option.ts";
import { modelOfStation, oneLeakRate } from "./model-of-station.ts";

export interface TimingOptions {
  readonly model: string;
  readonly records?: string | undefined;
  readonly station?: string | undefined;
  readonly limits?: string | undefined;
  readonly from?: string | undefined;
  readonly to?: string | undefined;
  readonly method?: "fitted" | "slope" | "difference" | undefined;
  readonly subtractMeanCurve?: true | undefined;
  readonly settle?: string | undefined;
  readonly measure?: string | undefined;
  readonly longest?: string | undefined;
  readonly falseAccept?: string | undefined;
  readonly falseReject?: string | undefined;
  readonly json?: true | undefined;
  readonly html?: string | undefined;
}

/** @returns the exit code: 0 a setting keeps the risks, 1 none does */
export async function studyTimingOf(options: TimingOptions): Promise<0 | 1> {
  const { from, to } = options;
  if (from !== undefined && to !== undefined && from > to) {
    throw new UsageError(`--from ${from} is after --to ${to}.`);
  }
  const { withOverrides } = await import("../../limit-overrides.ts");
  const site = await modelOfStation(options);
  const { method, subtractMeanCurve } = options;
  const limits = withOverrides(site.limits, {
    ...(method === undefined ? {} : { method }),
    ...(subtractMeanCurve ? { subtractMeanCurve } : {}),
  });
  const { step, rate } = oneLeakRate(limits);
  const { risks, from: risksFrom } = risksOf(options, rate);
  const asked = askedTimes(options);
  const order: TimingOrder = {
    ...{ limits, step, rate, today: site.today, stationPath: site.stationPath },
    recordsFolder: options.records ?? site.station.recordsFolder,
    knowledge: site.station.knowledge,
    query: {
      model: limits.model,
      ...(from === undefined ? {} : { from }),
      ...(to === undefined ? {} : { to }),
    },
  };
  const records = await readTimingRecords(order);
  const longest_s = asked.longest_s ?? longestCovered_s(records.curves);
  refuseWithoutCurves(records, order, longest_s, site.problems);
  const { settings, isOffered } = settingsOf(asked, step, longest_s ?? 0);
  if (!settings.some(isOffered)) {
    throw new UsageError(
      `No pair of times fits into ${formatNumber(longest_s ?? 0)} s: give shorter ones with --settle and --measure, or record longer curves.`,
    );
  }
  const measured = await measureTimings(
    records,
    order,
    settings,
    longest_s ?? 0,
    progress(records, longest_s ?? 0),
  );
  const unit = rate.unit;
  const limit = toUnit(rate.upper, "leakRate", unit);
  const { MOST_UNCERTAIN_PASS } = await import("../../cycle/leak-judging.ts");
  const found = studyTiming({
    ...{ limit, rule: rate.rule, settings, risks },
    curves: measured.curves,
    population: measured.population,
    grossLeaks: records.grossLeaks,
    mostUncertain: MOST_UNCERTAIN_PASS * limit,
    isOffered,
    present: { settle_s: step.settle_s, measure_s: step.measureLongest_s },
    looksOf: (setting, uncertaintyAfter) => {
      const { earlyVerdict, measureLongest_s } = stepAt(step, setting);
      return earlyVerdict ? plannedLooks(limit, earlyVerdict, measureLongest_s, uncertaintyAfter) : [];
    },
  });
  const chosenStep = found.chosen && stepAt(step, found.chosen);
  const report = timingReport(found, {
    ...{ model: limits.model, characteristic: rate.name, limit, unit, step, risks, risksFrom },
    curves: measured.curves.length,
    longest_s: longest_s ?? 0,
    notes: [
      ...notesOf(records, measured, found.units),
      ...(chosenStep === null ? [] : warningNotes(limits, chosenStep, order)),
    ],
  });
  for (const { path, problem } of records.broken) {
    process.stderr.write(`${path} is not as it was recorded and was left out: ${problem}.\n`);
  }
  const { from: first, to: last } = options;
  const days = `${first === undefined ? "" : ` from ${first}`}${last === undefined ? "" : ` to ${last}`}`;
  return presentStudy(report, {
    ...options,
    source: `curves recorded in ${order.recordsFolder}${days}, of ${records.attempts} attempts; limit file ${limits.source.path}, revision ${limits.revision}`,
  });
}

function risksOf(
  { falseAccept, falseReject }: TimingOptions,
  { rule }: Characteristic,
): { readonly risks: Risks; readonly from: string } {
  const byRule = rule.kind === "guarded" ? 1 - rule.conformance : undefined;
  const given = {
    falseAccept: falseAccept === undefined ? byRule : risk("--false-accept", falseAccept),
    falseReject: falseReject === undefined ? byRule : risk("--false-reject", falseReject),
  };
  if (given.falseAccept === undefined || given.falseReject === undefined) {
    throw new UsageError(
      'The limit file accepts by the limit alone and so names no risks to keep: give --false-accept, like "0.1 %", and --false-reject, like "1 %".',
    );
  }
  const typed = [falseAccept, falseReject].filter((it) => it !== undefined).length;
  const whose = "1 - conformance of the limit file's rule";
  const from = typed === 2 ? "as asked" : typed === 1 ? `one as asked, one ${whose}` : whose;
  return { risks: { falseAccept: given.falseAccept, falseReject: given.falseReject }, from };
}

function risk(option: string, text: string): number {
  const part = readAboveZero(option, text, "ratio");
  if (part < 0.5) return part;
  throw new UsageError(`${option}: found ${quoted(text)}, expected less than 50 %.`);
}

function askedTimes({ settle, measure, longest }: TimingOptions) {
  return {
    settles_s: settle === undefined ? null : times_s("--settle", settle, 0),
    measures_s: measure === undefined ? null : times_s("--measure", measure, 0.1),
    longest_s: longest === undefined ? null : readAboveZero("--longest", longest, "time"),
  };
}

function times_s(option: string, text: string, least_s: number): number[] {
  return text.split(",").map((one) => {
    const time_s = readQuantity(option, one.trim(), "time");
    if (time_s >= least_s) return time_s;
    throw new UsageError(`${option}: found ${quoted(one.trim())}, expected ${least_s} s or more.`);
  });
}

const HOW_TO_RECORD =
  'test units with a draft of the limit file that has early_verdict: "off" and a measure_longest as long as may be of interest (drumtight run --draft), or study more reference pieces, which are always measured to the end';

function refuseWithoutCurves(
  records: TimingRecords,
  { limits, recordsFolder, step }: TimingOrder,
  longest_s: number | null,
  problems: readonly string[],
): void {
  if (records.attempts === 0) {
    throw new NoStudy(
      `No attempt of ${limits.model} in ${recordsFolder}: check the folder, the model's name and the dates.`,
    );
  }
  const reaching = records.curves.filter(({ reach_s }) => longest_s !== null && reach_s >= longest_s - 1e-6);
  if (reaching.length < LEAST_CURVES) {
    const early =
      records.endedEarly > 0 ? `; ${records.endedEarly} others were ended by an early verdict` : "";
    throw new NoStudy(
      `Only ${reaching.length} of ${records.attempts} attempts of ${limits.model} have a leak curve ${longest_s === null ? "that was measured to the end" : `of ${formatNumber(longest_s)} s or more`}${early}. ${LEAST_CURVES} at least are needed: ${HOW_TO_RECORD}.`,
    );
  }
  if (needsSettleCalibration(step) && reaching.some(({ calibration }) => calibration.settle === null)) {
    throw new NoStudy(
      [
        ...problems,
        `This method needs to know how ${limits.model} settles: run drumtight study settle --model ${limits.model} first.`,
      ].join(" "),
    );
  }
}

/** What to try. For looks one must know how errors fall from early on: then more is measured than offered. */
function settingsOf(
  { settles_s, measures_s }: ReturnType<typeof askedTimes>,
  step: LeakStep,
  longest_s: number,
): { readonly settings: Timing[]; readonly isOffered: (setting: Timing) => boolean } {
  const present = { settle_s: step.settle_s, measure_s: step.measureLongest_s };
  const grid = (measures: readonly number[]) =>
    timingGrid({
      settles_s: settles_s ?? (step.method.kind === "fitted" ? FITTED_SETTLES_S : SETTLES_S),
      measures_s: measures,
      longest_s,
      own: settles_s && measures_s ? [] : [present],
    });
  const offered = grid(measures_s ?? MEASURES_S);
  const settings = measures_s && step.earlyVerdict ? grid([...measures_s, ...MEASURES_S]) : offered;
  return {
    settings,
    isOffered: (setting) =>
      offered.some((it) => it.settle_s === setting.settle_s && it.measure_s === setting.measure_s),
  };
}

/** A line that counts, on a terminal. */
function progress({ curves }: TimingRecords, longest_s: number): (number: number) => void {
  if (!process.stderr.isTTY) return () => {};
  const all = curves.filter(({ reach_s }) => reach_s >= longest_s - 1e-6).length;
  return (number) =>
    process.stderr.write(number === all ? "\r\x1b[K" : `\rmeasuring curve ${number} of ${all} again`);
}

function notesOf(records: TimingRecords, measured: CurvesMeasured, units: number): string[] {
  const { endedEarly, grossLeaks, withoutRate, inDoubt, simulated, attempts, studied } = records;
  const n = measured.curves.length;
  const count = (number: number, one: string, more: string) => `${number} ${number === 1 ? one : more}`;
  return [
    ...(endedEarly > 0
      ? [
          `${count(endedEarly, "curve was", "curves were")} ended by an early verdict and can't be measured longer; their recorded values count for what units leak. For more full curves, ${HOW_TO_RECORD}.`,
        ]
      : []),
    ...(measured.tooShort > 0
      ? [
          `${count(measured.tooShort, "curve was", "curves were")} too short for the longest setting and left out.`,
        ]
      : []),
    ...(measured.leftOut > 0
      ? [
          `${count(measured.leftOut, "curve", "curves")} left out: no leak rate by the whole curve, or more than twice the limit.`,
        ]
      : []),
    ...(grossLeaks > 0
      ? [`${count(grossLeaks, "unit leaks", "units leak")} grossly: bad, and never accepted.`]
      : []),
    ...(withoutRate > 0
      ? [`${count(withoutRate, "first test", "first tests")} without a leak rate left out.`]
      : []),
    ...(inDoubt > 0
      ? [
          `${count(inDoubt, "attempt", "attempts")} left out: held, or a reference piece that was not as certified.`,
        ]
      : []),
    ...(studied > 0
      ? [
          `${count(studied, "test", "tests")} for a planned study give curves, and do not count for what units leak: its pieces were chosen.`,
        ]
      : []),
    ...(simulated > 0 ? [`${simulated} of ${attempts} attempts are simulated.`] : []),
    `Scatter of ${n} curves is known to +-${Math.round(100 / Math.sqrt(2 * (n - 1)))} % (one standard deviation); a kind of unit rarer than ${formatNumber(300 / units, { significant: 2 })} % may not be among ${units} units (95 %).`,
    `Each curve's truth is taken from all of it, ${measured.whole.method.kind}, ${formatNumber(measured.whole.settle_s)} s + ${formatNumber(measured.whole.measureLongest_s, { significant: 4 })} s; what is wrong with that, and no budget knows of, is not seen here.`,
  ];
}

/** What limits check would say of the chosen timing. */
function warningNotes(limits: ModelLimits, step: LeakStep, { knowledge, today }: TimingOrder): string[] {
  const changed = { ...limits, steps: limits.steps.map((it) => (it.name === step.name ? step : it)) };
  return limitWarnings(changed, { knowledge, calibration: today }).warnings.map(
    ({ sentence }) =>
      `limits check, which counts on the fewest readings there may be, will warn: ${sentence}`,
  );
}
