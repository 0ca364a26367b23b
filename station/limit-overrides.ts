import { gasFlowUnit } from "../limits/leak-rate.ts";
import type { Characteristic, LeakMethod, LeakStep, ModelLimits } from "../limits/model.ts";
import { describeFailure, HOUSE_REFERENCE, parseQuantity } from "../limits/quantity.ts";
import { normaliseUnitText } from "../limits/units.ts";
import { UsageError } from "./explain.ts";

/** What a quick question changes of a limit file, as typed after the options. */
export interface LimitOverrides {
  readonly method?: LeakMethod["kind"];
  readonly subtractMeanCurve?: true;
  readonly settle?: string;
  readonly measure?: string;
  /** Upper limit of the leak rate. */
  readonly limit?: string;
}

/** 9.8 s and 0.2 s make 10 s. */
const ROUNDING = 1e-9;

/**
 * The limits with a leak step measured and judged otherwise. A fixed timer has no early verdict, so that goes with it.
 * @throws UsageError for limits without a leak rate, and for a change that contradicts itself or the rest of the limits
 */
export function withOverrides(limits: ModelLimits, overrides: LimitOverrides): ModelLimits {
  const steps = limits.steps.filter((step) => step.kind === "leak");
  const rates = limits.characteristics.filter(({ measurand }) => measurand === "leak_rate");
  const [step] = steps;
  const [rate] = rates;
  if (!step || !rate) throw new UsageError(`${limits.model} has no leak rate to measure again.`);
  if (Object.keys(overrides).length === 0) return limits;
  if (steps.length > 1 || rates.length > 1) {
    throw new UsageError(
      `${limits.model} judges more than one leak rate: write the change into a copy of its limit file instead of giving it with an option.`,
    );
  }
  const changedStep = stepWith(step, overrides);
  const changedRate = overrides.limit === undefined ? rate : rateWith(rate, overrides.limit);
  return {
    ...limits,
    steps: limits.steps.map((one) => (one === step ? changedStep : one)),
    characteristics: limits.characteristics.map((one) => (one === rate ? changedRate : one)),
  };
}

function stepWith(step: LeakStep, overrides: LimitOverrides): LeakStep {
  const method = methodWith(step.method, overrides);
  const settle_s = overrides.settle === undefined ? step.settle_s : time_s("--settle", overrides.settle);
  const measureLongest_s =
    overrides.measure === undefined ? step.measureLongest_s : time_s("--measure", overrides.measure);
  if (settle_s < 0) throw new UsageError(`--settle: found ${overrides.settle}, expected 0 s or more.`);
  if (measureLongest_s <= 0)
    throw new UsageError(`--measure: found ${overrides.measure}, expected more than 0 s.`);
  const earlyVerdict = method.kind === "fitted" ? step.earlyVerdict : null;
  if (earlyVerdict) {
    const { measureShortest_s, lookEvery_s } = earlyVerdict;
    const least_s = measureShortest_s + lookEvery_s;
    if (least_s > measureLongest_s * (1 + ROUNDING)) {
      throw new UsageError(
        `--measure ${overrides.measure} leaves no time for a look: the early verdict of the limit file takes its first after ${measureShortest_s} s and one every ${lookEvery_s} s, so give ${least_s} s or more.`,
      );
    }
  }
  return { ...step, method, settle_s, measureLongest_s, earlyVerdict };
}

function methodWith(method: LeakMethod, { method: kind, subtractMeanCurve }: LimitOverrides): LeakMethod {
  const chosen = kind ?? method.kind;
  if (chosen === "fitted") {
    if (!subtractMeanCurve) return { kind: "fitted" };
    const whose = kind === undefined ? "the method of the limit file is fitted" : "--method fitted";
    throw new UsageError(
      `--subtract-mean-curve is for fixed timers, and ${whose}: add --method slope or --method difference, or leave it out.`,
    );
  }
  const asInFile = kind === undefined && method.kind !== "fitted" && method.subtractsMeanCurve;
  return { kind: chosen, subtractsMeanCurve: subtractMeanCurve === true || asInFile };
}

function rateWith(rate: Characteristic, text: string): Characteristic {
  // A limit without conditions means those of the file, which the unit shown carries where they are not the house's.
  const shown = gasFlowUnit(normaliseUnitText(rate.unit));
  const reference = (shown.ok && shown.value.conditions) || HOUSE_REFERENCE;
  const parsed = parseQuantity(text, "leakRate", { reference });
  if (!parsed.ok) throw new UsageError(`--limit: ${describeFailure(parsed)}.`);
  const upper = parsed.value.value_SI;
  if (upper <= 0) throw new UsageError(`--limit: found ${text}, expected a leak rate above zero.`);
  if (rate.lower !== undefined && upper <= rate.lower) {
    throw new UsageError(`--limit: ${text} is not above the lower limit that the limit file has too.`);
  }
  return { ...rate, upper };
}

function time_s(option: string, text: string): number {
  const parsed = parseQuantity(text, "time");
  if (!parsed.ok) throw new UsageError(`${option}: ${describeFailure(parsed)}.`);
  return parsed.value.value_SI;
}
