import type { Dimension } from "../quantity.ts";

/** What a colleague calls a key of the limit file, what is in it, and which way it goes. */
export interface PlaceWords {
  readonly words: string;
  /** Of a quantity. */
  readonly dimension?: Dimension;
  /** What a larger and a smaller value are called; by the dimension where it is left out. */
  readonly more?: string;
  readonly less?: string;
}

const STRICTER = { more: "stricter", less: "laxer" };
const LAXER = { more: "laxer", less: "stricter" };

/** By place, without the names of list entries: every key a limit file may have. */
const WORDS: Readonly<Record<string, PlaceWords>> = {
  drumtight: { words: "kind of file" },
  model: { words: "model" },
  title: { words: "title" },
  revision: { words: "revision", more: "raised", less: "lowered" },
  effective_date: { words: "effective date" },
  author: { words: "author" },
  reason: { words: "reason" },
  "serial.pattern": { words: "pattern of the serial" },
  "serial.example": { words: "example of a serial" },
  "serial.check": { words: "check characters of the serial" },
  "body.volume": { words: "volume of the body", dimension: "volume" },
  "body.volume_uncertainty": { words: "uncertainty of the body's volume", dimension: "volume" },
  "body.rated_pressure": { words: "rated pressure of the body", dimension: "pressure" },
  "reference.temperature": { words: "reference temperature", dimension: "temperature" },
  "reference.pressure": { words: "reference pressure", dimension: "pressure" },
  "steps[].step": { words: "kind" },
  "steps[].name": { words: "name" },
  "steps[].test_pressure": { words: "test pressure", dimension: "pressure" },
  "steps[].fill_tolerance": { words: "fill tolerance", dimension: "pressure", ...LAXER },
  "steps[].fill_shortest": { words: "shortest fill", dimension: "time" },
  "steps[].fill_longest": { words: "longest fill", dimension: "time" },
  "steps[].settle": { words: "settling time", dimension: "time" },
  "steps[].method": { words: "method" },
  "steps[].method.kind": { words: "method" },
  "steps[].method.subtract_mean_curve": { words: "learned mean curve taken off" },
  "steps[].measure_longest": { words: "longest measuring time", dimension: "time" },
  "steps[].early_verdict": { words: "early verdict" },
  "steps[].early_verdict.measure_shortest": { words: "shortest measuring time", dimension: "time" },
  "steps[].early_verdict.look_every": { words: "time between looks", dimension: "time" },
  "steps[].early_verdict.false_accept": {
    words: "risk of a false early pass",
    dimension: "ratio",
    ...LAXER,
  },
  "steps[].early_verdict.false_reject": { words: "risk of a false early fail", dimension: "ratio" },
  "steps[].vented_within": { words: "pressure that counts as vented", dimension: "pressure" },
  "steps[].vent_shortest": { words: "shortest vent", dimension: "time" },
  "steps[].vent_longest": { words: "longest vent", dimension: "time" },
  "steps[].if_failed": { words: "what follows a fail" },
  "steps[].supply_voltage": { words: "supply voltage", dimension: "voltage" },
  "steps[].supply_tolerance": { words: "tolerance of the supply voltage", dimension: "voltage", ...LAXER },
  "steps[].running_above": { words: "power of a started motor", dimension: "power" },
  "steps[].stopped_below": { words: "power of a stopped motor", dimension: "power" },
  "steps[].power_highest": { words: "highest power after the inrush", dimension: "power", ...LAXER },
  "steps[].inrush_longest": { words: "longest inrush", dimension: "time" },
  "steps[].run_up_longest": { words: "longest run-up", dimension: "time" },
  "steps[].steady.within": { words: "drift that counts as steady", dimension: "ratio", ...LAXER },
  "steps[].steady.window": { words: "window of the steady trend", dimension: "time" },
  "steps[].steady.ahead": { words: "time the steady trend is followed", dimension: "time" },
  "steps[].points[].name": { words: "name" },
  "steps[].points[].orifice": { words: "orifice" },
  "steps[].points[].known_within": { words: "scatter allowed", dimension: "ratio", ...LAXER },
  "steps[].points[].samples_least": { words: "least number of samples", more: "more", less: "fewer" },
  "steps[].points[].hold_longest": { words: "longest hold", dimension: "time" },
  "steps[].coast_longest": { words: "longest coast", dimension: "time" },
  "steps[].correction": { words: "correction to standard conditions" },
  "steps[].correction.speed_per_density": { words: "exponent of speed per density" },
  "steps[].correction.speed_per_voltage": { words: "exponent of speed per voltage" },
  "steps[].correction.exponent_uncertainty": { words: "uncertainty of the exponents" },
  "characteristics[].name": { words: "name" },
  "characteristics[].step": { words: "step" },
  "characteristics[].measure": { words: "measured quantity" },
  "characteristics[].point": { words: "point" },
  "characteristics[].lower": { words: "lower limit", more: "tighter", less: "looser" },
  "characteristics[].upper": { words: "upper limit", more: "looser", less: "tighter" },
  "characteristics[].rated_input": {
    words: "rated input",
    dimension: "power",
    more: "looser",
    less: "tighter",
  },
  "characteristics[].rule": { words: "decision rule" },
  "characteristics[].rule.kind": { words: "decision rule" },
  "characteristics[].rule.conformance": {
    words: "conformance asked for",
    dimension: "ratio",
    ...STRICTER,
  },
  "retest.after_fail": { words: "retests after a fail", more: "more", less: "fewer" },
  "retest.after_void": { words: "repeats after a void", more: "more", less: "fewer" },
  "retest.pause": { words: "pause before a retest", dimension: "time" },
  "parts[].name": { words: "name" },
  "parts[].pattern": { words: "pattern of the number" },
  "parts[].check": { words: "check characters of the number" },
  "parts[].required": { words: "whether a unit is refused without it" },
};

/** Words of each list's entries, and where an entry of the entry is. */
const ENTRIES: Readonly<Record<string, { readonly one: string; readonly many: string }>> = {
  steps: { one: "step", many: "steps" },
  "steps[].points": { one: "point", many: "points" },
  characteristics: { one: "characteristic", many: "characteristics" },
  parts: { one: "tracked part", many: "tracked parts" },
  suspects: { one: "suspect", many: "suspects" },
  "retest.reasons": { one: "reason for a retest", many: "reasons for a retest" },
};

/** @returns the words of a place whose list entries carry no names, its last key in plain words where it has none */
export function wordsOf(generic: string): PlaceWords {
  if (Object.hasOwn(WORDS, generic)) return WORDS[generic] as PlaceWords;
  const last = generic.slice(generic.lastIndexOf(".") + 1);
  return { words: last.replaceAll("_", " ") };
}

/** @returns whether a place has words of its own */
export function hasWords(generic: string): boolean {
  return Object.hasOwn(WORDS, generic) || Object.hasOwn(ENTRIES, generic);
}

/** @returns what one and many entries of a list are called */
export function entryWords(list: string): { readonly one: string; readonly many: string } {
  return ENTRIES[list] ?? { one: `entry of ${list}`, many: list };
}
