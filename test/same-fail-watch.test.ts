import { expect, it } from "vitest";
import type { RecordStore } from "../station/records/store.ts";
import { SameFailWatch } from "../station/same-fail-watch.ts";
import { stoppedClock } from "./records/example-attempt.ts";
import { test as tested } from "./records/held-units.ts";
import { close, open } from "./records/running-store.ts";
import { scratchFolder } from "./records/scratch-folder.ts";

const STOP = [{ code: "SAME_FAIL_IN_A_ROW", sentence: "Three units in a row failed." }];

/** A station that stops after three, of which the program can be started again. */
class Watched {
  readonly clock = stoppedClock();
  readonly #folder = scratchFolder();
  store!: RecordStore;
  watch!: SameFailWatch;

  static async begin(): Promise<Watched> {
    const watched = new Watched();
    await watched.#start();
    return watched;
  }

  async #start(): Promise<boolean> {
    this.store = (await open(this.#folder, this.clock)).store;
    this.watch = new SameFailWatch(3);
    return this.watch.load(this.store);
  }

  /** @returns whether the stop had been noted */
  async restart(): Promise<boolean> {
    await close(this.store);
    return this.#start();
  }

  async test(serial: string, verdict: "pass" | "fail" | "void"): Promise<void> {
    await tested(this.store, serial, verdict);
    const attempt = (await this.store.history(serial)).at(-1);
    if (attempt) this.watch.tested(attempt);
  }

  /** The units named in the stop that is called for. */
  get named(): string | undefined {
    return /\((.*?)\)/.exec(this.watch.reason()?.sentence ?? "")?.[1];
  }
}

it("a void test hides no fail before it, nor do any number of them, before or after a restart", async () => {
  const station = await Watched.begin();
  await station.test("A1", "fail");
  await station.test("B2", "fail");
  for (let i = 0; i < 13; i++) await station.test(i % 2 ? "A1" : "V9", "void");
  await station.restart();
  await station.test("C3", "fail");
  expect(station.named).toBe("A1, B2, C3");
  await station.restart();
  expect(station.named).toBe("A1, B2, C3");
});

it("what was failed before the acknowledgement is forgotten, by the order of the records and not by a clock put back", async () => {
  const station = await Watched.begin();
  for (const serial of ["A1", "B2", "C3"]) await station.test(serial, "fail");
  await station.store.note({ event: "fault", reasons: STOP });
  expect(await station.restart()).toBe(true);
  expect(station.named).toBe("A1, B2, C3");
  station.clock.wall = "2026-01-05T05:00:00.000Z";
  await station.store.note({ event: "acknowledged", reasons: STOP });
  for (let i = 0; i < 70; i++) await station.store.note({ event: "opened" });
  expect(await station.restart()).toBe(false);
  expect(station.named).toBeUndefined();
  for (const serial of ["D4", "E5"]) await station.test(serial, "fail");
  await station.restart();
  expect(station.named).toBeUndefined();
  await station.test("F6", "fail");
  expect(station.named).toBe("D4, E5, F6");
});
