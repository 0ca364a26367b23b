import type { ReasonCode } from "../../station/cycle/reason.ts";
import type { Strike } from "./fault-bench.ts";

/** One fault as it strikes, and what the station promises about it. */
export interface FaultRow extends Strike {
  /** As people call it. */
  readonly fault: string;
  /** Of the unit on the fixture; "none" where the station was waiting. */
  readonly verdict: "void" | "fail" | "none";
  readonly code: ReasonCode;
  /** What the sentence names, and what it says to do. */
  readonly words: RegExp;
  /** Longest time from the strike until the station gives up what it was doing. */
  readonly within_s: number;
  /** "acknowledge": the station is stopped. "itself": the next unit may come. */
  readonly recovers: "acknowledge" | "itself";
  /** The same in another phase, where it tells less. */
  readonly isSecond: boolean;
}

const GAUGE_PHASES = {
  leak_gauge: ["fill", "settle", "measure", "vent", "rest"],
  source_gauge: ["rest", "fill"],
  airflow_gauge: ["run_up", "hold"],
  power_meter: ["run_up", "hold", "coast"],
} as const;
const IO_PHASES = ["rest", "fill", "settle", "measure", "vent", "run_up", "hold", "coast"] as const;

/** Days of the line, and how long each takes to be noticed at the longest: a gauge that streams, one that is asked, the I/O block. */
const LINE_FAULTS = [
  ["silent", "silent", 1.1, 0.7, 0.4],
  ["late answers", "late", 1.1, 0.7, 0.4],
  ["half lines", "half_line", 0.25, 0.2, 0.2],
  ["glued lines", "glued", 0.1, 0.1, 0.1],
  ["garbage", "garbage", 0.1, 0.1, 0.1],
  ["wrong encoding", "wrong_encoding", 0.1, 0.1, 0.1],
  ["wrong parity", "parity_bit", 0.1, 0.1, 0.2],
  ["over-long lines", "over_long", 0.1, 0.1, 0.1],
  ["unplugged", "unplugged", 0.1, 0.1, 0.1],
  ["unplugged and replugged", "replugged", 0.1, 0.1, 0.1],
] as const;
/** Two looks at idle gauges, 3 s apart, and the longest wait for an answer. */
const IDLE_s = 7.1;
const TODO = /[;:] (check|put|look up|set) /;

function lineRow(fault: string, strike: Strike, within_s: number, isSecond = false): FaultRow {
  const verdict = strike.phase === "idle" ? "none" : "void";
  const words = new RegExp(`${strike.instrument}.*${TODO.source}`);
  const recovers = "acknowledge";
  const code = "INSTRUMENT_FAULT";
  return { fault, ...strike, verdict, code, words, within_s, recovers, isSecond };
}

/**
 * Each fault of the line on each instrument in one phase, going round, so that all phases are struck. Gauges that are
 * asked have one driver: one of them will do.
 */
function lineRows(): FaultRow[] {
  const rows: FaultRow[] = [];
  LINE_FAULTS.forEach(([fault, day, streaming_s, asked_s, block_s], i) => {
    Object.entries(GAUGE_PHASES).forEach(([instrument, phases], k) => {
      const phase = phases[i % phases.length] ?? "";
      const streams = instrument === "leak_gauge";
      const isSecond = !streams && k !== 1 + (i % 3);
      rows.push(lineRow(fault, { instrument, day, phase }, streams ? streaming_s : asked_s, isSecond));
    });
    const phase = IO_PHASES[i % IO_PHASES.length] ?? "";
    rows.push(lineRow(fault, { instrument: "io_block", day, phase }, block_s));
    const names = ["leak_gauge", "source_gauge", "airflow_gauge", "power_meter", "ambient"];
    const instrument = names[i % names.length] ?? "";
    rows.push(lineRow(fault, { instrument, day, phase: "idle" }, IDLE_s));
  });
  return rows;
}

interface Told {
  readonly code: ReasonCode;
  readonly words: RegExp;
  readonly within_s: number;
  readonly verdict?: "fail";
  readonly recovers?: "itself";
  readonly after_s?: number;
}

/** @param phases the most telling one first */
function told(
  fault: string,
  instrument: string,
  day: string,
  phases: readonly string[],
  it: Told,
): FaultRow[] {
  return phases.map((phase, i) => ({
    isSecond: i > 0,
    fault,
    instrument,
    day,
    phase,
    verdict: "void" as const,
    recovers: "acknowledge" as const,
    ...it,
  }));
}

const OVER_RANGE = { code: "GAUGE_OVER_RANGE", words: /over its range.*Check/, within_s: 0.1 } as const;
const INVALID = { code: "GAUGE_INVALID", words: /can't measure.*Check/, within_s: 0.1 } as const;
const STUCK_LEAK = { code: "GAUGE_FROZEN", words: /leak gauge stood still.*check it/ } as const;
const STUCK_AIR = {
  code: "GAUGE_FROZEN",
  words: /(suction|flow|power|voltage) stood still.*check it/,
} as const;
const BLOCKED = { code: "BLOCKED_FIXTURE", words: /hose.*acknowledge/ } as const;
const NOT_VENTED = { code: "VENT_NOT_COMPLETED", words: /did not vent.*by hand/ } as const;
const VALVE = { code: "VALVE_STUCK", words: /valve.*does not shut.*mended/ } as const;
const MAINS = {
  code: "SUPPLY_OUT_OF_TOLERANCE",
  words: /mains supply is at \d+\.\d V.*Have the supply checked/,
  recovers: "itself",
} as const;
const WELDED = { code: "MOTOR_STILL_RUNNING", words: /still draws power.*Isolate the mains/ } as const;
const WEAK = { code: "SOURCE_FAULT", words: /source.*(regulator|supply)/ } as const;
const HELD_UP = {
  code: "READINGS_HELD_UP",
  words: /held up for .*test the unit again/,
  recovers: "itself",
} as const;

/** What is about a value, a valve, the air or the mains, and not about the line. Times are of the POD-4 model. */
const OTHER_ROWS: readonly FaultRow[] = [
  ...told("stuck value", "leak_gauge", "stuck", ["fill", "rest"], { ...STUCK_LEAK, within_s: 5.3 }),
  ...told("stuck value", "leak_gauge", "stuck", ["measure", "settle"], { ...STUCK_LEAK, within_s: 13.4 }),
  ...told("stuck value", "leak_gauge", "stuck", ["vent"], { ...NOT_VENTED, within_s: 6.1 }),
  ...told("stuck value", "airflow_gauge", "stuck", ["hold", "run_up"], { ...STUCK_AIR, within_s: 2.3 }),
  ...told("stuck value", "airflow_gauge", "flow_stuck", ["hold"], { ...STUCK_AIR, within_s: 2.3 }),
  ...told("stuck value", "power_meter", "power_stuck", ["hold", "run_up"], { ...STUCK_AIR, within_s: 2.3 }),
  ...told("stuck value", "power_meter", "power_stuck", ["coast"], { ...WELDED, within_s: 8.1 }),
  ...told("stuck value", "power_meter", "voltage_stuck", ["hold", "run_up"], { ...STUCK_AIR, within_s: 4.3 }),
  ...told(
    "over-range",
    "leak_gauge",
    "over_range",
    ["measure", "rest", "fill", "settle", "vent"],
    OVER_RANGE,
  ),
  ...told("over-range", "source_gauge", "over_range", ["rest"], OVER_RANGE),
  ...told("over-range", "airflow_gauge", "over_range", ["run_up"], OVER_RANGE),
  ...told("over-range", "power_meter", "over_range", ["hold", "coast"], OVER_RANGE),
  ...told("a sensor that says it is broken", "leak_gauge", "sensor_fault", ["measure"], INVALID),
  ...told("a sensor that says it is broken", "power_meter", "not_a_number", ["hold"], INVALID),
  ...told("readings missing", "leak_gauge", "skips", ["measure", "fill"], {
    code: "INSTRUMENT_FAULT",
    words: /leak_gauge: 1 reading is missing.*check/,
    within_s: 1.1,
  }),
  ...told("jump beyond physics", "leak_gauge", "jumps", ["measure", "settle"], {
    code: "GAUGE_JUMPED",
    words: /leak gauge jumped from .*kPa to .*kPa.*cable/,
    within_s: 1.4,
  }),
  ...told("jump beyond physics, for good", "leak_gauge", "shifted", ["measure", "rest"], {
    code: "GAUGE_JUMPED",
    words: /leak gauge jumped from .*kPa to .*kPa.*cable/,
    within_s: 0.4,
  }),
  ...told("jump beyond physics, for good", "leak_gauge", "shifted", ["settle", "vent"], {
    ...NOT_VENTED,
    within_s: 13.4,
  }),
  ...told(
    "readings held up, as by a program that stood still",
    "leak_gauge",
    "bunched",
    ["measure", "settle"],
    {
      ...HELD_UP,
      within_s: 1.8,
    },
  ),
  ...told("supply pressure low", "io_block", "source_weak", ["start"], { ...WEAK, within_s: 0.4 }),
  ...told("supply pressure low", "io_block", "source_weak", ["rest", "fill"], { ...WEAK, within_s: 5.3 }),
  ...told("source valve stuck open", "io_block", "source_stuck_open", ["start"], { ...VALVE, within_s: 0.4 }),
  ...told("source valve stuck closed", "io_block", "source_stuck_closed", ["start", "rest"], {
    ...BLOCKED,
    within_s: 5.6,
  }),
  ...told("source valve shuts by itself", "io_block", "source_stuck_closed", ["fill"], {
    ...BLOCKED,
    within_s: 5.6,
    after_s: 1,
  }),
  ...told("isolate valve stuck open", "io_block", "isolate_stuck_open", ["start", "rest"], {
    ...VALVE,
    within_s: 0.4,
  }),
  ...told("isolate valve stuck closed", "io_block", "isolate_stuck_closed", ["start"], {
    ...BLOCKED,
    within_s: 5.6,
  }),
  ...told("isolate valve shuts by itself", "io_block", "isolate_stuck_closed", ["fill"], {
    ...BLOCKED,
    within_s: 5.6,
    after_s: 1,
  }),
  ...told("vent valve stuck open", "io_block", "vent_stuck_open", ["measure", "start", "fill", "settle"], {
    ...VALVE,
    within_s: 7.1,
  }),
  ...told("vent valve stuck closed", "io_block", "vent_stuck_closed", ["measure", "settle", "vent"], {
    ...NOT_VENTED,
    within_s: 19.5,
  }),
  ...told("vent blocked", "io_block", "vent_blocked", ["vent", "measure", "hold"], {
    ...NOT_VENTED,
    within_s: 19.5,
  }),
  ...told("hose shut off from the body", "io_block", "hose_blocked", ["settle", "measure", "fill"], {
    ...BLOCKED,
    within_s: 14,
  }),
  ...told("motor contactor welded", "io_block", "contactor_welded", ["hold", "run_up"], {
    ...WELDED,
    within_s: 17,
  }),
  ...told("motor contactor that does not close", "io_block", "contactor_open", ["vent"], {
    code: "MOTOR_DID_NOT_START",
    words: /did not start although the supply is there.*plug/,
    within_s: 6,
    verdict: "fail",
    recovers: "itself",
  }),
  ...told("heartbeat lost", "io_block", "deaf", ["hold", "rest", "fill", "measure"], {
    code: "INSTRUMENT_FAULT",
    words: /io_block did not answer.*check/,
    within_s: 0.4,
  }),
  ...told("watchdog tripped", "io_block", "watchdog_trips", ["hold", "measure"], {
    code: "INSTRUMENT_FAULT",
    words: /io_block: its watchdog tripped.*check/,
    within_s: 0.1,
    after_s: 0.3,
  }),
  ...told("outputs not taken", "io_block", "outputs_not_taken", ["hold", "measure", "run_up", "fill"], {
    code: "OUTPUT_FAULT",
    words: /did not confirm its outputs.*Treat the fixture as live/,
    within_s: 13.4,
  }),
  ...told("mains out of tolerance, low", "io_block", "mains_low", ["hold", "run_up"], {
    ...MAINS,
    within_s: 0.3,
  }),
  ...told("mains out of tolerance, high", "io_block", "mains_high", ["hold", "run_up"], {
    ...MAINS,
    within_s: 0.3,
  }),
];

const FAULT_TABLE: readonly FaultRow[] = [...lineRows(), ...OTHER_ROWS];

/** @param inEveryPhase else each fault where it tells most */
export function faultTable(inEveryPhase: boolean): readonly FaultRow[] {
  return inEveryPhase ? FAULT_TABLE : FAULT_TABLE.filter(({ isSecond }) => !isSecond);
}
