import { randomStream } from "../random.ts";
import { REFERENCE_PRESSURE_Pa, REFERENCE_TEMPERATURE_K } from "./gas.ts";

/** The air and the mains of the hall over time, smooth and without state. Times are monotonic seconds. */
export interface Room {
  pressure_Pa(t_s: number): number;
  temperature_K(t_s: number): number;
  /** Fraction, 0 to 1. */
  relativeHumidity(t_s: number): number;
  /** Root mean square, at the motor's socket. */
  mains_V(t_s: number): number;
}

export const NOMINAL_MAINS_V = 230;

/** Air at rest at the house reference, mains at nominal: what truths are stated for. */
export function steadyRoom(
  pressure_Pa = REFERENCE_PRESSURE_Pa,
  temperature_K = REFERENCE_TEMPERATURE_K,
): Room {
  return {
    pressure_Pa: () => pressure_Pa,
    temperature_K: () => temperature_K,
    relativeHumidity: () => 0.5,
    mains_V: () => NOMINAL_MAINS_V,
  };
}

/**
 * The same room with the mains swinging by this part of the voltage, either way, as a neighbour's welder or phase
 * control makes it. Near a multiple of a gauge's rate, its readings show a slow beat. The plant's fans follow at once,
 * where inertia would smooth most of it: the harder case.
 * @param relative amplitude, such as 0.003
 * @example withRipple(workingRoom(7), 0.003, 19.3) // a gauge that reads 20 times a second sees a beat of 0.7 Hz
 */
export function withRipple(room: Room, relative: number, frequency_Hz: number): Room {
  const ripple = wave(relative, 1 / frequency_Hz, 0);
  return { ...room, mains_V: (t_s) => room.mains_V(t_s) * (1 + ripple(t_s)) };
}

/**
 * A hall on a working day: weather and ventilation in the barometer, the heating in the temperature, neighbours
 * on the mains. Sizes are common practice, no source: 40 Pa over hours, 0.2 Pa with the doors, 0.8 K over the
 * day, 0.4 % of mains.
 */
export function workingRoom(seed: number): Room {
  const random = randomStream(seed, "room");
  const phase = () => random.between(0, 2 * Math.PI);
  const base_Pa = REFERENCE_PRESSURE_Pa + random.between(-400, 400);
  const weather = wave(40, 6 * 3600, phase());
  const ventilation = wave(0.2, 90, phase());
  const base_K = 294.15 + random.between(-0.6, 0.6);
  const heating = wave(0.8, 8 * 3600, phase());
  const humidity = wave(0.06, 5 * 3600, phase());
  const base_V = NOMINAL_MAINS_V * (1 + random.between(-0.003, 0.003));
  const load = wave(0.004 * NOMINAL_MAINS_V, 1800, phase());
  return {
    pressure_Pa: (t_s) => base_Pa + weather(t_s) + ventilation(t_s),
    temperature_K: (t_s) => base_K + heating(t_s),
    relativeHumidity: (t_s) => 0.45 + humidity(t_s),
    mains_V: (t_s) => base_V + load(t_s),
  };
}

function wave(amplitude: number, period_s: number, phase: number): (t_s: number) => number {
  const frequency = (2 * Math.PI) / period_s;
  return (t_s) => amplitude * Math.sin(frequency * t_s + phase);
}
