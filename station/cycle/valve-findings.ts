import type { LeakStep } from "../../limits/model.ts";
import { isHardlyAny } from "./fill-findings.ts";
import type { Reason } from "./reason.ts";
import type { CurveSamples } from "./watchers.ts";

/** What was seen while one of the two valves between source and body was shut, and the other and not the vent open. */
export interface ValveTrial {
  /** Readings of the source, in order. */
  readonly source_Pa: readonly number[];
  /** How fast the body's pressure moved; null where the gauge gave too few readings to tell. */
  readonly body_Pa_s: number | null;
  /** Standard uncertainty of that, for a gauge that scatters by what it is certified to. */
  readonly uncertainty_Pa_s: number;
}

/** Pressures of a body with the source on it, first with the vent shut, then with the vent open. */
export interface VentTrial {
  readonly shut_Pa: number;
  readonly open_Pa: number;
}

type Rules = Pick<LeakStep, "testPressure_Pa" | "fillLongest_s">;

/** A valve passes when the body takes pressure half as fast as in the slowest fill that still arrives. */
const PASSES_PART = 0.5;
/** A rate is told from the gauge's noise where it is so many standard uncertainties. */
const TOLD_FROM_NOISE = 5;
/** A body that could not be filled loses at least this part of what its leak would have to let out. */
const LEAKS_PART = 0.25;
/** A vent that opens takes a tenth of the pressure away or more: its opening is no smaller than a twentieth of the unit's. */
const VENT_SHOWS_PART = 0.9;
/** Fewer times the gauge's certificate, and its scatter hides whether a pressure changed by a tenth. */
const TELLING_FLOORS = 15;
const LEAST_TELLING_Pa = 5;

/**
 * Source and isolate valve stand one behind the other, so that one that does not shut goes unnoticed, and the second one
 * that does not would hide a leak: the source feeds it. Before each fill the body is therefore looked at with each of them
 * shut alone. Whatever else moves the pressure, warmth or the weather, moves it alike in both.
 * @param sourceShut with the source valve shut, `isolateShut` with the isolate valve shut
 * @returns which valve does not shut; null when both do, or the gauge can't tell
 * @example // test pressure 5 kPa, slowest fill 5 s, so that more than 500 Pa/s is a valve
 * // sourceShut 3 Pa/s, isolateShut 1300 Pa/s -> VALVE_STUCK, the isolate valve
 */
export function shutValveFinding(
  sourceShut: ValveTrial,
  isolateShut: ValveTrial,
  { testPressure_Pa, fillLongest_s }: Rules,
): Reason | null {
  const direction = Math.sign(testPressure_Pa);
  const passes_Pa_s = (PASSES_PART * Math.abs(testPressure_Pa)) / fillLongest_s;
  const throughSource_Pa_s = direction * (sourceShut.body_Pa_s ?? Number.NaN);
  const throughIsolate_Pa_s = direction * (isolateShut.body_Pa_s ?? Number.NaN);
  const noise_Pa_s = Math.hypot(sourceShut.uncertainty_Pa_s, isolateShut.uncertainty_Pa_s);
  if (!(passes_Pa_s > TOLD_FROM_NOISE * noise_Pa_s)) return null;
  // What passes brings pressure.
  if (!(Math.max(throughSource_Pa_s, throughIsolate_Pa_s) > 0)) return null;
  if (Math.min(throughSource_Pa_s, throughIsolate_Pa_s) > passes_Pa_s)
    return doesNotShut("both valves", "do");
  const more_Pa_s = throughIsolate_Pa_s - throughSource_Pa_s;
  if (!(Math.abs(more_Pa_s) > passes_Pa_s)) return null;
  return doesNotShut(more_Pa_s > 0 ? "the isolate valve" : "the source valve", "does");
}

/**
 * A unit that is too open to be filled empties as soon as it is shut off. One that came to some pressure, no further, and
 * keeps it, was cut off from the source on the way.
 * @param gross the body's decay right after such a fill
 * @param filled what the fill had come to, of body and source
 */
export function heldFinding(
  gross: CurveSamples,
  filled: { readonly pressure_Pa: number; readonly source_Pa: number | null },
  { testPressure_Pa, fillLongest_s }: Rules,
): Reason | null {
  const { pressure_Pa, source_Pa } = filled;
  const last = gross.t_us.length - 1;
  if (source_Pa === null || last < 1 || isHardlyAny(pressure_Pa, testPressure_Pa)) return null;
  const lasted_s = ((gross.t_us[last] ?? 0) - (gross.t_us[0] ?? 0)) / 1e6;
  const first_Pa = (gross.pressure_mPa[0] ?? 0) / 1000;
  const lost_Pa = Math.sign(testPressure_Pa) * (first_Pa - (gross.pressure_mPa[last] ?? 0) / 1000);
  // As much went out as came in, and that falls as the root of what drives it.
  const drive = Math.sqrt(Math.max(0, 1 - pressure_Pa / source_Pa));
  const leak_Pa = (Math.abs(testPressure_Pa) / fillLongest_s) * drive * lasted_s;
  return lost_Pa < LEAKS_PART * Math.min(leak_Pa, Math.abs(first_Pa)) ? CUT_OFF : null;
}

/**
 * A vent that does not shut looks like an open unit. Opened against the source it takes pressure away, unless it stood open
 * already.
 * @param gaugeFloor_Pa constant part of the leak gauge's certificate
 * @returns null also where the unit is so open that its pressure tells nothing
 * @example // gauge certified to 2 Pa: 37 and 37 Pa -> VALVE_STUCK; 1400 and 40 Pa, or 4 and 3 Pa -> null
 */
export function ventTrialFinding(
  { shut_Pa, open_Pa }: VentTrial,
  { testPressure_Pa }: Pick<LeakStep, "testPressure_Pa">,
  gaugeFloor_Pa: number,
): Reason | null {
  const direction = Math.sign(testPressure_Pa);
  const telling_Pa = Math.max(LEAST_TELLING_Pa, TELLING_FLOORS * gaugeFloor_Pa);
  if (!(direction * shut_Pa >= telling_Pa)) return null;
  return open_Pa / shut_Pa > VENT_SHOWS_PART ? VENT_STANDS_OPEN : null;
}

const VENT_STANDS_OPEN: Reason = {
  code: "VALVE_STUCK",
  sentence:
    "The vent valve does not shut: the unit lost its pressure through it, and nothing is said of the unit. Have the vent valve and its wiring mended, then acknowledge and test the unit again.",
};

const CUT_OFF: Reason = {
  code: "BLOCKED_FIXTURE",
  sentence:
    "The unit stopped filling on the way and keeps what it has: source or isolate valve shut by itself, or the hose is kinked. Look at both valves and the hose, then acknowledge and test the unit again.",
};

function doesNotShut(what: string, verb: string): Reason {
  return {
    code: "VALVE_STUCK",
    sentence: `The unit took pressure before the fill: ${what} of the fixture ${verb} not shut. Have it mended, since a leak can hide behind it, then acknowledge and test the unit again.`,
  };
}
