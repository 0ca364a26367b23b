import { type FanDesign, type FanOperation, fanPower_W, fanSuction_Pa, MotorRun, motorSpeed } from "./fan.ts";
import {
  airDensity_kg_m3,
  GAS_CONSTANT_J_kgK,
  REFERENCE_TEMPERATURE_K,
  STANDARD_DENSITY_kg_m3,
  sharpEdgeMassFlow,
  virtualTemperature_K,
} from "./gas.ts";
import { type AirState, type LeakPath, pathsMassFlow } from "./leak-path.ts";
import { NOMINAL_MAINS_V, type Room } from "./room.ts";

/** A body as a suction cleaner. */
export interface Cleaner {
  readonly fan: FanDesign;
  /** Speed of this motor against a good one; 0 is a motor that does not turn and takes no power. */
  readonly speedFactor: number;
  /** Input power of this motor against a good one at the same speed. */
  readonly powerFactor: number;
  /** How many times slower than a good motor this one comes up to speed. */
  readonly runUpFactor: number;
  /** Lost in shorted turns while the motor is on, W at nominal mains: as voltage squared, whatever the speed. */
  readonly shortedLoss_W: number;
  /** Pressure lost in the inlet and in the filter, Pa per (m3/s) squared at 1.20 kg/m3. */
  readonly inletResistance: number;
  readonly filterResistance: number;
  /** Into the body, between its inlet and its filter. */
  readonly leakPaths: readonly LeakPath[];
  /**
   * Of a reference cleaner: effective area of the measuring orifice that comes with it and stands in front of the plenum's own,
   * both in the way of the same air.
   */
  readonly ownOrifice_m2?: number;
}

/** Air and mains at one moment. */
export interface Conditions {
  readonly pressure_Pa: number;
  readonly temperature_K: number;
  /** 0 to 1. */
  readonly relativeHumidity: number;
  readonly mains_V: number;
}

/** Dry air of 1.20 kg/m3 at 20 degC, and nominal mains. */
export const STANDARD_CONDITIONS: Conditions = {
  pressure_Pa: STANDARD_DENSITY_kg_m3 * GAS_CONSTANT_J_kgK * REFERENCE_TEMPERATURE_K,
  temperature_K: REFERENCE_TEMPERATURE_K,
  relativeHumidity: 0,
  mains_V: NOMINAL_MAINS_V,
};

export interface AirflowState {
  /** Below ambient, in the measuring plenum between orifice and cleaner. */
  readonly suction_Pa: number;
  /** Through the orifice, at ambient density. */
  readonly flow_m3_s: number;
  readonly power_W: number;
}

const STILL: AirflowState = { suction_Pa: 0, flow_m3_s: 0, power_W: 0 };
/** Small extra power while the motor is still slow, in parts of its rated power. */
const INRUSH = 1.8;
const SHUTTER_TAU_s = 0.08;
/** What a cleaner draws through whose hose to the plenum is off: the open end of a usual hose, 32 mm across (common practice, no source). */
const HOSE_END_m2 = (Math.PI * 0.032 ** 2) / 4;

/**
 * Where the fan's curve meets what it draws through: the measuring orifice, the body's inlet, its leaks
 * beside that, and its filter.
 * @param orificeArea_m2 discharge coefficient times area; 0 is a closed inlet
 * @param run part of full speed the motor has reached, 0 to 1
 */
export function airflowAt(
  cleaner: Cleaner,
  orificeArea_m2: number,
  conditions: Conditions,
  run = 1,
): AirflowState {
  const { pressure_Pa, mains_V } = conditions;
  const temperature_K = virtualTemperature_K(
    conditions.temperature_K,
    pressure_Pa,
    conditions.relativeHumidity,
  );
  const density_kg_m3 = airDensity_kg_m3(pressure_Pa, temperature_K);
  const speed = cleaner.speedFactor * motorSpeed(mains_V, density_kg_m3) * run;
  if (speed <= 0) return STILL;
  const operation: FanOperation = { speed, density_kg_m3 };
  const outside = { pressure_Pa, temperature_K };
  const thickness = density_kg_m3 / STANDARD_DENSITY_kg_m3;

  const flows = (suction_Pa: number) => {
    const openings = { own_m2: cleaner.ownOrifice_m2, plenum_m2: orificeArea_m2 };
    const mass = inletMassFlow(openings, outside, pressure_Pa - suction_Pa);
    const inlet_m3_s = mass / density_kg_m3;
    const inBody_Pa = suction_Pa + cleaner.inletResistance * thickness * inlet_m3_s * inlet_m3_s;
    const inside = { pressure_Pa: pressure_Pa - inBody_Pa, temperature_K };
    const leak_m3_s = -pathsMassFlow(cleaner.leakPaths, inside, outside) / density_kg_m3;
    const total_m3_s = inlet_m3_s + leak_m3_s;
    const atFan_Pa = inBody_Pa + cleaner.filterResistance * thickness * total_m3_s * total_m3_s;
    return { inlet_m3_s, atFan_Pa, total_m3_s };
  };
  const surplus_Pa = (suction_Pa: number) => {
    const { atFan_Pa, total_m3_s } = flows(suction_Pa);
    return fanSuction_Pa(cleaner.fan, total_m3_s, operation) - atFan_Pa;
  };
  // More suction at the orifice means more flow and more to overcome: the surplus falls from first to last.
  const suction_Pa = fallingRoot(surplus_Pa, 0, fanSuction_Pa(cleaner.fan, 0, operation));
  const { inlet_m3_s, total_m3_s } = flows(suction_Pa);
  return {
    suction_Pa,
    flow_m3_s: inlet_m3_s,
    power_W:
      cleaner.powerFactor * fanPower_W(cleaner.fan, total_m3_s, operation) +
      cleaner.shortedLoss_W * (mains_V / NOMINAL_MAINS_V) ** 2,
  };
}

/**
 * What comes in from the room, kg/s: through the plenum's orifice, or through two of them one after the other.
 * @param openings effective areas (coefficient times area); `own_m2` of the orifice in front, where there is one
 */
export function inletMassFlow(
  { own_m2, plenum_m2 }: { readonly own_m2?: number | undefined; readonly plenum_m2: number },
  { pressure_Pa, temperature_K }: AirState,
  inPlenum_Pa: number,
): number {
  if (own_m2 === undefined) return sharpEdgeMassFlow(plenum_m2, pressure_Pa, inPlenum_Pa, temperature_K);
  const through = (between_Pa: number) => ({
    first: sharpEdgeMassFlow(own_m2, pressure_Pa, between_Pa, temperature_K),
    second: sharpEdgeMassFlow(plenum_m2, between_Pa, inPlenum_Pa, temperature_K),
  });
  // The nearer the space between is to the room, the less comes in and the more goes on.
  const between_Pa = fallingRoot(
    (pressure) => {
      const { first, second } = through(pressure);
      return first - second;
    },
    inPlenum_Pa,
    pressure_Pa,
    1e-12,
  );
  return through(between_Pa).first;
}

/** Air and mains of a room at this time. */
function conditionsIn(room: Room, t_s: number): Conditions {
  return {
    pressure_Pa: room.pressure_Pa(t_s),
    temperature_K: room.temperature_K(t_s),
    relativeHumidity: room.relativeHumidity(t_s),
    mains_V: room.mains_V(t_s),
  };
}

/** One cleaner on the measuring plenum, with a motor that runs up and coasts and shutters that take time to move. */
export class AirflowPlant {
  readonly #room: Room;
  #motor = new MotorRun();
  #cleaner: Cleaner | null = null;
  #area_m2 = 0;
  #areaThen_m2 = 0;
  #areaSince_s = 0;
  #isHoseOff = false;

  constructor(room: Room) {
    this.#room = room;
  }

  get isMotorOn(): boolean {
    return this.#motor.isOn;
  }

  /** Another cleaner, its motor standing. */
  mount(cleaner: Cleaner | null): void {
    this.#motor = new MotorRun(cleaner?.runUpFactor);
    this.#cleaner = cleaner;
  }

  setMotor(t_s: number, on: boolean): void {
    this.#motor.switch(t_s, on);
  }

  /** @param area_m2 effective area (coefficient times area) of all shutters standing open together */
  setOrifice(t_s: number, area_m2: number): void {
    if (area_m2 === this.#area_m2) return;
    this.#areaThen_m2 = this.#areaAt(t_s);
    this.#areaSince_s = t_s;
    this.#area_m2 = area_m2;
  }

  /** Off, the cleaner draws room air past the plenum, where then nothing moves. */
  setHoseOff(off: boolean): void {
    this.#isHoseOff = off;
  }

  /** Part of full speed, for knowing when the fan stands. */
  speedAt(t_s: number): number {
    return this.#cleaner && this.#cleaner.speedFactor > 0 ? this.#motor.speedAt(t_s) : 0;
  }

  stateAt(t_s: number): AirflowState {
    const cleaner = this.#cleaner;
    const run = this.speedAt(t_s);
    const isOn = this.#motor.isOn;
    if (!cleaner || cleaner.speedFactor <= 0 || (run === 0 && !isOn)) return STILL;
    const area_m2 = this.#isHoseOff ? HOSE_END_m2 : this.#areaAt(t_s);
    const drawn = airflowAt(cleaner, area_m2, conditionsIn(this.#room, t_s), run);
    const air = this.#isHoseOff ? { ...drawn, suction_Pa: 0, flow_m3_s: 0 } : drawn;
    if (!isOn) return { ...air, power_W: 0 };
    const inrush_W = INRUSH * cleaner.powerFactor * cleaner.fan.freePower_W * (1 - run);
    return { ...air, power_W: air.power_W + inrush_W };
  }

  #areaAt(t_s: number): number {
    const moved = Math.exp(-(t_s - this.#areaSince_s) / SHUTTER_TAU_s);
    return moved < 1e-4 ? this.#area_m2 : this.#area_m2 + (this.#areaThen_m2 - this.#area_m2) * moved;
  }
}

/** Root of a falling function between low and high, until its value is as small as this. @see Dowell and Jarratt, BIT 11 (1971) 168-174 (Illinois method) */
function fallingRoot(f: (x: number) => number, low: number, high: number, within = 1e-6): number {
  let [a, b] = [low, high];
  let [fa, fb] = [f(a), f(b)];
  if (fa <= 0) return a;
  if (fb >= 0) return b;
  let keptSide = 0;
  let x = a;
  for (let i = 0; i < 100 && b - a > 1e-6; i++) {
    x = (a * fb - b * fa) / (fb - fa);
    const fx = f(x);
    if (Math.abs(fx) < within) return x;
    if (fx > 0) {
      [a, fa] = [x, fx];
      if (keptSide === 1) fb /= 2;
      keptSide = 1;
    } else {
      [b, fb] = [x, fx];
      if (keptSide === -1) fa /= 2;
      keptSide = -1;
    }
  }
  return x;
}
