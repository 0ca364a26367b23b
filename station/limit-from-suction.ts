import { normalQuantile } from "../limits/normal.ts";
import { LINE, PARABOLA } from "./measure/airflow/curve-form.ts";
import { plenumFlow_m3_s } from "./measure/airflow/flow-at-point.ts";
import {
  type Inlet,
  inletPassing,
  type LeakLaw,
  type LeakTest,
  leakLeaving,
  operatingPoint,
  type StatedFan,
} from "./measure/airflow/leak-cost.ts";
import { STANDARD_ROOM } from "./measure/airflow/standard-conditions.ts";
import { DecidedUnits, knownDecisions } from "./records/known-decisions.ts";
import { type TravellerQuery, travellersOf } from "./records/model-travellers.ts";
import type { Traveller } from "./records/traveller.ts";

/** A cleaner's fan and the inlet it works on. */
export interface Cleaner {
  /** Serial, or what it is called. */
  readonly name: string;
  readonly fan: StatedFan;
  readonly inlet: Inlet;
}

/** What must be left at the working point. */
export type Required =
  | { readonly kind: "suction"; readonly suction_Pa: number }
  | { readonly kind: "suction power"; readonly power_W: number };

const LAWS: readonly LeakLaw[] = ["laminar", "orifice"];
const UNIT_COEFFICIENT = 0.6;

/**
 * The leak at which a cleaner just keeps what is required: of the two laws a leak may follow, the smaller.
 * @returns leak rate at the house reference and the test's pressures, m3/s; null where it has not enough even when tight
 * @see `leakLeaving`; suction power is suction times inlet flow (as IEC 60312-1 and ASTM F558 define air power)
 */
export function leakKeeping(cleaner: Cleaner, required: Required, test: LeakTest): number | null {
  const suction_Pa =
    required.kind === "suction" ? required.suction_Pa : suctionGiving(cleaner.inlet, required.power_W);
  const leaks = LAWS.map((law) => leakLeaving(cleaner.fan, cleaner.inlet, suction_Pa, law, test));
  return leaks.reduce<number | null>(
    (least, leak) => (leak === null || least === null ? null : Math.min(least, leak)),
    Number.POSITIVE_INFINITY,
  );
}

/** What a cleaner has left at its working point with this leak, by the law that costs more: Pa, or W. */
export function keptWith(cleaner: Cleaner, required: Required, leak_m3_s: number, test: LeakTest): number {
  return Math.min(
    ...LAWS.map((law) => {
      const { suction_Pa, inlet_m3_s } = operatingPoint(cleaner.fan, cleaner.inlet, leak_m3_s, law, test);
      return required.kind === "suction" ? suction_Pa : suction_Pa * inlet_m3_s;
    }),
  );
}

/** Suction at which an inlet takes this suction power; both rise together. */
function suctionGiving(inlet: Inlet, power_W: number): number {
  let [low, high] = [0, STANDARD_ROOM.pressure_Pa];
  for (let halving = 0; halving < 100; halving++) {
    const middle = (low + high) / 2;
    if (middle * plenumFlow_m3_s(inlet, middle, STANDARD_ROOM) < power_W) low = middle;
    else high = middle;
  }
  return low;
}

/**
 * The same cleaner with a fan that this part of all fans exceed, where their suctions differ alike at every flow.
 * @param spread standard deviation as a part of the suction
 * @param share 0.5 to below 1
 * @returns null where so weak a fan has no suction at all
 * @example weakerThan(cleaner, 0.03, 0.95) // suctions times 0.9507: 1 - 1.645 x 0.03
 */
export function weakerThan(cleaner: Cleaner, spread: number, share: number): Cleaner | null {
  const part = 1 - normalQuantile(share) * spread;
  if (!(part > 0)) return null;
  const coefficients = cleaner.fan.coefficients.map((coefficient) => part * coefficient);
  return { ...cleaner, fan: { ...cleaner.fan, coefficients } };
}

export interface CleanersFound {
  readonly cleaners: readonly Cleaner[];
  /** Units that passed, and have no fan curve or no such point. */
  readonly without: number;
  /** Passed tests that a hold takes the trust from, and those for a planned study, whose units were chosen. */
  readonly leftOut: number;
  readonly simulated: number;
  readonly broken: readonly { readonly path: string; readonly problem: string }[];
}

/**
 * The fans of units that passed, as their airflow step found them.
 * @param point of the airflow step at which the cleaner works
 * @throws RecordError when the folder can't be read
 */
export async function cleanersOf(
  folder: string,
  query: TravellerQuery,
  point: string,
): Promise<CleanersFound> {
  const cleaners = new Map<string, Cleaner>();
  const broken: { path: string; problem: string }[] = [];
  let [without, leftOut, simulated] = [0, 0, 0];
  const decisions = await knownDecisions(folder);
  const decided = new DecidedUnits(decisions);
  for await (const found of travellersOf(folder, query)) {
    if (found.kind === "broken") {
      broken.push({ path: found.path, problem: found.problem });
      continue;
    }
    const { traveller, sha256 } = found;
    if (traveller.kind !== "unit" || traveller.verdict !== "pass") continue;
    decided.meet(traveller.serial);
    if (traveller.study || decisions.held.untrusted.has(sha256)) {
      leftOut++;
      continue;
    }
    const cleaner = cleanerOf(traveller, point);
    if (!cleaner) without++;
    else {
      cleaners.set(traveller.serial, cleaner);
      if (traveller.station.simulated) simulated++;
    }
  }
  await decided.requireFiles();
  return { cleaners: [...cleaners.values()], without, leftOut, simulated, broken };
}

function cleanerOf(traveller: Traveller, pointName: string): Cleaner | null {
  for (const { curve, points } of traveller.airflow ?? []) {
    const point = points.find((it) => it.point === pointName);
    if (!point || curve.kind === "none") continue;
    const open = curve.flow_at_zero_suction_m3_s;
    if (!("value" in open)) continue;
    const form = curve.kind === "line" ? LINE : PARABOLA;
    const fan = { form, coefficients: curve.coefficients, open_m3_s: open.value };
    const inlet = inletPassing(fan, point.flow_m3_s.value, UNIT_COEFFICIENT);
    if (inlet) return { name: traveller.serial, fan, inlet };
  }
  return null;
}
