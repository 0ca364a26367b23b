import { STANDARD_DENSITY_kg_m3 } from "./gas.ts";
import { NOMINAL_MAINS_V } from "./room.ts";

/** Fan and motor together, as measured at nominal mains and 1.20 kg/m3, the motor's slowing under load included. */
export interface FanDesign {
  /** Suction at no flow, flow at no suction. */
  readonly sealed_Pa: number;
  readonly free_m3_s: number;
  /** 1 is a straight line between the two, 0 a parabola. */
  readonly straightness: number;
  /** Input power at no flow and at no suction. */
  readonly sealedPower_W: number;
  readonly freePower_W: number;
}

/** What the fan sees at this moment. */
export interface FanOperation {
  /** Relative to what the fan does at nominal mains and 1.20 kg/m3 in good health. */
  readonly speed: number;
  readonly density_kg_m3: number;
}

// A series motor's torque is as its current squared, its current nearly as voltage over speed; a fan's torque is as
// density and speed squared. So speed^4 is as voltage^2 / density: exponents 1/2 and -1/4, while the iron does not
// saturate. Saturated iron ties torque more tightly to speed: 0.55 is common practice, no source; -1/6 is what the
// suction standards' exponents 0.67 of suction and 0.5 of power amount to (ASTM F558, IEC 62885-2, from memory), since
// suction is as density speed^2 and power as density speed^3.
const SPEED_PER_VOLTAGE_EXPONENT = 0.55;
const SPEED_PER_DENSITY_EXPONENT = -1 / 6;

/**
 * Speed of a series-wound motor on its fan, against that at 230 V and 1.20 kg/m3: thinner air loads it less.
 * @example motorSpeed(230, 1.14) // 1.0086
 */
export function motorSpeed(mains_V: number, density_kg_m3: number): number {
  return (
    (mains_V / NOMINAL_MAINS_V) ** SPEED_PER_VOLTAGE_EXPONENT *
    (density_kg_m3 / STANDARD_DENSITY_kg_m3) ** SPEED_PER_DENSITY_EXPONENT
  );
}

/**
 * Suction the fan makes at this flow, Pa; negative when more flows than it can move.
 * @see the fan laws (ISO 5801): flow as speed, pressure as speed squared and density
 */
export function fanSuction_Pa(
  fan: FanDesign,
  flow_m3_s: number,
  { speed, density_kg_m3 }: FanOperation,
): number {
  if (speed <= 0) return -flow_m3_s;
  const x = flow_m3_s / (fan.free_m3_s * speed);
  const shape = 1 - fan.straightness * x - (1 - fan.straightness) * x * x;
  return fan.sealed_Pa * shape * speed * speed * (density_kg_m3 / STANDARD_DENSITY_kg_m3);
}

/** Input power at this flow, W. @see the fan laws (ISO 5801): power as speed cubed and density */
export function fanPower_W(
  fan: FanDesign,
  flow_m3_s: number,
  { speed, density_kg_m3 }: FanOperation,
): number {
  if (speed <= 0) return 0;
  const x = Math.min(1.2, flow_m3_s / (fan.free_m3_s * speed));
  // Load grows with flow and flattens towards the free end.
  const power_W = fan.sealedPower_W + (fan.freePower_W - fan.sealedPower_W) * x * (1.4 - 0.4 * x);
  return power_W * speed ** 3 * (density_kg_m3 / STANDARD_DENSITY_kg_m3);
}

/**
 * Relative speed of a motor switched on or off at some time, closed form, so that sampling it costs nothing and
 * changes nothing: run-up exponential, coast-down against friction and the fan.
 */
export class MotorRun {
  readonly #runUpTau_s: number;
  #isOn = false;
  #since_s = 0;
  #speedThen = 0;

  /** @param runUpFactor how many times slower than a good motor this one comes up */
  constructor(runUpFactor = 1) {
    this.#runUpTau_s = RUN_UP_TAU_s * runUpFactor;
  }

  get isOn(): boolean {
    return this.#isOn;
  }

  switch(t_s: number, on: boolean): void {
    if (on === this.#isOn) return;
    this.#speedThen = this.speedAt(t_s);
    this.#since_s = t_s;
    this.#isOn = on;
  }

  /** 0 standing, 1 at full speed. */
  speedAt(t_s: number): number {
    const elapsed_s = Math.max(0, t_s - this.#since_s);
    if (this.#isOn) return 1 - (1 - this.#speedThen) * Math.exp(-elapsed_s / this.#runUpTau_s);
    const slowed = Math.exp(-FRICTION_per_s * elapsed_s);
    const speed =
      (FRICTION_per_s * this.#speedThen * slowed) /
      (FRICTION_per_s + FAN_DRAG_per_s * this.#speedThen * (1 - slowed));
    return speed < STANDING_BELOW ? 0 : speed;
  }
}

const RUN_UP_TAU_s = 0.45;
const FRICTION_per_s = 1;
const FAN_DRAG_per_s = 1.5;
const STANDING_BELOW = 0.01;
