import { LINE_BAD_DAYS } from "../../sim/instruments/line-instrument.ts";
import type { RandomStream } from "../../sim/random.ts";
import type { DiskTrouble, WriteAccident } from "./modelled-disk.ts";
import type { CrashKind } from "./platter.ts";

/** One thing that goes wrong. */
export type Fault =
  /** An instrument, its line, or what hangs on the I/O block. */
  | { readonly kind: "bad_day"; readonly instrument: string; readonly day: string; readonly for_s: number }
  /**
   * Under pressure the leak gauge creeps, from now until somebody mends it: it makes up for this part of what a unit at its
   * limit loses, as steadily. No test can notice, and the other gauge differs by no more than it may; the leak piece must find it.
   */
  | { readonly kind: "leak_gauge_creeps"; readonly part: number }
  /**
   * The leak gauge shows more pressure for a while, by what a unit at its limit loses in so many seconds: too little for a jump
   * that no gas makes, and enough to hide a leak.
   */
  | { readonly kind: "leak_gauge_steps"; readonly by_s: number; readonly for_s: number }
  | { readonly kind: "guard_opened"; readonly for_s: number }
  | { readonly kind: "abort" }
  | { readonly kind: "start_pressed"; readonly for_s: number }
  | { readonly kind: "clock_put"; readonly by_s: number }
  | { readonly kind: "held_up"; readonly for_s: number }
  | { readonly kind: "disk"; readonly trouble: DiskTrouble; readonly for_s: number }
  | { readonly kind: "write"; readonly accident: WriteAccident }
  /** The program is ended as by a signal: it aborts the test, records and closes. */
  | { readonly kind: "stopped" }
  /** The program's state is thrown away, after so many more operations of the disk, or at once. */
  | { readonly kind: "crash"; readonly how: CrashKind; readonly afterOperations: number | null };

/** When it strikes: so long after the shift's n-th phase began, from 0. */
export interface PlannedFault {
  readonly phase: number;
  readonly after_s: number;
  readonly fault: Fault;
}

/** Of the units off the line: those near their leak limit, and what they leak, over it. */
export interface Marginal {
  readonly part: number;
  readonly least: number;
  readonly most: number;
}

/**
 * Trouble that comes again and again on top of what is drawn, of the kind that one of the station's checks is there for; plain
 * data, so that it may go to another process.
 */
export interface Stress {
  /** Strike together, in this order. */
  readonly faults: readonly Fault[];
  /** Only in phases of these names; in any where none is named. */
  readonly phases?: readonly string[];
  /** Part of such phases in which they strike. */
  readonly chance: number;
  /** When they strike, since the phase's beginning, at the earliest and the latest; within a second where it is not said. */
  readonly after_s?: readonly [least: number, most: number];
  /** Bad days end, whatever their time, when the test goes on to a phase of another name than these. */
  readonly lasts?: readonly string[];
  /** Other units off the line that are near their leak limit. */
  readonly marginal?: Marginal;
}

/** Days of the I/O block that are its own, or its line's; all its others are of what hangs on it. */
const BLOCK_DAYS: ReadonlySet<string> = new Set([
  ...LINE_BAD_DAYS,
  "outputs_not_taken",
  "watchdog_trips",
  "deaf",
  "start_stuck",
]);

/** @returns whether it may make a sound unit fail: hose, valves, shutters, supply or a gauge's calibration, and no link to them */
export function touchesPlant(fault: Fault): boolean {
  if (fault.kind === "leak_gauge_creeps" || fault.kind === "leak_gauge_steps") return true;
  if (fault.kind !== "bad_day") return false;
  return READS_WRONG.has(fault.day) || (fault.instrument === "io_block" && !BLOCK_DAYS.has(fault.day));
}

/** Gauges and openings that read wrong and plausibly: only a reference piece finds them for certain. */
const READS_WRONG: ReadonlySet<string> = new Set([
  "off_calibration",
  "flow_gauge_off",
  "shutter_1_shut",
  "shutter_1_open",
  "shutter_2_half",
  "shutters_stuck",
  "plenum_hose_off",
]);

/** @returns whether an airflow figure taken meanwhile may be wrong without the test itself being able to notice */
export function falsifiesAirflow(fault: Fault): boolean {
  return fault.kind === "bad_day" && READS_WRONG.has(fault.day);
}

/** How often each kind comes, against the others. */
const WEIGHTS: readonly (readonly [Fault["kind"], number])[] = [
  ["bad_day", 34],
  ["leak_gauge_creeps", 5],
  ["leak_gauge_steps", 3],
  ["guard_opened", 6],
  ["abort", 3],
  ["start_pressed", 2],
  ["clock_put", 6],
  ["held_up", 6],
  ["disk", 12],
  ["write", 5],
  ["stopped", 3],
  ["crash", 24],
];

const INSTRUMENT_WEIGHTS: readonly (readonly [string, number])[] = [
  ["leak_gauge", 8],
  ["io_block", 8],
  ["source_gauge", 2],
  ["airflow_gauge", 3],
  ["power_meter", 2],
  ["ambient", 1],
];

const MOST_FAULTS = 7;
/** Attempts of a shift have some ten phases each; later faults may not come. */
const PHASES = 90;

/** @param badDays by instrument */
export function drawFaults(
  random: RandomStream,
  badDays: ReadonlyMap<string, readonly string[]>,
): PlannedFault[] {
  const count = Math.floor(random.between(0, MOST_FAULTS + 1));
  return Array.from({ length: count }, () => ({
    phase: Math.floor(random.between(0, PHASES)),
    after_s: random.chance(0.5) ? 0 : random.between(0, 4),
    fault: drawFault(random, badDays),
  }));
}

function drawFault(random: RandomStream, badDays: ReadonlyMap<string, readonly string[]>): Fault {
  switch (weighted(random, WEIGHTS)) {
    case "bad_day": {
      const instrument = weighted(random, INSTRUMENT_WEIGHTS);
      const day = random.pick(badDays.get(instrument) ?? []);
      return { kind: "bad_day", instrument, day, for_s: logBetween(random, 0.05, 60) };
    }
    case "leak_gauge_creeps":
      return { kind: "leak_gauge_creeps", part: random.between(0.15, 0.25) };
    case "leak_gauge_steps":
      return { kind: "leak_gauge_steps", by_s: random.between(3, 6), for_s: logBetween(random, 1, 60) };
    case "guard_opened":
      return { kind: "guard_opened", for_s: logBetween(random, 0.5, 10) };
    case "abort":
      return { kind: "abort" };
    case "start_pressed":
      return { kind: "start_pressed", for_s: logBetween(random, 0.1, 12) };
    case "clock_put": {
      const by_s = logBetween(random, 1, 3 * 86_400);
      return { kind: "clock_put", by_s: random.chance(0.5) ? by_s : -by_s };
    }
    case "held_up":
      return { kind: "held_up", for_s: logBetween(random, 0.05, 12) };
    case "disk": {
      const trouble = random.pick(["full", "faulty", "read_only", "gone", "slow"] as const);
      return { kind: "disk", trouble, for_s: logBetween(random, 0.01, 60) };
    }
    case "write":
      return { kind: "write", accident: random.pick(["altered", "half_written"] as const) };
    case "stopped":
      return { kind: "stopped" };
    case "crash": {
      const afterOperations = random.chance(0.75) ? Math.floor(random.between(0, 60)) : null;
      return { kind: "crash", how: random.chance(0.6) ? "power" : "kill", afterOperations };
    }
  }
}

function weighted<T>(random: RandomStream, choices: readonly (readonly [T, number])[]): T {
  let left = random.uniform() * choices.reduce((sum, [, weight]) => sum + weight, 0);
  for (const [choice, weight] of choices) {
    left -= weight;
    if (left < 0) return choice;
  }
  throw new RangeError("nothing to choose from");
}

function logBetween(random: RandomStream, least: number, most: number): number {
  return least * (most / least) ** random.uniform();
}

export function faultText(fault: Fault): string {
  switch (fault.kind) {
    case "bad_day":
      return `${fault.instrument} ${fault.day} for ${fault.for_s.toFixed(2)} s`;
    case "leak_gauge_creeps":
      return `leak_gauge creeps by ${(100 * fault.part).toFixed(0)} % of the limit from now on`;
    case "leak_gauge_steps":
      return `leak_gauge shows ${fault.by_s.toFixed(1)} s of a limit leak more for ${fault.for_s.toFixed(2)} s`;
    case "guard_opened":
      return `guard open for ${fault.for_s.toFixed(2)} s`;
    case "abort":
      return "the inspector aborts";
    case "start_pressed":
      return `start button down for ${fault.for_s.toFixed(2)} s`;
    case "clock_put":
      return `wall clock put by ${fault.by_s.toFixed(0)} s`;
    case "held_up":
      return `program held up for ${fault.for_s.toFixed(2)} s`;
    case "disk":
      return `disk ${fault.trouble} for ${fault.for_s.toFixed(2)} s`;
    case "write":
      return `next file ${fault.accident === "altered" ? "comes out altered" : "is half written"}`;
    case "stopped":
      return "program told to end";
    case "crash":
      return fault.afterOperations === null
        ? `crash (${fault.how}) at once`
        : `crash (${fault.how}) before disk operation ${fault.afterOperations + 1} from now`;
  }
}
