import { chiSquaredTail } from "../fit/chi-squared.ts";
import { at } from "../fit/column-algebra.ts";
import { type Measured, propagate, sensitivitiesOf } from "../fit/propagation.ts";
import { rectangular } from "../fit/uncertainty.ts";
import type { AirflowModel } from "./airflow-model.ts";
import {
  type CurveForm,
  type FormCurve,
  fitForm,
  LINE,
  largestProductAt,
  NEIGHBOURS,
  PARABOLA,
  slopeAt,
  valueAt,
  zeroOf,
} from "./curve-form.ts";

/** What can't be told, and why, in a sentence. */
export interface Undetermined {
  readonly kind: "none";
  readonly why: string;
  /** What was read contradicts itself, and is not merely too little. */
  readonly isContradiction?: true;
}

/** A figure read off the curve. */
export interface CurveFigure extends Measured {
  /** Outside the flows that were tested. */
  readonly isExtrapolated: boolean;
}

/** The curve beside a tested point. */
export interface TestedPoint {
  readonly point: string;
  readonly flow_m3_s: number;
  /** Of the curve at this flow, with its standard uncertainty there. */
  readonly suction_Pa: number;
  readonly suctionUncertainty_Pa: number;
  /** The point's suction less the curve's. */
  readonly residual_Pa: number;
  /** Residual over the standard deviation expected of it, and the chance of a larger one; null where the curve goes through by force. */
  readonly normalised: { readonly residual: number; readonly probability: number } | null;
}

/** Suction over flow at the conditions that results are stated at. */
export interface FanCurve {
  readonly kind: "line" | "parabola";
  /** Of flow's powers 0, 1 (and 2), SI. */
  readonly coefficients: readonly number[];
  readonly suctionAtZeroFlow: CurveFigure | Undetermined;
  readonly flowAtZeroSuction: CurveFigure | Undetermined;
  readonly largestSuctionPower: (CurveFigure & { readonly flow_m3_s: number }) | Undetermined;
  readonly tested: readonly TestedPoint[];
  /** Chance of residuals as large as these, were the curve and the uncertainties right; null without points to spare. */
  readonly fits: number | null;
}

/** Flows nearer to each other than this part of the largest are one place on the curve. */
const SAME_PLACE = 0.02;

/**
 * The fan curve through the points, suction falling with flow: a line through two places; a parabola through three, or by
 * least squares near more, where each point's weight counts suction and flow both (effective variance). A straight fan, a
 * bent one, and one behind a filter whose loss goes as flow squared, are all parabolas.
 *
 * What the points can't tell is the curve's shape between and beyond them. It has a part in every budget: how far a curve of
 * another form through the same points (c0 + c1 q + c3 q^3 for the parabola; c0 + c q^1.5 and c0 + c q^2 for the line) would
 * have another figure, as half the width of a rectangle. Suction at no flow that no closed inlet was tested for is also
 * compared with a line through the two places next to it. That is small inside the tested range and grows fast beyond. Not in it:
 * a fan that surges, and one whose motor changes its ways beyond the tested range.
 *
 * Points to spare that scatter more than their uncertainties explain make every figure as much less certain (Birge's ratio).
 * @returns the curve, or why none goes through the points
 * @example // 22 kPa at no flow, 5.824 kPa at 50 L/s: a line, 68 L/s at no suction, 374 W at 34 L/s
 * @see effective variance: Orear, American Journal of Physics 50 (1982) 912 (from memory); Birge, Physical Review 40
 * (1932) 207 (from memory); JCGM 100:2008, 4.3.7 for the shape
 */
export function fanCurve(names: readonly string[], model: AirflowModel): FanCurve | Undetermined {
  const estimates = model.inputs.map(({ estimate }) => estimate);
  const base = placesAt(model, estimates);
  const shape = shapeOf(names, base);
  if (shape.kind === "none") return shape;
  const { form, near_m3_s } = shape;
  const equal = base.flows.map(() => 1);
  const first = fitForm(form, base.flows, base.suctions, equal);
  // Through as many points as it has coefficients a curve goes whatever they weigh.
  const deviations = first && names.length > form.length ? residualDeviations(model, first) : [];
  const spare = deviations.length > 0 && deviations.every((deviation) => deviation > 0);
  const weights = spare ? deviations.map((deviation) => 1 / deviation) : equal;
  const fit = fitForm(form, base.flows, base.suctions, weights);
  if (!fit) return none("The points are too close together: they make no curve.");
  const largest_m3_s = Math.max(...base.flows);
  const least_m3_s = Math.min(...base.flows);
  const zero_m3_s = zeroOf(fit, largest_m3_s);
  if (!(zero_m3_s > 0)) {
    return none(
      "The curve through the points turns up before it comes down to no suction: it is no fan curve.",
    );
  }

  const hasClosed = least_m3_s <= SAME_PLACE * largest_m3_s;
  const nearOnly = weights.map((weight, i) => (at(base.flows, i) <= near_m3_s ? weight : 0));
  // Points that lie further off than their uncertainties explain are known less well than they say.
  const chiSquared = spare ? chiSquaredOf(fit, base, deviations) : 0;
  const excess = Math.max(0, chiSquared / (names.length - form.length) - 1);
  const misfits = spare
    ? names.map((point, i) => ({
        component: `${point} off the curve`,
        estimate: 0,
        uncertainty: at(deviations, i) * Math.sqrt(excess),
        unit: "Pa",
      }))
    : [];
  // Its estimate 0 is the form itself, +-1 as far off as a neighbouring form is.
  const shapeInput = { component: "shape of the curve", estimate: 0, uncertainty: rectangular(1), unit: "1" };
  const inputs = [...model.inputs, ...misfits, shapeInput];
  const [zeroFlow, zeroSuction, power, ...tested] = propagate(inputs, (x) => {
    const { flows, suctions: measured } = placesAt(model, x);
    const suctions = misfits.length
      ? measured.map((suction_Pa, i) => suction_Pa + at(x, model.inputs.length + i))
      : measured;
    const figuresBy = (of: CurveForm) =>
      figures(fitForm(of, flows, suctions, weights), largest_m3_s, base.flows);
    const itself = figuresBy(form);
    const towards = at(x, inputs.length - 1);
    if (towards === 0) return itself;
    const others = (NEIGHBOURS.get(form) ?? []).map(figuresBy);
    if (form === PARABOLA && !hasClosed) {
      const line = fitForm(LINE, flows, suctions, nearOnly);
      others.push([line ? valueAt(line, 0) : Number.NaN, ...itself.slice(1)]);
    }
    return itself.map((value, k) => {
      const reach = Math.max(...others.map((other) => Math.abs(at(other, k) - value)));
      return value + towards * reach;
    });
  });
  const bestFlow_m3_s = largestProductAt(fit, zero_m3_s);
  const reaches = (flow_m3_s: number) => flow_m3_s >= least_m3_s && flow_m3_s <= largest_m3_s;
  const best = figure(power, !reaches(bestFlow_m3_s));
  const normalised = spare ? normalisedResiduals(fit, base, deviations) : null;
  return {
    kind: shape.kind,
    coefficients: fit.coefficients,
    suctionAtZeroFlow: figure(zeroFlow, !hasClosed),
    flowAtZeroSuction: figure(zeroSuction, !reaches(zero_m3_s)),
    largestSuctionPower: "why" in best ? best : { ...best, flow_m3_s: bestFlow_m3_s },
    tested: names.map((point, i) => ({
      point,
      flow_m3_s: at(base.flows, i),
      suction_Pa: tested[i]?.value ?? Number.NaN,
      suctionUncertainty_Pa: tested[i]?.uncertainty ?? Number.NaN,
      residual_Pa: at(base.suctions, i) - (tested[i]?.value ?? Number.NaN),
      normalised: normalised?.[i] ?? null,
    })),
    fits: spare ? chiSquaredTail(chiSquared, names.length - form.length) : null,
  };
}

interface Places {
  readonly flows: readonly number[];
  readonly suctions: readonly number[];
}

function placesAt(model: AirflowModel, estimates: readonly number[]): Places {
  const { points } = model.stateAt(estimates);
  return {
    flows: points.map(({ stated }) => stated.flow_m3_s),
    suctions: points.map(({ stated }) => stated.suction_Pa),
  };
}

interface Shape {
  readonly kind: "line" | "parabola";
  readonly form: CurveForm;
  /** Flow of the second place from no flow. */
  readonly near_m3_s: number;
}

/** The form that the points decide; none where they are too few, or suction does not fall with flow. */
function shapeOf(names: readonly string[], { flows, suctions }: Places): Shape | Undetermined {
  if (names.length < 2) return none("One point makes no curve.");
  const order = names.map((_, i) => i).sort((a, b) => at(flows, a) - at(flows, b));
  const apart_m3_s = SAME_PLACE * Math.max(...flows.map(Math.abs));
  let places = 1;
  let near_m3_s = Number.NEGATIVE_INFINITY;
  for (const [k, i] of order.entries()) {
    const before = order[k - 1];
    if (before !== undefined && at(flows, i) - at(flows, before) > apart_m3_s) {
      places += 1;
      if (!(at(suctions, i) < at(suctions, before))) {
        return {
          ...none(
            `More air flows at ${names[i]} than at ${names[before]}, but the suction is not lower: no fan curve goes through them.`,
          ),
          isContradiction: true,
        };
      }
    }
    if (places <= 2) near_m3_s = at(flows, i);
  }
  if (places < 2) return none("The points have the same flow: they make no curve.");
  return places === 2
    ? { kind: "line", form: LINE, near_m3_s }
    : { kind: "parabola", form: PARABOLA, near_m3_s };
}

/** Suction at no flow, flow at no suction, largest suction power, and suction at each of these flows. */
function figures(curve: FormCurve | null, from_m3_s: number, flows: readonly number[]): number[] {
  if (!curve) return [Number.NaN, Number.NaN, Number.NaN, ...flows.map(() => Number.NaN)];
  const zero = zeroOf(curve, from_m3_s);
  const best = largestProductAt(curve, zero);
  return [
    valueAt(curve, 0),
    zero,
    best * valueAt(curve, best),
    ...flows.map((flow_m3_s) => valueAt(curve, flow_m3_s)),
  ];
}

function figure(measured: Measured | undefined, isExtrapolated: boolean): CurveFigure | Undetermined {
  if (measured && Number.isFinite(measured.value) && Number.isFinite(measured.uncertainty)) {
    return { ...measured, isExtrapolated };
  }
  return none("The points lie too far from it to tell.");
}

/** By point: standard deviation of its residual from what belongs to it alone, suction and flow together. */
function residualDeviations(model: AirflowModel, curve: FormCurve): number[] {
  const { values, slopes } = sensitivitiesOf(model.inputs, (x) => {
    const { flows, suctions } = placesAt(model, x);
    return [...flows, ...suctions];
  });
  const count = values.length / 2;
  return Array.from({ length: count }, (_, i) => {
    const perFlow = slopeAt(curve, at(values, i));
    let variance = 0;
    for (const [k, { uncertainty }] of model.inputs.entries()) {
      if (model.owners[k] !== i) continue;
      const slope = at(slopes[count + i] ?? [], k) - perFlow * at(slopes[i] ?? [], k);
      variance += (slope * uncertainty) ** 2;
    }
    return Math.sqrt(variance);
  });
}

type Fit = FormCurve & { readonly leverages: readonly number[] };

function residualOf(fit: Fit, { flows, suctions }: Places, i: number): number {
  return at(suctions, i) - valueAt(fit, at(flows, i));
}

function normalisedResiduals(fit: Fit, places: Places, deviations: readonly number[]) {
  return deviations.map((deviation, i) => {
    const left = 1 - at(fit.leverages, i);
    // A point that alone decides the curve there has no residual to judge.
    if (!(left > 1e-9)) return null;
    const residual = residualOf(fit, places, i) / (deviation * Math.sqrt(left));
    return { residual, probability: chiSquaredTail(residual ** 2, 1) };
  });
}

function chiSquaredOf(fit: Fit, places: Places, deviations: readonly number[]): number {
  return deviations.reduce((sum, d, i) => sum + (residualOf(fit, places, i) / d) ** 2, 0);
}

function none(why: string): Undetermined {
  return { kind: "none", why };
}
