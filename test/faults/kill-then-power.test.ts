import { expect, it } from "vitest";
import { randomStream } from "../../sim/random.ts";
import { RecordStore } from "../../station/records/store.ts";
import type { Traveller } from "../../station/records/traveller.ts";
import { facts, outcome, stoppedClock } from "../records/example-attempt.ts";
import { type DiskState, ModelledDisk } from "./modelled-disk.ts";
import { type CrashKind, Platter } from "./platter.ts";

const FOLDER = "/records";
const POWER_CUTS = 6;

/** A disk, and the programs that use it one after the other, each until it ends or is ended. */
class Machine {
  readonly platter = new Platter();
  readonly #disk: DiskState;

  constructor(seed: number) {
    const random = randomStream(seed, "disk");
    this.#disk = {
      ...{ platter: this.platter, random, trouble: null, accident: null, unread: null, operations: 0 },
      before: () => undefined,
    };
  }

  /**
   * Runs a program, and ends it before its disk operation with this number, at the latest when it has nothing more to do.
   * @returns whether the operation came
   */
  async run(
    program: (store: RecordStore) => Promise<void>,
    end: { how: CrashKind; before: number },
  ): Promise<boolean> {
    let isRunning = true;
    let ended: () => void = () => undefined;
    const isOver = new Promise<"over">((resolve) => {
      ended = () => resolve("over");
    });
    const user = {
      isRunning: () => isRunning,
      setTimeout: (fn: () => void) => setImmediate(fn),
    };
    const disk = new ModelledDisk(this.#disk, user);
    const last = this.#disk.operations + end.before;
    this.#disk.before = () => {
      if (this.#disk.operations < last) return;
      isRunning = false;
      ended();
    };
    const work = RecordStore.open({ folder: FOLDER, clock: stoppedClock(), station: "line 1", disk });
    const how = await Promise.race([work.then(({ store }) => program(store)), isOver]);
    isRunning = false;
    disk.abandon();
    this.platter.crash(end.how, user, this.#disk.random);
    return how === "over";
  }

  travellers(): Traveller[] {
    return this.platter
      .files(FOLDER)
      .filter(({ path }) => /^\d{4}\//.test(path))
      .map(({ text }) => JSON.parse(text) as Traveller);
  }
}

it("a station killed between any two disk operations and started again keeps every attempt through a power cut just after", async () => {
  let kills = 0;
  for (let isKilled = true; isKilled; kills++) {
    for (let cut = 0; cut < POWER_CUTS; cut++) {
      const machine = new Machine(cut);
      const begun: string[] = [];
      const tests = async (store: RecordStore) => {
        for (const serial of ["A1"]) {
          const attempt = await store.begin(facts(serial));
          begun.push(serial);
          await store.commit(attempt, outcome());
        }
      };
      isKilled = await machine.run(tests, { how: "kill", before: kills + 1 });
      await machine.run(async () => undefined, { how: "power", before: Number.POSITIVE_INFINITY });
      await machine.run(async () => undefined, { how: "kill", before: Number.POSITIVE_INFINITY });
      const serials = machine.travellers().map(({ serial }) => serial);
      for (const serial of begun) expect(serials, `killed before operation ${kills + 1}`).toContain(serial);
      expect(new Set(serials).size).toBe(serials.length);
      machine.platter.discard();
    }
  }
  expect(kills).toBeGreaterThan(25);
});
