import { exactInterval } from "../../station/quality/exact-interval.ts";
import { aside, atMost, type Figure, median, quantile } from "./figure.ts";
import { type LineResult, METHODS, type MethodName, NEARER, type Tally, UNITS_AT } from "./leak-step-line.ts";
import { total_s } from "./leak-step-timing.ts";

const FIXED = ["fixed timer", "fixed timer less mean curve"] as const satisfies readonly MethodName[];
const EARLY = "early verdict" satisfies MethodName;
/** A third of the fixed timer's time; wrong verdicts in a hundred, upper end of the interval. */
const REACH = { time: 1 / 3, wrong_percent: 0.1 };
const FALSE_ACCEPTS_FROM = 1.25;
const FALSE_REJECTS_TO = 0.6;

/** What the results of all lines come to: what is to be reached first, then the table by true leak, then the lines. */
export function leakFigures(results: readonly LineResult[]): Figure[] {
  const falseAccepts = (tally: Tally) => tally.ratio !== null && tally.ratio >= FALSE_ACCEPTS_FROM;
  const falseRejects = (tally: Tally) => tally.ratio === null || tally.ratio <= FALSE_REJECTS_TO;
  const models = [...new Set(results.map(({ model }) => model))];
  return [
    timeFigure("both models", results),
    ...models.map((model) =>
      timeFigure(
        model,
        results.filter((result) => result.model === model),
      ),
    ),
    asSureFigure(results),
    ...wrongFigures(
      results,
      `false accepts, ${FALSE_ACCEPTS_FROM} x limit and more`,
      falseAccepts,
      "accepted",
    ),
    ...wrongFigures(results, `false rejects, ${FALSE_REJECTS_TO} x limit and less`, falseRejects, "rejected"),
    ...UNITS_AT.flatMap(([ratio]) => METHODS.map((method) => rowFigure(results, method, ratio))),
    ...METHODS.map((method) => rowFigure(results, method, null)),
    ...results.map(lineFigure),
  ];
}

/** Each unit's time over that of the better fixed timer of its line: medians of different lines don't mix. */
function timeFigure(of: string, results: readonly LineResult[]): Figure {
  const lines = results.map((result) => {
    const [best_s] = sooner(result);
    return { best_s, times_s: timesAsMade(result, EARLY) };
  });
  return atMost(REACH.time, {
    figure: `median time of good units as made, ${of}`,
    value: median(lines.flatMap(({ times_s }) => times_s)),
    unit: "s",
    against: `the better fixed timer, ${lines.map(({ best_s }) => best_s).join(", ")} s`,
    ratio: median(lines.flatMap(({ best_s, times_s }) => times_s.map((time_s) => time_s / best_s))),
  });
}

/** The same against a fixed timer that also rejects no more units closer to the limit than the early verdict does. */
function asSureFigure(results: readonly LineResult[]): Figure {
  const ratios = results.flatMap((result) =>
    timesAsMade(result, EARLY).map((time_s) => time_s / result.asSureNearer_s),
  );
  return aside({
    figure: `the same, both models, against one with few false rejects at ${NEARER.ratio} x limit`,
    value: median(results.flatMap((result) => timesAsMade(result, EARLY))),
    unit: "s",
    against: `fixed timer less mean curve, ${results.map(({ asSureNearer_s }) => asSureNearer_s).join(", ")} s`,
    ratio: median(ratios),
  });
}

function sooner(result: LineResult): readonly [number, MethodName] {
  const [one, other] = FIXED.map((method) => [total_s(result.timings[method]), method] as const);
  if (!one || !other) throw new RangeError("There are two fixed timers.");
  return one[0] <= other[0] ? one : other;
}

/** The upper end of what the wrong verdicts seen allow, against what is to be reached and against the fixed timers'. */
function wrongFigures(
  results: readonly LineResult[],
  figure: string,
  counts: (tally: Tally) => boolean,
  wrong: "accepted" | "rejected",
): Figure[] {
  const seen = (method: MethodName) => {
    const tallies = results
      .flatMap((result) => result.tallies)
      .filter((it) => it.method === method && counts(it));
    return { wrong: sum(tallies.map((tally) => tally[wrong])), units: sum(tallies.map(unitsOf)) };
  };
  const early = seen(EARLY);
  const upper_percent = 100 * exactInterval(early.wrong, early.units).upper;
  const fewest = Math.min(...FIXED.map((method) => seen(method).wrong));
  return [
    atMost(REACH.wrong_percent, {
      figure: `${figure}: upper end of 95 % interval`,
      value: upper_percent,
      unit: "%",
      against: `${early.wrong} of ${early.units} units`,
      ratio: upper_percent,
    }),
    {
      figure: `${figure}: not above fixed timers'`,
      value: early.wrong,
      unit: "units",
      against: `${FIXED.map((method) => `${method} ${seen(method).wrong}`).join(", ")}`,
      ratio: null,
      reach: null,
      met: early.wrong <= fewest,
    },
  ];
}

function rowFigure(results: readonly LineResult[], method: MethodName, ratio: number | null): Figure {
  const tallies = results
    .flatMap((it) => it.tallies)
    .filter((it) => it.method === method && it.ratio === ratio);
  const units = sum(tallies.map(unitsOf));
  const how = ratio !== null && ratio > 1 ? "accepted" : "rejected";
  const wrong = sum(tallies.map((tally) => tally[how]));
  const voids = sum(tallies.map((tally) => tally.void));
  const { lower, upper } = exactInterval(wrong, units);
  const times_s = tallies.flatMap((tally) => tally.times_s);
  const where = ratio === null ? "as made" : `${ratio} x limit`;
  return aside({
    figure: `${where}, ${method}: ${how}`,
    value: (100 * wrong) / units,
    unit: "%",
    against: [
      `${wrong} of ${units}, ${percent(lower)} to ${percent(upper)} %`,
      `void ${voids}`,
      `median ${median(times_s).toFixed(1)} s, 95 % ${quantile(times_s, 0.95).toFixed(1)} s`,
    ].join("; "),
  });
}

function lineFigure(result: LineResult): Figure {
  const [best_s, best] = sooner(result);
  const { settle_s, measure_s } = result.timings[best];
  const good = result.tallies.filter(
    ({ method, ratio }) => method === EARLY && (ratio === null || ratio <= FALSE_REJECTS_TO),
  );
  const voids = sum(good.map((tally) => tally.void)) / sum(good.map(unitsOf));
  const early_s = median(timesAsMade(result, EARLY));
  return aside({
    figure: `${result.line}, ${result.model}: median time as made`,
    value: early_s,
    unit: "s",
    against: `${best}, ${settle_s} + ${measure_s} s; void ${percent(voids)} % of good units`,
    ratio: early_s / best_s,
  });
}

function timesAsMade({ tallies }: LineResult, of: MethodName): readonly number[] {
  return tallies
    .filter(({ method, ratio }) => method === of && ratio === null)
    .flatMap(({ times_s }) => times_s);
}

function unitsOf(tally: Tally): number {
  return tally.accepted + tally.rejected + tally.void;
}

function sum(values: readonly number[]): number {
  return values.reduce((total, value) => total + value, 0);
}

function percent(part: number): string {
  return String(Number((100 * part).toPrecision(2)));
}
