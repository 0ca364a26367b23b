import { LINE_BAD_DAYS } from "../../sim/instruments/line-instrument.ts";
import { faultTable } from "../journeys/fault-table.ts";

/*
 * What the station promises about faults that it must name, out of the table that each is struck by on its own: there with a
 * sound unit, here in whatever else goes wrong.
 */

/** A fault that a test does not go on with. */
export interface Telling {
  /** Names of phases. */
  readonly phases: ReadonlySet<string>;
  /** Longest time that such a phase goes on with it. */
  readonly within_s: number;
}

/** Phases in which each instrument is listened to all the time. */
const LISTENED_TO: Readonly<Record<string, readonly string[]>> = {
  leak_gauge: ["rest", "fill", "settle", "measure", "vent"],
  source_gauge: ["rest", "fill"],
  airflow_gauge: ["run_up", "hold"],
  power_meter: ["run_up", "hold", "coast"],
  io_block: ["rest", "fill", "settle", "measure", "vent", "run_up", "hold", "coast"],
};
/** What takes longer is told from a whole phase, and not while it goes on. */
const AT_ONCE_s = 2;
const LINE_DAYS: ReadonlySet<string> = new Set(LINE_BAD_DAYS);

/** Days that are a matter of a moment: whoever was not there then has nothing to tell. */
export const ONE_SHOT: ReadonlySet<string> = new Set(["watchdog_trips", "shifted", "replugged"]);

/** @returns how a fault is told while a phase goes on; by instrument and day, as `tellingKey` puts them */
export function tellings(): ReadonlyMap<string, Telling> {
  const found = new Map<string, Telling>();
  for (const { instrument, day, phase, within_s } of faultTable(true)) {
    const listened = LISTENED_TO[instrument];
    if (!listened?.includes(phase) || within_s >= AT_ONCE_s) continue;
    const key = tellingKey(instrument, day);
    const known = found.get(key);
    found.set(key, {
      phases: new Set(LINE_DAYS.has(day) ? listened : [...(known?.phases ?? []), phase]),
      within_s: Math.max(known?.within_s ?? 0, within_s),
    });
  }
  return found;
}

export function tellingKey(instrument: string, day: string): string {
  return `${instrument} ${day}`;
}

/**
 * Faults that leave no room for a pass where they were there from a phase's beginning to its end, or for so long in it: the
 * same value again and again, valves that do not shut.
 */
export interface Spoiling {
  readonly instrument: string;
  readonly day: string;
  readonly phase: string;
  /** Without it, the whole phase. */
  readonly for_s?: number;
  /** Of a whole phase that is shorter nothing is expected. */
  readonly least_s?: number;
}

/** As many equal readings as the station needs to tell a gauge that stands still from a quiet body, and a few. */
const STANDS_STILL_s = 0.6;

export const SPOILINGS: readonly Spoiling[] = [
  { instrument: "leak_gauge", day: "stuck", phase: "measure", for_s: STANDS_STILL_s },
  // The first point is known by the run-up's readings almost at once.
  { instrument: "airflow_gauge", day: "stuck", phase: "hold", least_s: STANDS_STILL_s },
  { instrument: "airflow_gauge", day: "flow_stuck", phase: "hold", least_s: STANDS_STILL_s },
  { instrument: "power_meter", day: "power_stuck", phase: "hold", least_s: STANDS_STILL_s },
  { instrument: "io_block", day: "source_stuck_open", phase: "rest" },
  { instrument: "io_block", day: "isolate_stuck_open", phase: "rest" },
  { instrument: "io_block", day: "contactor_welded", phase: "coast" },
];

/** Readings that were held up for so long while the pressure was followed: when each was taken, nobody knows. */
export const HELD_UP_s = 0.8;
