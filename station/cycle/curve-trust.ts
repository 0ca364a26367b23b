import type { Reason } from "./reason.ts";

/** A body shut off from its source: what its pressure can do between two readings. Pressures are gauge pressures. */
export interface ClosedBody {
  /** Its sign is the side of ambient on which the body stands. */
  readonly testPressure_Pa: number;
  /** As fast as a source may fill the body; nothing moves its pressure faster away from ambient, Pa/s. */
  readonly fastest_Pa_s: number;
  /** Constant part of the leak gauge's certificate. */
  readonly gaugeFloor_Pa: number;
}

/** Readings that come so much later than their neighbours were held up: when each of them was taken, nobody knows. */
const LONGEST_GAP_s = 0.7;
/** Slower gauges may take so many of their own intervals. */
const LONGEST_GAP_INTERVALS = 5;
const INTERVALS_LEARNED = 3;
/** A jump is more than so many times what the gauge is certified to, and than this part of the test pressure. */
const NOISE_FLOORS = 10;
const NOISE_PART = 0.005;
/** So long after a fall it must have gone on by as much again: no hole lets that much go and then nothing. */
const FALL_GOES_ON_s = 0.2;
/** A body with less than this part of its pressure left has lost it, as one does whose lid comes off. */
const EMPTY_PART = 0.1;

/**
 * Tells readings whose times are not known from good ones.
 * @returns what takes each reading's time, in order, and says why they can't be trusted
 * @example const gaps = gapWatch(); gaps(0); gaps(0.02); gaps(0.04); gaps(0.06); gaps(0.9) // READINGS_HELD_UP
 */
export function gapWatch() {
  let first_s = Number.NaN;
  let last_s = Number.NaN;
  let intervals = 0;
  return (t_s: number): Reason | null => {
    const gap_s = t_s - last_s;
    const usual_s = intervals >= INTERVALS_LEARNED ? (last_s - first_s) / intervals : Number.NaN;
    if (Number.isNaN(first_s)) first_s = t_s;
    else intervals++;
    last_s = t_s;
    return gap_s > Math.max(LONGEST_GAP_s, LONGEST_GAP_INTERVALS * usual_s) ? heldUp(gap_s) : null;
  };
}

/**
 * Follows a closed body by its gauge. Away from ambient the pressure moves no faster than a source would fill the body; a
 * fall of any size may be a real hole, which goes on then, or empties the body at once. What falls and stays, or comes
 * back, is the gauge.
 * @returns `accept` takes readings in order and says what can't be; `isInDoubt` while a fall is not explained yet
 * @example // 5 kPa body, filled in 1.5 s or more, gauge certified to 2 Pa; 50 readings a second:
 * // 4850, 4848, 5150 -> GAUGE_JUMPED at 5150; 4850, 4848, 4548, ... 4540 0.2 s later -> GAUGE_JUMPED; 4848, 3 -> nothing
 */
export function jumpWatch({ testPressure_Pa, fastest_Pa_s, gaugeFloor_Pa }: ClosedBody) {
  const direction = Math.sign(testPressure_Pa);
  const noise_Pa = noiseOf({ testPressure_Pa, gaugeFloor_Pa });
  let last: { readonly t_s: number; readonly kept_Pa: number } | null = null;
  let fall: { readonly t_s: number; readonly from_Pa: number; readonly to_Pa: number } | null = null;

  return {
    accept(t_s: number, pressure_Pa: number): Reason | null {
      const kept_Pa = direction * pressure_Pa;
      const before = last;
      last = { t_s, kept_Pa };
      if (!before) return null;
      const allowed_Pa = noise_Pa + fastest_Pa_s * Math.max(0, t_s - before.t_s);
      if (kept_Pa - before.kept_Pa > allowed_Pa) return jumped(before.kept_Pa, kept_Pa, direction);
      if (!fall && before.kept_Pa - kept_Pa > allowed_Pa) {
        fall = { t_s, from_Pa: before.kept_Pa, to_Pa: kept_Pa };
      }
      if (!fall || t_s - fall.t_s < FALL_GOES_ON_s) return null;
      const { from_Pa, to_Pa } = fall;
      fall = null;
      const wentOn = to_Pa - kept_Pa >= from_Pa - to_Pa || kept_Pa < EMPTY_PART * from_Pa;
      return wentOn ? null : jumped(from_Pa, to_Pa, direction);
    },
    /** The newest fall where nobody can say yet what it was. */
    get doubt(): Reason | null {
      return fall && fall.to_Pa >= EMPTY_PART * fall.from_Pa
        ? jumped(fall.from_Pa, fall.to_Pa, direction)
        : null;
    },
  };
}

/**
 * Follows a body that nothing fills or empties, or a source through a valve that does not shut.
 * @returns what takes readings in order and says why they can't be: a step that no source makes, either way
 * @example // as above: 1, 2, -300 -> GAUGE_JUMPED
 */
export function stepWatch({ testPressure_Pa, fastest_Pa_s, gaugeFloor_Pa }: ClosedBody) {
  const noise_Pa = noiseOf({ testPressure_Pa, gaugeFloor_Pa });
  let last: { readonly t_s: number; readonly pressure_Pa: number } | null = null;
  return (t_s: number, pressure_Pa: number): Reason | null => {
    const before = last;
    last = { t_s, pressure_Pa };
    if (!before) return null;
    const allowed_Pa = noise_Pa + fastest_Pa_s * Math.max(0, t_s - before.t_s);
    const isStep = Math.abs(pressure_Pa - before.pressure_Pa) > allowed_Pa;
    return isStep ? jumped(before.pressure_Pa, pressure_Pa, 1) : null;
  };
}

function noiseOf({
  testPressure_Pa,
  gaugeFloor_Pa,
}: Pick<ClosedBody, "testPressure_Pa" | "gaugeFloor_Pa">): number {
  return Math.max(NOISE_FLOORS * gaugeFloor_Pa, NOISE_PART * Math.abs(testPressure_Pa));
}

function heldUp(gap_s: number): Reason {
  return {
    code: "READINGS_HELD_UP",
    sentence: `The leak gauge's readings were held up for ${gap_s.toFixed(1)} s, so that nobody knows when each was taken. Check that this computer is not overloaded or asleep, and what lies between it and the gauge, then test the unit again.`,
  };
}

function jumped(from_Pa: number, to_Pa: number, direction: number): Reason {
  return {
    code: "GAUGE_JUMPED",
    sentence: `The leak gauge jumped from ${kPa(direction * from_Pa)} to ${kPa(direction * to_Pa)} between two readings, as no air in a body does. Look at its cable, its supply and its tube, and that nobody knocks against the fixture, then acknowledge.`,
  };
}

function kPa(pressure_Pa: number): string {
  return `${(pressure_Pa / 1000).toFixed(2)} kPa`;
}
