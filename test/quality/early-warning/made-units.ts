import { randomStream } from "../../../sim/random.ts";
import type { WatchedUnit } from "../../../station/quality/early-warning/watched-unit.ts";

/** What one unit differs in from the others of `MadeLine`. */
export interface Made {
  /** Added to the leak rate, whose values scatter by 1. */
  readonly leak?: number;
  /** Added to the suction, whose values scatter by 1. */
  readonly suction?: number;
  readonly parts?: Readonly<Record<string, string>>;
  readonly revision?: number;
}

/** A line of normal values: leak rate 10 and suction 50, scatter 1, from two cavities in turns of chance. */
export class MadeLine {
  readonly #random;
  #made = 0;

  constructor(seed: number) {
    this.#random = randomStream(seed, "made line");
  }

  next({ leak = 0, suction = 0, parts = {}, revision = 1 }: Made = {}): WatchedUnit {
    this.#made++;
    const random = this.#random;
    const at = new Date(Date.UTC(2026, 0, 5, 6) + this.#made * 30_000).toISOString();
    return {
      sequence: this.#made,
      serial: `POD${this.#made}`,
      at,
      parts: { tub_cavity: random.pick(["P1", "P2"]), motor_serial: `N${this.#made}`, ...parts },
      station: "Line 1",
      revision,
      values: [
        { name: "leak rate", unit: "mL/min", value: 10 + leak + random.normal() },
        { name: "suction", unit: "kPa", value: 50 + suction + random.normal() },
      ],
    };
  }

  units(count: number, made: Made | ((k: number) => Made) = {}): WatchedUnit[] {
    return Array.from({ length: count }, (_, k) => this.next(typeof made === "function" ? made(k) : made));
  }
}
