import { parseQuantity } from "../../../limits/quantity.ts";
import { UsageError } from "../../explain.ts";
import { readAboveZero, readLeakRate, readQuantity } from "../calc/quantity-option.ts";
import type { Known, Uncertainty } from "./volume.ts";

/** Options that every study on the fixture has, as they were typed. */
export interface CommonOptions {
  readonly model: string;
  readonly station?: string | undefined;
  readonly simulate?: true | undefined;
  readonly seed: number;
  readonly runs: number;
  readonly watch: string;
  readonly rest: string;
  readonly as?: string | undefined;
  readonly out?: string | undefined;
}

export interface CommonArguments {
  readonly model: string;
  readonly station?: string;
  readonly simulate?: true;
  readonly seed: number;
  readonly runs: number;
  readonly watch_s: number;
  readonly rest_s: number;
  readonly who: string | null;
  readonly out: string | undefined;
}

/** @throws UsageError that names the option and says what to write */
export function common(options: CommonOptions): CommonArguments {
  const { model, station, simulate, seed, runs, as: who, out } = options;
  if (who?.trim() === "") throw new UsageError("--as: give a name, or leave it out.");
  if (out?.trim() === "") throw new UsageError("--out: give a folder, or leave it out.");
  return {
    model,
    ...(station === undefined ? {} : { station }),
    ...(simulate ? { simulate } : {}),
    seed,
    runs,
    watch_s: timeBetween("--watch", options.watch, 5, 600),
    rest_s: timeBetween("--rest", options.rest, 0, 3600),
    who: who?.trim() ?? null,
    out,
  };
}

function timeBetween(option: string, text: string, least_s: number, most_s: number): number {
  const time_s = readQuantity(option, text, "time");
  if (time_s >= least_s && time_s <= most_s) return time_s;
  throw new UsageError(`${option}: found ${JSON.stringify(text)}, expected ${least_s} s to ${most_s} s.`);
}

/** Bodies that differ by more than this from one another are no one model. */
const MOST_SPREAD = 0.5;

/**
 * An expected spread from unit to unit, one standard deviation, as a part.
 * @throws UsageError for none, or one above 50 %
 */
export function spreadOf(option: string, text: string): number {
  const spread = readAboveZero(option, text, "ratio");
  if (spread <= MOST_SPREAD) return spread;
  throw new UsageError(
    `${option}: found ${JSON.stringify(text)}, expected 50 % at most: bodies that differ more need models of their own.`,
  );
}

export interface KnownOptions {
  readonly leak?: string | undefined;
  readonly leakUncertainty?: string | undefined;
  readonly addedVolume?: string | undefined;
  readonly addedUncertainty?: string | undefined;
}

/** @throws UsageError where the known quantity or its uncertainty is not stated as it must be */
export function knownOf({ leak, leakUncertainty, addedVolume, addedUncertainty }: KnownOptions): Known {
  if (addedVolume !== undefined) {
    const volume_m3 = readAboveZero("--added-volume", addedVolume, "volume");
    const option = "--added-uncertainty";
    return { by: "volume", volume_m3, uncertainty: uncertaintyOf(option, addedUncertainty, "volume") };
  }
  if (addedUncertainty !== undefined) {
    throw new UsageError("--added-uncertainty: give the volume that is added with --added-volume.");
  }
  const uncertainty = uncertaintyOf("--leak-uncertainty", leakUncertainty, "leakRate");
  if (leak === undefined) return { by: "pieces", uncertainty };
  return { by: "leak", leak_m3_s: readLeakRate("--leak", leak), uncertainty };
}

function uncertaintyOf(
  option: string,
  text: string | undefined,
  dimension: "leakRate" | "volume",
): Uncertainty {
  if (text === undefined) {
    throw new UsageError(
      `${option} is missing: state one standard uncertainty, as the certificate gives it (half of an expanded one with k = 2), like "1 %".`,
    );
  }
  const part = parseQuantity(text, "ratio");
  if (!part.ok) return { absolute: readAboveZero(option, text, dimension) };
  if (part.value.value_SI > 0 && part.value.value_SI < 1) return { relative: part.value.value_SI };
  throw new UsageError(
    `${option}: found ${JSON.stringify(text)}, expected more than 0 % and less than 100 %.`,
  );
}
