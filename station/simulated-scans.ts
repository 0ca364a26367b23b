import type { Scan } from "./cycle/station-machine.ts";
import type { SimulatedStation } from "./wiring.ts";

/** The operator of a simulated station: puts bodies on the fixture and scans them. */

/** What an operator has before them. */
type Operated = Pick<SimulatedStation, "station" | "plant" | "population" | "unitOf">;

/** The first units of the seed in order, with the reference pieces before whenever their check is due. */
export function* scansOfSeed(simulated: Operated, count: number): Generator<Scan> {
  for (let k = 0; k < count; k++) {
    yield* dueReferences(simulated);
    const unit = simulated.population.unitAt(k);
    simulated.plant.mount(unit);
    yield { serial: unit.serial, parts: unit.parts };
  }
}

/** Units by the serials somebody scans. A serial the seed has no unit for is scanned all the same, with nothing on the fixture. */
export async function* scansOfSerials(
  simulated: SimulatedStation,
  scans: AsyncIterable<Scan>,
): AsyncGenerator<Scan> {
  const iterator = scans[Symbol.asyncIterator]();
  for (;;) {
    // The inspector's time at the scanner is not the plant's.
    const next = await simulated.outsideTime(() => iterator.next());
    if (next.done) return;
    yield* dueReferences(simulated);
    const unit = simulated.unitOf(next.value.serial);
    simulated.plant.mount(unit);
    yield { serial: next.value.serial, parts: { ...unit?.parts, ...next.value.parts } };
  }
}

function* dueReferences({ station, plant, unitOf }: Operated): Generator<Scan> {
  for (const piece of station.dueReferences()) {
    plant.mount(unitOf(piece.serial));
    yield { serial: piece.serial, parts: {} };
  }
}
