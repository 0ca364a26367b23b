import { Population, type PopulationOptions, type SimulatedUnit } from "./population.ts";
import { referencePieces } from "./reference-pieces.ts";

/** How far ahead of the last unit a serial is looked for. */
const LOOK_AHEAD = 100_000;

/** The units waiting at the station, one after the other, and all that can be mounted by serial. */
export class LineUp {
  readonly #population: Population;
  readonly #count: number;
  readonly #references = new Map<string, SimulatedUnit>();
  #next = 0;

  /** @param count units there are; Infinity for a line that never ends */
  constructor(options: PopulationOptions & { readonly count: number }) {
    const { count, ...population } = options;
    this.#population = new Population(population);
    this.#count = count;
    for (const limits of options.models) {
      for (const { unit } of Object.values(referencePieces(limits))) this.#references.set(unit.serial, unit);
    }
  }

  next(): SimulatedUnit | null {
    return this.#next < this.#count ? this.#population.unitAt(this.#next++) : null;
  }

  find(serial: string): SimulatedUnit | null {
    const reference = this.#references.get(serial);
    if (reference) return reference;
    const index = this.#population.indexOf(serial, Math.min(this.#count, this.#next + LOOK_AHEAD));
    return index === null ? null : this.#population.unitAt(index);
  }
}
