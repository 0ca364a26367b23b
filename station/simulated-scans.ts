import type { Scan } from "./cycle/scan.ts";
import type { SimulatedStation } from "./wiring.ts";

/** The operator of a simulated station: puts bodies on the fixture and scans them. */

/** What an operator has before them. */
type Operated = Pick<SimulatedStation, "station" | "plant" | "population" | "unitOf">;

/** A piece that does not read as certified this often before one unit is left for somebody who looks at the fixture. */
const MOST_TRIES = 3;
/** A scan is looked up before the station decides on it; a check that ends meanwhile would cost the unit its place. */
const SCAN_TAKES_s = 1;

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
  simulated: Operated & Pick<SimulatedStation, "outsideTime">,
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
    yield { ...next.value, parts: { ...unit?.parts, ...next.value.parts } };
  }
}

/**
 * What the station's study asks for, until it is complete or has asked for one piece too often.
 * @param appraises told whose turn it is, before each piece
 */
export function* scansOfStudy(
  { station, plant, unitOf }: Operated,
  most: number,
  appraises: (appraiser: string) => void,
): Generator<Scan> {
  let [last, tries] = [0, 0];
  for (let count = 0; count < most; count++) {
    const next = station.study()?.next;
    if (!next) return;
    tries = next.run === last ? tries + 1 : 1;
    last = next.run;
    if (tries > MOST_TRIES) return;
    appraises(next.appraiser);
    const piece = unitOf(next.part);
    if (!piece) {
      const sentence = `No body of this seed and these models has the serial ${next.part}: plan the study with others, or give the --seed and --model they come from.`;
      yield { serial: next.part, parts: {}, misread: [{ code: "UNKNOWN_SERIAL", sentence }] };
      return;
    }
    plant.mount(piece);
    yield { serial: next.part, parts: piece.parts };
  }
}

/** Asks anew after every piece: while one is tested, the interval of another may end. */
function* dueReferences({ station, plant, unitOf }: Operated): Generator<Scan> {
  const tries = new Map<string, number>();
  const triesOf = (serial: string) => tries.get(serial) ?? 0;
  for (;;) {
    // Nobody may test anything: the unit's refusal says so once.
    if (station.state() === "signedOut") return;
    const piece = station.dueReferences(SCAN_TAKES_s).find(({ serial }) => triesOf(serial) < MOST_TRIES);
    if (!piece) return;
    tries.set(piece.serial, triesOf(piece.serial) + 1);
    plant.mount(unitOf(piece.serial));
    yield { serial: piece.serial, parts: {} };
  }
}
