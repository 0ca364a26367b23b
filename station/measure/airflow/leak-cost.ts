import { HOUSE_REFERENCE } from "../../../limits/quantity.ts";
import { massFlowOf, orificeMassFlux_kg_s_m2 } from "../gas/orifice-flow.ts";
import { type FormCurve, fitForm, LINE, PARABOLA, slopeAt, valueAt, zeroOf } from "./curve-form.ts";
import { plenumFlow_m3_s } from "./flow-at-point.ts";
import { STANDARD_ROOM } from "./standard-conditions.ts";

/** What a cleaner draws through. */
export interface Inlet {
  readonly bore_m: number;
  readonly coefficient: number;
}

/** How a leak's flow goes with pressure: as through fine pores, or as through a hole. */
export type LeakLaw = "laminar" | "orifice";

/** The pressures a leak rate is stated between: the body's, gauge, negative for suction, and the room's. */
export interface LeakTest {
  readonly pressure_Pa: number;
  readonly barometer_Pa: number;
}

/** Where the fan and what it draws through agree. */
export interface OperatingPoint {
  readonly suction_Pa: number;
  /** Through the inlet, at 1.20 kg/m3. */
  readonly inlet_m3_s: number;
  /** Through the leak beside it. */
  readonly leak_m3_s: number;
}

/** A fan curve that falls all the way from no flow to its open flow. */
export interface StatedFan extends FormCurve {
  readonly open_m3_s: number;
}

export interface FanPoints {
  readonly sealed_Pa: number;
  readonly open_m3_s: number;
  readonly middle: { readonly flow_m3_s: number; readonly suction_Pa: number } | null;
}

/**
 * The fan curve from its ends and, where there is one, a point between: a line, or a parabola.
 * @returns null where no curve that falls all the way goes through them, or the room has no such suction to give
 * @example fanThrough({ sealed_Pa: 22000, open_m3_s: 0.068, middle: null }) // coefficients 22000, -323529
 */
export function fanThrough({ sealed_Pa, open_m3_s, middle }: FanPoints): StatedFan | null {
  if (!(sealed_Pa > 0 && sealed_Pa < STANDARD_ROOM.pressure_Pa && open_m3_s > 0)) return null;
  const flows = middle ? [0, middle.flow_m3_s, open_m3_s] : [0, open_m3_s];
  const suctions = middle ? [sealed_Pa, middle.suction_Pa, 0] : [sealed_Pa, 0];
  const form = middle ? PARABOLA : LINE;
  const curve = fitForm(
    form,
    flows,
    suctions,
    flows.map(() => 1),
  );
  if (!curve || (middle && !(middle.flow_m3_s > 0 && middle.flow_m3_s < open_m3_s))) return null;
  // A fan that is flat when sealed is one still, by a hair.
  const flat = (1e-9 * sealed_Pa) / open_m3_s;
  return slopeAt(curve, 0) <= flat && slopeAt(curve, open_m3_s) < 0
    ? { form, coefficients: curve.coefficients, open_m3_s }
    : null;
}

/**
 * The inlet that passes this flow at the suction the fan then has.
 * @param coefficient what its bore is told for
 * @returns null where the fan moves less, even wide open
 * @example inletPassing(fan, 0.016, 0.6) // bore 14.555 mm, fan as in fanThrough
 */
export function inletPassing(fan: StatedFan, flow_m3_s: number, coefficient: number): Inlet | null {
  if (!(flow_m3_s > 0 && flow_m3_s < fan.open_m3_s)) return null;
  const suction_Pa = valueAt(fan, flow_m3_s);
  const perSquare = plenumFlow_m3_s({ bore_m: 1, coefficient }, suction_Pa, STANDARD_ROOM);
  return { bore_m: Math.sqrt(flow_m3_s / perSquare), coefficient };
}

/**
 * Where a cleaner works when a leak lets in air beside its inlet: the suction at which the fan moves what inlet and leak let
 * through together. Found by halving; more suction means more flow to move and less that the fan can.
 * @param leakRate_m3_s at the house reference, at the pressures of the test; 0 is the tight cleaner
 * @example operatingPoint(fan, { bore_m: 0.0165, coefficient: 0.62 }, 1e-6, "laminar",
 *   { pressure_Pa: -8000, barometer_Pa: 101325 }) // 15397.3 Pa, 20.406 L/s and 0.00185 L/s, fan as in fanThrough
 * @see balance of fan and system; sharp-edged inlet by ISO 5167-2 at b = 0
 */
export function operatingPoint(
  fan: StatedFan,
  inlet: Inlet,
  leakRate_m3_s: number,
  law: LeakLaw,
  test: LeakTest,
): OperatingPoint {
  const at = (suction_Pa: number): OperatingPoint => ({
    suction_Pa,
    inlet_m3_s: plenumFlow_m3_s(inlet, suction_Pa, STANDARD_ROOM),
    leak_m3_s: leakRate_m3_s * leakPerRate(law, suction_Pa, test),
  });
  let [low, high] = [0, valueAt(fan, 0)];
  for (;;) {
    const middle = (low + high) / 2;
    if (!(middle > low && middle < high)) return at(low);
    const { inlet_m3_s, leak_m3_s } = at(middle);
    if (fanSuction_Pa(fan, inlet_m3_s + leak_m3_s) > middle) low = middle;
    else high = middle;
  }
}

/**
 * The leak that leaves just this suction: what the fan moves at it beyond what the inlet lets through.
 * @returns leak rate at the house reference and the test's pressures, m3/s; null where the tight cleaner has not even this
 * suction, or only a sealed one
 * @example leakLeaving(fan, { bore_m: 0.0165, coefficient: 0.62 }, 15000, "laminar",
 *   { pressure_Pa: -8000, barometer_Pa: 101325 }) // 0.00081534, fan as in fanThrough
 */
export function leakLeaving(
  fan: StatedFan,
  inlet: Inlet,
  suction_Pa: number,
  law: LeakLaw,
  test: LeakTest,
): number | null {
  if (!(suction_Pa > 0 && suction_Pa < valueAt(fan, 0))) return null;
  const [sealed_Pa = Number.NaN, ...falling] = fan.coefficients;
  const lowered = { form: fan.form, coefficients: [sealed_Pa - suction_Pa, ...falling] };
  const moved_m3_s = zeroOf(lowered, fan.open_m3_s);
  const leak_m3_s = moved_m3_s - plenumFlow_m3_s(inlet, suction_Pa, STANDARD_ROOM);
  return leak_m3_s > 0 ? leak_m3_s / leakPerRate(law, suction_Pa, test) : null;
}

/**
 * A leak's flow at 1.20 kg/m3 and this suction, over its leak rate as tested: laminar flow goes as the difference of the
 * squares of the absolute pressures, an orifice's as the isentropic jet.
 * @see compressible Hagen-Poiseuille; Saint-Venant and Wantzel 1839
 */
function leakPerRate(law: LeakLaw, suction_Pa: number, { pressure_Pa, barometer_Pa }: LeakTest): number {
  const inside_Pa = barometer_Pa + pressure_Pa;
  const tested = driveOf(Math.max(inside_Pa, barometer_Pa), Math.min(inside_Pa, barometer_Pa));
  const room_Pa = STANDARD_ROOM.pressure_Pa;
  const working = driveOf(room_Pa, room_Pa - suction_Pa);
  const driven = law === "laminar" ? differenceOfSquares : orificeMassFlux_kg_s_m2;
  return (driven(working) / driven(tested)) * (massFlowOf(1) / STANDARD_ROOM.density_kg_m3);
}

function driveOf(upstream_Pa: number, downstream_Pa: number) {
  return { upstream_Pa, downstream_Pa, temperature_K: HOUSE_REFERENCE.temperature_K };
}

function differenceOfSquares({ upstream_Pa, downstream_Pa }: { upstream_Pa: number; downstream_Pa: number }) {
  return (upstream_Pa - downstream_Pa) * (upstream_Pa + downstream_Pa);
}

/** Beyond the open flow a parabola may turn up again; the fan never does. */
function fanSuction_Pa(fan: StatedFan, flow_m3_s: number): number {
  const { open_m3_s } = fan;
  if (flow_m3_s <= open_m3_s) return valueAt(fan, flow_m3_s);
  return slopeAt(fan, open_m3_s) * (flow_m3_s - open_m3_s);
}
