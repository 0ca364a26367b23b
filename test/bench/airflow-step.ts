import {
  byWatching,
  type Dwell,
  errorQuantiles,
  type PointErrors,
  shortestDwell,
  type Tested,
  total_s,
  watchUnit,
} from "./airflow-step-dwell.ts";
import {
  AIRFLOW_LINES,
  AIRFLOW_MODELS,
  type AirflowLine,
  type AirflowModel,
  airflowLine,
} from "./airflow-step-lines.ts";
import { aside, atMost, type Bench, type Figure, median, quantile } from "./figure.ts";

/** Units that the fixed times are chosen on, and others that both are tested on. */
const TRAINING_UNITS = 80;
const TESTED_UNITS = 80;
/** The error that all but one in a hundred units stay within. */
const WORST = 0.99;
/** A limit file's known_within is an expanded uncertainty, two standard ones, for 95 % of units. */
const EXPANDED = { times: 2, part: 0.95 };
/** Where units differ, no slower than fixed times chosen by somebody who knows all true values. */
const REACH = 1;

/**
 * The demo's airflow step at its three points, from motor on to the last point's end, on simulated cleaners with the demo's
 * gauges, by two methods: watched until steady and known, as the limit files have it, and by fixed times. On three lines,
 * for both models: units alike (as the demo makes them), units that differ (run-up and noise), and mains that beat with the
 * gauges' rate.
 *
 * The fixed times are the competitor at its best: for each line, model and point, of all settling times in steps of one
 * reading and seven averaging times, the shortest sum for which all but one in a hundred training units have every mean
 * (suction, flow, input power) no further from its true value than the watched step's on the same units, or than one standard
 * uncertainty as wanted where that is more. Nobody who does not know true values could set them so well. Besides, the shortest that merely meet the limit file: 95 % of units within its
 * expanded uncertainty.
 *
 * Errors are of means at the supply voltage, as they are judged, before any gauge error: scatter, lag and what was still to
 * come, over one standard uncertainty as wanted (half of known_within, or the constant part of the gauge's certificate).
 */
export const airflowStep: Bench = async () =>
  AIRFLOW_LINES.flatMap((line) => AIRFLOW_MODELS.flatMap((model) => figuresOf(line, model)));

function figuresOf(line: AirflowLine, model: AirflowModel): Figure[] {
  const { step, unitAt } = airflowLine(line, model);
  const indices = (from: number, count: number) => Array.from({ length: count }, (_, k) => unitAt(from + k));
  const training = indices(0, TRAINING_UNITS);
  const watched = training.map((trial) => watchUnit(trial, step));
  const ours = training.map((trial) => byWatching(trial, step));
  const equal = step.points.map((_, k) => shortestDwell(watched, k, WORST, asGoodAs(worstAt(ours, k))));
  const wanted: PointErrors = { suction: EXPANDED.times, flow: EXPANDED.times, power: EXPANDED.times };
  const enough = step.points.map((_, k) => shortestDwell(watched, k, EXPANDED.part, wanted));

  const tested = indices(TRAINING_UNITS, TESTED_UNITS).map((trial) => ({
    watching: byWatching(trial, step),
    fixed: watchUnit(trial, step),
  }));
  const times_s = tested.map(({ watching }) => watching.time_s);
  const fixed_s = sum_s(equal);
  const name = `${line.name}, ${model}`;
  const worst = step.points.map((_, k) =>
    largest(
      worstAt(
        tested.map(({ watching }) => watching),
        k,
      ),
    ),
  );
  const worstFixed = step.points.map((_, k) =>
    largest(
      errorQuantiles(
        tested.map(({ fixed }) => fixed.errorsAt(k, equal[k] as Dwell)),
        WORST,
      ),
    ),
  );
  const voids = tested.filter(({ watching }) => watching.errors === null).length;
  const compared = {
    figure: `median time of the step, ${name}`,
    value: median(times_s),
    unit: "s",
    against: `fixed times as good for every mean, ${fixed_s.toFixed(2)} s (${equal.map(inWords).join(", ")})`,
    ratio: median(times_s) / fixed_s,
  };
  return [
    line.runUp ? atMost(REACH, compared) : aside(compared),
    aside({
      figure: `all but one in twenty, ${name}`,
      value: quantile(times_s, 0.95),
      unit: "s",
      against: `the same, ${fixed_s.toFixed(2)} s`,
      ratio: quantile(times_s, 0.95) / fixed_s,
    }),
    aside({
      figure: `median time of the step, ${name}`,
      value: median(times_s),
      unit: "s",
      against: `fixed times that just meet the limit file, ${sum_s(enough).toFixed(2)} s`,
      ratio: median(times_s) / sum_s(enough),
    }),
    aside({
      figure: `largest error of any mean, 99 of 100 units, ${name}`,
      value: Math.max(...worst),
      unit: "of the standard uncertainty wanted",
      against: `fixed times as good, ${Math.max(...worstFixed).toFixed(2)}`,
      ratio: Math.max(...worst) / Math.max(...worstFixed),
    }),
    aside({
      figure: `without a valid measurement, ${name}`,
      value: voids,
      unit: `of ${TESTED_UNITS}`,
      against: "",
    }),
  ];
}

/** No mean need be better than one standard uncertainty as wanted: where the watched step is, it is by the way. */
function asGoodAs({ suction, flow, power }: PointErrors): PointErrors {
  return { suction: Math.max(1, suction), flow: Math.max(1, flow), power: Math.max(1, power) };
}

/** Errors that all but one in a hundred of the measured units stay within at a point. */
function worstAt(tested: readonly Tested[], point: number): PointErrors {
  return errorQuantiles(
    tested.flatMap(({ errors }) => errors?.[point] ?? []),
    WORST,
  );
}

function largest({ suction, flow, power }: PointErrors): number {
  return Math.max(suction, flow, power);
}

function sum_s(dwells: readonly Dwell[]): number {
  return dwells.reduce((sum, dwell) => sum + total_s(dwell), 0);
}

function inWords({ settle_s, average_s }: Dwell): string {
  return `${settle_s.toFixed(2)} + ${average_s}`;
}
