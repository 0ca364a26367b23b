import { gasFlowUnit } from "../../../limits/leak-rate.ts";
import { normalQuantile } from "../../../limits/normal.ts";
import { formatNumber } from "../../../limits/print-quantity.ts";
import { convert, HOUSE_REFERENCE, quoted, toUnit, UnitError } from "../../../limits/quantity.ts";
import { normaliseUnitText } from "../../../limits/units.ts";
import { leakConditions } from "../../cycle/leak-judging.ts";
import { UsageError } from "../../explain.ts";
import {
  type Cleaner,
  type CleanersFound,
  cleanersOf,
  keptWith,
  leakKeeping,
  type Required,
  weakerThan,
} from "../../limit-from-suction.ts";
import { fanThrough, inletPassing, type LeakTest } from "../../measure/airflow/leak-cost.ts";
import { pressureLoss_Pa_s } from "../../measure/leak/e2930.ts";
import { foreseeLeak } from "../../measure/leak/foreseen-leak.ts";
import { NoStudy, type StudyReport } from "../../quality/study-report.ts";
import {
  fieldLimitReport,
  type LimitTold,
  suctionLimitReport,
} from "../../quality/test-setting/limit-report.ts";
import { atProbability, type BinaryPoint, fitLogistic } from "../../quality/test-setting/logistic-fit.ts";
import { acceptanceLimit } from "../../quality/test-setting/setting-risks.ts";
import { numberIn, readCsv } from "../../study-data/csv.ts";
import { presentStudy } from "../../study-page/present-study.ts";
import { DEFAULT_COEFFICIENT, readAboveZero, readBelowRoom } from "../calc/quantity-option.ts";
import { type ModelOfStation, modelOfStation, oneLeakRate } from "./model-of-station.ts";

export interface LimitOptions {
  readonly model: string;
  readonly station?: string | undefined;
  readonly limits?: string | undefined;
  readonly returnedAtMost?: string | undefined;
  readonly unit?: string | undefined;
  readonly leastSuctionPower?: string | undefined;
  readonly leastSuction?: string | undefined;
  readonly records?: string | undefined;
  readonly from?: string | undefined;
  readonly to?: string | undefined;
  readonly point?: string | undefined;
  readonly share?: string | undefined;
  readonly sealedSuction?: string | undefined;
  readonly openFlow?: string | undefined;
  readonly middleFlow?: string | undefined;
  readonly middleSuction?: string | undefined;
  readonly workingFlow?: string | undefined;
  readonly fanSpread?: string | undefined;
  readonly json?: true | undefined;
  readonly html?: string | undefined;
}

/** @returns the exit code: 0 a limit follows, 1 none does */
export async function studyLimit(csv: string | undefined, options: LimitOptions): Promise<0 | 1> {
  const asked = [csv, options.leastSuctionPower, options.leastSuction].filter((it) => it !== undefined);
  if (asked.length !== 1) {
    throw new UsageError(
      asked.length === 0
        ? 'Say what the limit is for: a CSV file of what came back, --least-suction-power, like "180 W", or --least-suction, like "15 kPa".'
        : "Give one of them: a CSV file of what came back, --least-suction-power or --least-suction.",
    );
  }
  refuseWhatHasNoUse(csv, options);
  const site = await modelOfStation(options);
  const report = csv === undefined ? await bySuction(options, site) : byField(csv, options, site);
  return presentStudy(report, { ...options, source: sourceOf(csv, options, site) });
}

function sourceOf(
  csv: string | undefined,
  options: LimitOptions,
  { limits, station }: ModelOfStation,
): string {
  const { sealedSuction, from, to } = options;
  const days = `${from === undefined ? "" : ` from ${from}`}${to === undefined ? "" : ` to ${to}`}`;
  const values =
    csv !== undefined
      ? `field data in ${csv === "-" ? "standard input" : csv}`
      : sealedSuction === undefined
        ? `fan curves recorded in ${options.records ?? station.recordsFolder}${days}`
        : "a fan as stated";
  return `${values}; limit file ${limits.source.path}, revision ${limits.revision}`;
}

const OF_FIELD_DATA = { returnedAtMost: "--returned-at-most", unit: "--unit" } as const;
const OF_RECORDS = { records: "--records", from: "--from", to: "--to", point: "--point" } as const;
const OF_A_FAN = {
  sealedSuction: "--sealed-suction",
  openFlow: "--open-flow",
  middleFlow: "--middle-flow",
  middleSuction: "--middle-suction",
  workingFlow: "--working-flow",
  fanSpread: "--fan-spread",
} as const;

/** What is given and not used would leave somebody believing that it was. */
function refuseWhatHasNoUse(csv: string | undefined, options: LimitOptions): void {
  const { from, to } = options;
  if (from !== undefined && to !== undefined && from > to) {
    throw new UsageError(`--from ${from} is after --to ${to}.`);
  }
  const given = (names: Partial<Record<keyof LimitOptions, string>>) =>
    Object.entries(names).flatMap(([key, name]) =>
      options[key as keyof LimitOptions] === undefined ? [] : [name],
    );
  const ofSuction = { ...OF_RECORDS, ...OF_A_FAN, share: "--share" };
  const [useless] = given(csv === undefined ? OF_FIELD_DATA : ofSuction);
  if (useless !== undefined) {
    const whose = csv === undefined ? "field data, a CSV file" : "--least-suction-power or --least-suction";
    throw new UsageError(`${useless} goes with ${whose}: leave it out, or ask for that instead.`);
  }
  const [stated] = given(OF_A_FAN);
  const [recorded] = given(OF_RECORDS);
  if (stated !== undefined && recorded !== undefined) {
    throw new UsageError(
      `${stated} states a fan and ${recorded} takes fans from records, which differ by themselves: give one of the two.`,
    );
  }
}

function byField(csv: string, options: LimitOptions, site: ModelOfStation): StudyReport {
  const { rate } = oneLeakRate(site.limits);
  if (options.returnedAtMost === undefined) {
    throw new UsageError('Say which chance of a return is to be kept: --returned-at-most, like "1 %".');
  }
  const probability = readAboveZero("--returned-at-most", options.returnedAtMost, "ratio");
  if (probability >= 1) {
    throw new UsageError(
      `--returned-at-most: found ${quoted(options.returnedAtMost)}, expected less than 100 %.`,
    );
  }
  const table = readCsv(csv, { required: ["leak", "returned"] });
  const points: BinaryPoint[] = table.rows.map((row) => {
    const returned = numberIn(table, row, "returned");
    if (returned !== 0 && returned !== 1) {
      throw new UsageError(
        `${table.path}, line ${row.line}: returned is ${returned}, expected 1 (came back) or 0.`,
      );
    }
    const leak = numberIn(table, row, "leak");
    const x = options.unit === undefined ? leak : inUnitOf(leak, options.unit, rate.unit);
    return { x, event: returned === 1 };
  });
  const fit = fitLogistic(points);
  const at = atProbability(points, fit, probability);
  return fieldLimitReport({ points, fit, probability, at }, told(at.lower, site, []));
}

function inUnitOf(leak: number, from: string, to: string): number {
  try {
    return convert(leak, from, to, "leakRate");
  } catch (error) {
    throw error instanceof UnitError ? new UsageError(`--unit: ${error.message}.`) : error;
  }
}

async function bySuction(options: LimitOptions, site: ModelOfStation): Promise<StudyReport> {
  const { limits } = site;
  const { step, rate } = oneLeakRate(limits);
  const required = requiredOf(options);
  const share = readAboveZero("--share", options.share ?? "95 %", "ratio");
  if (!(share >= 0.5 && share < 1)) {
    throw new UsageError(
      `--share: found ${quoted(options.share ?? "")}, expected 50 % or more, and less than 100 %.`,
    );
  }
  const test: LeakTest = { pressure_Pa: step.testPressure_Pa, barometer_Pa: HOUSE_REFERENCE.pressure_Pa };
  const spread = spreadOf(options);
  const { cleaners, notes } = await fansOf(options, site);
  const inUnit = (leak_m3_s: number) => toUnit(leak_m3_s, "leakRate", rate.unit);
  const kept = cleaners.flatMap((cleaner) => {
    const leak_m3_s = leakKeeping(cleaner, required, test);
    return leak_m3_s === null ? [] : [{ cleaner, leak_m3_s }];
  });
  const byLeak = [...kept].sort((a, b) => a.leak_m3_s - b.leak_m3_s);
  const middle = byLeak[Math.floor((byLeak.length - 1) / 2)];
  const text =
    required.kind === "suction"
      ? `${formatNumber(required.suction_Pa / 1000)} kPa of suction`
      : `${formatNumber(required.power_W)} W of suction power`;
  if (!middle) {
    throw new NoStudy(
      `${cleaners.length === 1 ? "The cleaner has less than" : `None of ${cleaners.length} cleaners has`} ${text} at its working point, even when tight: ask for less, or look at motor and inlet.`,
    );
  }
  const weaker = spread === undefined ? null : weakerThan(middle.cleaner, spread, share);
  const weakest_m3_s = weaker && leakKeeping(weaker, required, test);
  if (spread !== undefined && weakest_m3_s === null) {
    throw new NoStudy(
      `Where fans differ by ${options.fanSpread}, not ${options.share ?? "95 %"} of them have ${text} at the working point, even when tight: ask for less, or for a smaller --share.`,
    );
  }
  const shown = required.kind === "suction" ? 1e-3 : 1;
  const measuredAfter_s = step.settle_s + (step.earlyVerdict?.measureShortest_s ?? step.measureLongest_s);
  const volume_m3 = limits.volume_m3 + site.station.knowledge.fixtureVolume_m3;
  const loss_Pa =
    pressureLoss_Pa_s(middle.leak_m3_s, volume_m3, HOUSE_REFERENCE.temperature_K) * measuredAfter_s;
  // At the test pressure's own rate; a body that empties slows down, and has long lost half by then.
  const pressureLeft = Math.max(0, 1 - loss_Pa / Math.abs(step.testPressure_Pa));
  return suctionLimitReport(
    {
      required: text,
      leaks: kept.map(({ cleaner, leak_m3_s }) => ({ name: cleaner.name, leak: inUnit(leak_m3_s) })),
      tooWeak: cleaners.length - kept.length,
      share,
      spread:
        spread === undefined || weakest_m3_s === null
          ? null
          : { part: spread, weakest: inUnit(weakest_m3_s) },
      kept: Array.from({ length: 61 }, (_, i) => {
        const leak_m3_s = (middle.leak_m3_s * 1.5 * i) / 60;
        return [inUnit(leak_m3_s), shown * keptWith(middle.cleaner, required, leak_m3_s, test)] as const;
      }),
      keptUnit: required.kind === "suction" ? "kPa" : "W",
      least: shown * (required.kind === "suction" ? required.suction_Pa : required.power_W),
      pressureLeft,
      measuredAfter_s,
    },
    told(inUnit(middle.leak_m3_s), site, notes),
  );
}

function spreadOf({ fanSpread }: LimitOptions): number | undefined {
  if (fanSpread === undefined) return undefined;
  const spread = readAboveZero("--fan-spread", fanSpread, "ratio");
  if (spread < 0.5) return spread;
  throw new UsageError(`--fan-spread: found ${quoted(fanSpread)}, expected less than 50 %.`);
}

function requiredOf({ leastSuctionPower, leastSuction }: LimitOptions): Required {
  return leastSuctionPower === undefined
    ? { kind: "suction", suction_Pa: readBelowRoom("--least-suction", leastSuction ?? "") }
    : { kind: "suction power", power_W: readAboveZero("--least-suction-power", leastSuctionPower, "power") };
}

async function fansOf(
  options: LimitOptions,
  { limits, station }: ModelOfStation,
): Promise<{ readonly cleaners: readonly Cleaner[]; readonly notes: readonly string[] }> {
  const { sealedSuction, openFlow, middleFlow, middleSuction, workingFlow, fanSpread, from, to } = options;
  const point = options.point ?? "working";
  const stated = [sealedSuction, openFlow, middleFlow, middleSuction, workingFlow, fanSpread];
  if (stated.some((it) => it !== undefined)) {
    return { cleaners: [statedCleaner(options)], notes: ["The fan is as stated."] };
  }
  const points = limits.steps.flatMap((step) => (step.kind === "airflow" ? step.points : []));
  if (!points.some(({ name }) => name === point)) {
    throw new UsageError(
      `--point: found ${quoted(point)}, but the airflow step of ${limits.model} has ${points.map(({ name }) => name).join(", ") || "no points"}.`,
    );
  }
  const folder = options.records ?? station.recordsFolder;
  const query = {
    model: limits.model,
    ...(from === undefined ? {} : { from }),
    ...(to === undefined ? {} : { to }),
  };
  const found = await cleanersOf(folder, query, point);
  for (const { path, problem } of found.broken) {
    process.stderr.write(`${path} is not as it was recorded and was left out: ${problem}.\n`);
  }
  if (found.cleaners.length === 0) {
    throw new NoStudy(
      `No unit of ${limits.model} that passed has a fan curve in ${folder}: check the folder and the dates, or state a fan with --sealed-suction, --open-flow and --working-flow.`,
    );
  }
  return { cleaners: found.cleaners, notes: fanNotes(found) };
}

function fanNotes({ cleaners, without, leftOut, simulated }: CleanersFound): string[] {
  return [
    `Fans of ${cleaners.length} units that passed${without > 0 ? `; ${without} without a fan curve left out` : ""}.`,
    ...(leftOut > 0
      ? [
          `${leftOut} passed tests left out: in doubt, since a hold takes the trust from them, or for a study.`,
        ]
      : []),
    ...(simulated > 0 ? [`${simulated} tests are simulated.`] : []),
  ];
}

function statedCleaner({
  sealedSuction,
  openFlow,
  middleFlow,
  middleSuction,
  workingFlow,
}: LimitOptions): Cleaner {
  if (sealedSuction === undefined || openFlow === undefined || workingFlow === undefined) {
    throw new UsageError("A stated fan needs --sealed-suction, --open-flow and --working-flow.");
  }
  if ((middleFlow === undefined) !== (middleSuction === undefined)) {
    throw new UsageError("A middle point of the fan curve needs both --middle-flow and --middle-suction.");
  }
  const fan = fanThrough({
    sealed_Pa: readBelowRoom("--sealed-suction", sealedSuction),
    open_m3_s: readAboveZero("--open-flow", openFlow, "flow"),
    middle:
      middleFlow === undefined || middleSuction === undefined
        ? null
        : {
            flow_m3_s: readAboveZero("--middle-flow", middleFlow, "flow"),
            suction_Pa: readBelowRoom("--middle-suction", middleSuction),
          },
  });
  if (!fan)
    throw new UsageError("No fan curve that falls all the way goes through these points: check them.");
  const inlet = inletPassing(fan, readAboveZero("--working-flow", workingFlow, "flow"), DEFAULT_COEFFICIENT);
  if (!inlet) {
    throw new UsageError(
      `--working-flow: found ${quoted(workingFlow)}, but the fan moves less against any inlet.`,
    );
  }
  return { name: "stated fan", fan, inlet };
}

/** Conformance that a limit is guarded for where the rule does not; JCGM 106 leaves it to the user, 95 % is common practice. */
const GUARDED_BY = 0.95;

function told(near: number, site: ModelOfStation, notes: readonly string[]): LimitTold {
  const { step, rate } = oneLeakRate(site.limits);
  const uncertainty = stationUncertainty(near, site);
  const { unit, rule } = rate;
  const shown = (value: number) => `${formatNumber(value, { significant: 3 })} ${unit}`;
  const conditions = gasFlowUnit(normaliseUnitText(unit));
  // A volume without conditions is at the house's; moles need none.
  const isWhole = conditions.ok && (conditions.value.conditions || conditions.value.counts === "amount");
  const unitInFile = isWhole ? unit : `${unit} @ 20 degC`;
  const base = {
    model: site.limits.model,
    unit,
    unitInFile,
    present: toUnit(rate.upper, "leakRate", unit),
    notes,
  };
  if (uncertainty === null) {
    return {
      ...base,
      stationGuard: 0,
      guardText: `What the station can't tell of such a leak is not known (${step.name} has not been learned, or such a leak can't be measured): nothing is taken off for it.`,
    };
  }
  if (rule.kind === "guarded") {
    return {
      ...base,
      stationGuard: 0,
      guardText: `The rule of the limit file is guarded: at a limit of ${shown(near)} the station itself accepts up to ${shown(acceptanceLimit(near, rule, uncertainty, 0))} (U = ${shown(2 * uncertainty)}, k = 2, by the fewest readings there may be), so that nothing more is taken off the limit for it.`,
    };
  }
  return {
    ...base,
    stationGuard: normalQuantile(GUARDED_BY) * uncertainty,
    guardText: `The rule of the limit file is simple: 1.645 standard uncertainties of the station (U = ${shown(2 * uncertainty)}, k = 2) are taken off the limit, for a conformance of 95 %.`,
  };
}

/** Standard uncertainty of such a leak at this station; null where it can't be foreseen. */
function stationUncertainty(leak: number, { limits, station, today }: ModelOfStation): number | null {
  const { step, rate } = oneLeakRate(limits);
  const gauge = station.knowledge.channels.get("leak_pressure");
  const ambient = { ...HOUSE_REFERENCE, relativeHumidity: 0.5 };
  const conditions = leakConditions(
    step,
    { limits, calibration: today },
    { ambient, phases: [] },
    station.knowledge,
  );
  if (!gauge || !conditions || !(leak > 0)) return null;
  const leak_m3_s = convert(leak, rate.unit, "m3/s", "leakRate");
  const { expandedUncertainty_m3_s } = foreseeLeak(leak_m3_s, step, conditions, gauge.absolute);
  return expandedUncertainty_m3_s === null
    ? null
    : toUnit(expandedUncertainty_m3_s, "leakRate", rate.unit) / 2;
}
