import { closeSync, openSync, readdirSync, rmSync, writeSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it, onTestFinished } from "vitest";
import type { Reason } from "../../station/cycle/reason.ts";
import { NOBODY } from "../../station/people/person.ts";
import { OneByOne, type Tested } from "../../station/test-one.ts";
import { openSimulatedStation, type SimulatedStation } from "../../station/wiring.ts";
import { scratchDisk } from "../records/scratch-folder.ts";

/** A simulated station, signed in, whose records lie on a disk of 70 MB, and the file that can fill it up. */
async function onSmallDisk(): Promise<{ simulated: SimulatedStation; filler: string }> {
  const disk = scratchDisk(70_000);
  const simulated = await openSimulatedStation({
    seed: 7,
    pace: "virtual",
    allowDrafts: true,
    recordsFolder: join(disk, "records"),
  });
  onTestFinished(() => simulated.close());
  simulated.station.signIn(NOBODY);
  return { simulated, filler: join(disk, "filler") };
}

describe("a disk that fills up while a unit is tested", () => {
  async function test(simulated: SimulatedStation, one: OneByOne, k: number): Promise<Tested> {
    const unit = simulated.population.unitAt(k);
    simulated.plant.mount(unit);
    return simulated.runUntil(one.test({ serial: unit.serial, parts: unit.parts }));
  }

  it("gives that unit no verdict and stops the station safely; with space again the attempt is void and the unit is tested anew", async () => {
    const { simulated, filler } = await onSmallDisk();
    const { station, plant, referenceBodies } = simulated;
    const one = new OneByOne(station);
    const prove = async () => {
      for (const piece of station.dueReferences()) {
        plant.mount(referenceBodies.get(piece.serial) ?? null);
        await simulated.runUntil(one.test({ serial: piece.serial, parts: {} }));
      }
    };
    await prove();
    const faults: Reason[] = [];
    let isFilled = false;
    station.listen({
      faulted: (reasons) => faults.push(...reasons),
      phase: (_, phase) => {
        if (phase === "coast" && !isFilled) fillUp(filler);
        isFilled ||= phase === "coast";
      },
    });

    const stopped = await test(simulated, one, 0);
    expect(stopped.kind).toBe("faulted");
    expect(faults.map((it) => it.code)).toEqual(["RECORD_NOT_WRITTEN"]);
    expect(faults[0]?.sentence).toMatch(/disk is full/);
    expect(plant.isSafe).toBe(true);
    expect(travellersOf(simulated, 0)).toEqual([]);

    rmSync(filler);
    await prove();
    const again = await test(simulated, one, 0);
    expect(again.kind === "finished" && again.finished.traveller).toMatchObject({
      verdict: "pass",
      attempt: { number: 2 },
    });
    expect(travellersOf(simulated, 0)).toHaveLength(2);
  });

  it("is refused beforehand when too little space is left, in a sentence that says how much", async () => {
    const { simulated, filler } = await onSmallDisk();
    fillUp(filler, 30_000_000);
    const refused: Reason[] = [];
    simulated.station.listen({ refused: (_, reasons) => refused.push(...reasons) });
    const piece = simulated.file.referenceCheck?.pieces[0];
    simulated.plant.mount(simulated.referenceBodies.get(piece?.serial ?? "") ?? null);
    const one = new OneByOne(simulated.station);
    const tested = await simulated.runUntil(one.test({ serial: piece?.serial ?? "", parts: {} }));
    expect(tested.kind).toBe("refused");
    expect(refused).toMatchObject([
      { code: "DISK_SPACE_LOW", sentence: expect.stringMatching(/Only \d\d MB are free/) },
    ]);
  });
});

/** Writes until the disk is full, or this many bytes. */
function fillUp(path: string, bytes = Number.POSITIVE_INFINITY): void {
  const file = openSync(path, "w");
  try {
    for (let written = 0, chunk = 1 << 20; written < bytes && chunk >= 1; ) {
      try {
        written += writeSync(file, Buffer.alloc(Math.min(chunk, bytes - written)));
      } catch (error) {
        if ((error as NodeJS.ErrnoException).code !== "ENOSPC") throw error;
        chunk >>= 1;
      }
    }
  } finally {
    closeSync(file);
  }
}

function travellersOf({ recordsFolder, population }: SimulatedStation, k: number): string[] {
  const { serial } = population.unitAt(k);
  return readdirSync(recordsFolder, { recursive: true, encoding: "utf8" }).filter(
    (path) => /^\d{4}\/.*\.json$/.test(path) && path.includes(serial),
  );
}
