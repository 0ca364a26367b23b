import type { Scan } from "../cycle/station-machine.ts";
import type { SimulatedStation } from "../wiring.ts";
import type { NextBody } from "./screen-state.ts";

/** How far ahead of the next unit a typed serial is looked for. */
const LOOK_AHEAD = 500;

/** The units of a simulated line, and the hands that put them on the fixture. */
export class SimulatedLine {
  readonly #simulated: Pick<SimulatedStation, "station" | "plant" | "population" | "referenceBodies">;
  #nextIndex = 0;

  constructor(simulated: Pick<SimulatedStation, "station" | "plant" | "population" | "referenceBodies">) {
    this.#simulated = simulated;
  }

  /** What would be put on now: the reference pieces first whenever their check is due. */
  get next(): NextBody {
    const { station, population } = this.#simulated;
    const [due] = station.dueReferences();
    if (due) return { serial: due.serial, isReference: true };
    return { serial: population.unitAt(this.#nextIndex).serial, isReference: false };
  }

  /** Puts the next body on the fixture. @returns the scan of its label */
  takeNext(): Scan {
    const { serial, isReference } = this.next;
    if (!isReference) this.#nextIndex++;
    return { serial, parts: this.#mount(serial) ?? {} };
  }

  /**
   * Puts the body with this serial on, or leaves the fixture bare when there is none.
   * @returns whether there is one
   */
  putOn(serial: string): boolean {
    return this.#mount(serial) !== null;
  }

  /** @returns the parts of the body that is on now, null for none */
  #mount(serial: string): Scan["parts"] | null {
    const body = this.#simulated.referenceBodies.get(serial) ?? this.#unit(serial);
    this.#simulated.plant.mount(body);
    return body?.parts ?? null;
  }

  #unit(serial: string): ReturnType<SimulatedStation["population"]["unitAt"]> | null {
    const { population } = this.#simulated;
    for (let index = 0; index < this.#nextIndex + LOOK_AHEAD; index++) {
      const unit = population.unitAt(index);
      if (unit.serial === serial) return unit;
    }
    return null;
  }
}
