import { formatMeasured } from "../../../limits/print-quantity.ts";
import { type Level, levelAt } from "./control-chart.ts";

/**
 * The eight patterns that speak against a process that stands still, by names of our own. A sigma is that of a plotted point.
 * @see L. S. Nelson 1984, Journal of Quality Technology 16(4), 237-239; also in ISO 8258:1991. ISO 7870-2 says to choose among
 * such patterns: each adds false alarms of its own (all from memory)
 */
export const RUN_RULES = [
  "beyond a control limit",
  "nine in a row on one side",
  "six in a row rising or falling",
  "fourteen in a row alternating",
  "two of three beyond two sigma",
  "four of five beyond one sigma",
  "fifteen in a row within one sigma",
  "eight in a row beyond one sigma on both sides",
] as const;

export type RunRule = (typeof RUN_RULES)[number];

/** The two that find most and cry wolf least. */
export const USUAL_RULES: readonly RunRule[] = ["beyond a control limit", "nine in a row on one side"];

/** A pattern found on a chart. */
export interface Signal {
  /** Point, from 1, at which it was complete. */
  readonly index: number;
  /** First point of the pattern. */
  readonly from: number;
  /** Last point up to which it went on; the index itself where it did not. */
  readonly to: number;
  readonly rule: string;
  /** Which chart of the study. */
  readonly chart: string;
  readonly sentence: string;
  /** On which side of its control limit the point lies, where that is the signal. */
  readonly beyond?: "above" | "below";
}

/** Points to be looked through. */
export interface RuledPoints {
  readonly name: string;
  readonly noun: string;
  readonly values: readonly number[];
  readonly first: number;
  readonly CL: Level;
  readonly UCL: Level;
  readonly LCL: Level;
  /** Standard deviation of a plotted point; above zero. */
  readonly sigma: Level;
}

/** A value on a limit is not beyond it, not even by the last bit of its arithmetic. */
const ON_THE_LINE = 1e-9;

/**
 * The signals of some rules, in the order of their points.
 * @example signalsOf({ ...chart, values: [0, 0, 3.2], CL: 0, UCL: 3, LCL: -3, sigma: 1 }, ["beyond a control limit"])[0].index // 3
 */
export function signalsOf(points: RuledPoints, rules: readonly RunRule[]): Signal[] {
  const { values, CL, sigma } = points;
  // Of a million values, too: Float64Array.from would take as long as all the rest.
  const z = new Float64Array(values.length);
  for (let i = 0; i < z.length; i++) z[i] = ((values[i] ?? 0) - levelAt(CL, i)) / levelAt(sigma, i);
  const found = rules.flatMap((rule) =>
    rule === "beyond a control limit" ? beyondLimits(points) : patterns(points, z, rule),
  );
  return found.sort((a, b) => a.index - b.index || a.from - b.from);
}

function beyondLimits(points: RuledPoints): Signal[] {
  const signals: Signal[] = [];
  for (let i = 0; i < points.values.length; i++) {
    const value = points.values[i] ?? 0;
    const side = sideBeyond(points, i, value);
    if (side === null) continue;
    const limit = levelAt(side === "above" ? points.UCL : points.LCL, i);
    const number = points.first + i;
    signals.push({
      index: number,
      from: number,
      to: number,
      rule: "beyond a control limit",
      chart: points.name,
      beyond: side,
      sentence: `${capital(points.noun)} ${number} of the ${points.name}, ${formatMeasured({ value, comparedWith: [limit] }).value}, is ${side} its control limit, ${formatMeasured({ value: limit, comparedWith: [value] }).value}.`,
    });
  }
  return signals;
}

function sideBeyond(
  { CL, UCL, LCL, sigma }: RuledPoints,
  i: number,
  value: number,
): "above" | "below" | null {
  const slack = ON_THE_LINE * levelAt(sigma, i) + 1e-14 * Math.abs(levelAt(CL, i));
  if (value > levelAt(UCL, i) + slack) return "above";
  return value < levelAt(LCL, i) - slack ? "below" : null;
}

function patterns(
  points: RuledPoints,
  z: Float64Array,
  rule: Exclude<RunRule, "beyond a control limit">,
): Signal[] {
  const { length, isComplete, say } = PATTERNS[rule];
  const { noun, name, first } = points;
  const signals: Signal[] = [];
  for (let i = length - 1; i < z.length; i++) {
    if (!isComplete(z, i, points.values)) continue;
    const start = i;
    while (i + 1 < z.length && isComplete(z, i + 1, points.values)) i++;
    const from = first + start - length + 1;
    const to = first + i;
    const where = `${capital(noun)}s ${from} to ${to} of the ${name}`;
    signals.push({
      index: first + start,
      from,
      to,
      rule,
      chart: name,
      sentence: `${where} ${say(z[start] ?? 0, slope(points.values, start))}.`,
    });
  }
  return signals;
}

interface Pattern {
  readonly length: number;
  /** Whether the last `length` points up to i are one. */
  isComplete(z: Float64Array, i: number, values: readonly number[]): boolean;
  say(z: number, slope: number): string;
}

const above = (z: number) => (z > 0 ? "above" : "below");

const PATTERNS: Readonly<Record<Exclude<RunRule, "beyond a control limit">, Pattern>> = {
  "nine in a row on one side": {
    length: 9,
    isComplete: (z, i) => all(z, i, 9, (at) => at > ON_THE_LINE) || all(z, i, 9, (at) => at < -ON_THE_LINE),
    say: (z) => `all lie ${above(z)} the centre line: the process has moved`,
  },
  "six in a row rising or falling": {
    length: 6,
    isComplete: (_, i, values) => {
      const step = Math.sign(slope(values, i));
      return step !== 0 && everyStep(i, 6, (k) => Math.sign(slope(values, k)) === step);
    },
    say: (_, step) => `${step > 0 ? "rise" : "fall"} all the way: something wears, warms or drifts`,
  },
  "fourteen in a row alternating": {
    length: 14,
    isComplete: (_, i, values) =>
      slope(values, i) !== 0 &&
      everyStep(i - 1, 13, (k) => Math.sign(slope(values, k)) === -Math.sign(slope(values, k + 1))),
    say: () => "go up and down in turns: two sources may take turns",
  },
  "two of three beyond two sigma": {
    length: 3,
    isComplete: (z, i) => countBeyond(z, i, 3, 2) >= 2,
    say: (z) => `lie mostly (two of each three) more than two sigma ${above(z)} the centre line`,
  },
  "four of five beyond one sigma": {
    length: 5,
    isComplete: (z, i) => countBeyond(z, i, 5, 1) >= 4,
    say: (z) => `lie mostly (four of each five) more than one sigma ${above(z)} the centre line`,
  },
  "fifteen in a row within one sigma": {
    length: 15,
    isComplete: (z, i) => all(z, i, 15, (at) => Math.abs(at) < 1),
    say: () =>
      "all lie within one sigma of the centre line: the limits are too wide, or unlike things were mixed in each point",
  },
  "eight in a row beyond one sigma on both sides": {
    length: 8,
    isComplete: (z, i) =>
      all(z, i, 8, (at) => Math.abs(at) > 1 + ON_THE_LINE) &&
      !all(z, i, 8, (at) => at > 0) &&
      !all(z, i, 8, (at) => at < 0),
    say: () => "all lie more than one sigma away on both sides: two populations may be mixed",
  },
};

function all(z: Float64Array, i: number, length: number, holds: (z: number) => boolean): boolean {
  for (let k = i; k > i - length; k--) if (!holds(z[k] ?? 0)) return false;
  return true;
}

/** How many of the last points lie as far out as the newest, on its side; none where the newest does not. */
function countBeyond(z: Float64Array, i: number, length: number, least: number): number {
  const side = Math.sign(z[i] ?? 0);
  const isOut = (at: number) => at * side > least + ON_THE_LINE;
  if (!isOut(z[i] ?? 0)) return 0;
  let count = 0;
  for (let k = i; k > i - length; k--) if (isOut(z[k] ?? 0)) count++;
  return count;
}

function everyStep(i: number, points: number, holds: (k: number) => boolean): boolean {
  for (let k = i; k > i - points + 1; k--) if (!holds(k)) return false;
  return true;
}

function slope(values: readonly number[], i: number): number {
  return (values[i] ?? 0) - (values[i - 1] ?? 0);
}

/**
 * Rules as a person names them: names or their unmistakable beginnings with commas between, or `all`, or `usual`.
 * @returns null and what is wrong where a name fits none or several
 * @example chosenRules("beyond, nine") // { rules: ["beyond a control limit", "nine in a row on one side"] }
 */
export function chosenRules(
  text: string,
): { readonly rules: readonly RunRule[] } | { readonly fault: string } {
  const rules = new Set<RunRule>();
  for (const part of text.split(",")) {
    const asked = part
      .trim()
      .toLowerCase()
      .replaceAll(/[\s-]+/g, " ");
    if (asked === "all") for (const rule of RUN_RULES) rules.add(rule);
    else if (asked === "usual") for (const rule of USUAL_RULES) rules.add(rule);
    else {
      const fitting = RUN_RULES.filter((rule) => asked !== "" && `${rule} `.startsWith(`${asked} `));
      const [one] = fitting;
      if (!one || fitting.length > 1) return { fault: part.trim() };
      rules.add(one);
    }
  }
  return { rules: RUN_RULES.filter((rule) => rules.has(rule)) };
}

function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
