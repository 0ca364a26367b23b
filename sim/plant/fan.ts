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
  /** Relative to what the fan does at nominal mains in good health. */
  readonly speed: number;
  readonly density_kg_m3: number;
}

// A series motor on a fan's torque (as speed squared) settles near the square root of its voltage.
const SPEED_PER_VOLTAGE_EXPONENT = 0.55;

/** Relative speed of a series-wound motor at this mains voltage (common practice, no source). */
export function speedAtMains(mains_V: number): number {
  return (mains_V / NOMINAL_MAINS_V) ** SPEED_PER_VOLTAGE_EXPONENT;
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
  #isOn = false;
  #since_s = 0;
  #speedThen = 0;

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
    if (this.#isOn) return 1 - (1 - this.#speedThen) * Math.exp(-elapsed_s / RUN_UP_TAU_s);
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
