import type { Scan } from "../cycle/scan.ts";
import type { SimulatedStation } from "../wiring.ts";
import type { NextBody } from "./screen-state.ts";

type Simulated = Pick<SimulatedStation, "station" | "plant" | "population" | "unitOf" | "obey">;

/** The units of a simulated line, and the hands that put them on the fixture. */
export class SimulatedLine {
  readonly #simulated: Simulated;
  /** Scanned by hand and not come to in their turn yet. */
  readonly #taken = new Set<string>();
  #nextIndex = 0;

  constructor(simulated: Simulated) {
    this.#simulated = simulated;
  }

  /** What would be put on now: what a study asks for, null once it is complete; the reference pieces whenever their check is due. */
  get next(): NextBody | null {
    const { station, population } = this.#simulated;
    const study = station.study();
    if (study) return study.next && { serial: study.next.part, isReference: false };
    const [due] = station.dueReferences();
    if (due) return { serial: due.serial, isReference: true };
    return { serial: population.unitAt(this.#indexOfNext()).serial, isReference: false };
  }

  /** A unit has been armed, scanned by hand or not: another one is next. */
  took(serial: string): void {
    this.#taken.add(serial);
  }

  /** Puts the next body on the fixture. @returns the scan of its label */
  takeNext(): Scan {
    const { station, population, plant, unitOf } = this.#simulated;
    const study = station.study();
    if (study) {
      const serial = study.next?.part ?? "";
      const piece = unitOf(serial);
      plant.mount(piece);
      return { serial, parts: piece?.parts ?? {} };
    }
    const [due] = station.dueReferences();
    const body = due ? unitOf(due.serial) : population.unitAt(this.#indexOfNext());
    if (!due) this.#nextIndex++;
    plant.mount(body);
    return { serial: due?.serial ?? body?.serial ?? "", parts: body?.parts ?? {} };
  }

  /**
   * Puts the body with this serial on, or leaves the fixture bare when there is none.
   * @returns whether there is one
   */
  putOn(serial: string): boolean {
    const body = this.#simulated.unitOf(serial);
    this.#simulated.plant.mount(body);
    return body !== null;
  }

  #indexOfNext(): number {
    const { population } = this.#simulated;
    while (this.#taken.delete(population.unitAt(this.#nextIndex).serial)) this.#nextIndex++;
    return this.#nextIndex;
  }

  /** Does to the plant what somebody at the real one would do with their hands. @returns what was done, in a sentence */
  obey(words: string): string {
    return this.#simulated.obey(words);
  }
}
