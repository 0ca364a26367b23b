import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { randomStream } from "../sim/random.ts";
import { EarlyWarningWatch } from "../station/early-warning-watch.ts";
import type { EarlyWarning } from "../station/quality/early-warning/early-warning.ts";
import type { Doubts } from "../station/records/doubts.ts";
import { NO_DOUBTS } from "../station/records/doubts.ts";
import { testsWindow } from "../station/records/first-tests.ts";
import { type IndexedAttempt, RecordIndex } from "../station/records/index-db.ts";
import { formNumber } from "../station/records/stored-values.ts";
import { earlyWarnings } from "../station/study-data/early-warnings.ts";
import { podForm, podNumbers } from "./what-if/made-stored.ts";

const SHIFTS = ["06:00", "14:00", "22:00"];

/** A folder's index of tested units, and a watch on it as the station has one. */
class WatchedIndex {
  readonly folder = mkdtempSync(join(tmpdir(), "drumtight-watch-"));
  readonly index = RecordIndex.open(this.folder);
  readonly told: EarlyWarning[] = [];
  readonly failures: string[] = [];
  doubts: Doubts = NO_DOUBTS;
  readonly #random = randomStream(5, "watched index");
  #sequence = 0;

  /** @param options what is not as usual; `attempt` 2 tests the last unit again */
  test(leak_mLmin: number, options: Parameters<WatchedIndex["attempt"]>[1] = {}): void {
    this.index.add([this.attempt(leak_mLmin, options)]);
  }

  tests(count: number, leak_mLmin: number): void {
    this.index.add(Array.from({ length: count }, () => this.attempt(leak_mLmin)));
  }

  attempt(
    leak_mLmin: number,
    options: { readonly draft?: boolean; readonly attempt?: number } = {},
  ): IndexedAttempt {
    const { draft = false, attempt = 1 } = options;
    this.#sequence++;
    const kind = attempt === 1 ? ("first" as const) : ("retest" as const);
    const formText = JSON.stringify(podForm({ draft, kind }));
    const unit = attempt === 1 ? this.#sequence : this.#sequence - 1;
    const at = new Date(Date.UTC(2026, 0, 5, 6) + this.#sequence * 25_000).toISOString();
    return {
      sequence: this.#sequence,
      sha256: String(this.#sequence).padStart(64, "0"),
      path: `${this.#sequence}.json`,
      id: String(this.#sequence),
      recordKind: "unit",
      serial: `POD${unit}`,
      model: "POD-4",
      ...{ attempt, kind, draft },
      verdict: "pass",
      started_at: at,
      ended_at: at,
      duration_s: 20,
      codes: [],
      causes: [],
      suspect: null,
      reference: null,
      stored: {
        form: formNumber(formText),
        formText,
        parts: `{"tub_cavity":"P${1 + (unit % 2)}"}`,
        numbers: Buffer.from(podNumbers(leak_mLmin + this.#random.normal()).buffer),
      },
    };
  }

  watch(): EarlyWarningWatch {
    const ask = (range: Parameters<RecordIndex["firstTests"]>[0]) => this.index.firstTests(range);
    return new EarlyWarningWatch({
      store: {
        firstTests: async (range) => ask(range),
        firstTestsWindow: async (model) => testsWindow(ask, model, this.#sequence),
        inDoubt: async () => this.doubts,
      },
      shifts: SHIFTS,
      pause: async () => undefined,
      failed: (sentence) => this.failures.push(sentence),
      signalled: (warnings) => this.told.push(...warnings),
    });
  }

  close(): void {
    this.index.close();
    rmSync(this.folder, { recursive: true, force: true });
  }
}

async function looked(watch: EarlyWarningWatch): Promise<readonly EarlyWarning[]> {
  watch.look("POD-4");
  await watch.looked();
  return watch.standing;
}

describe("early warning at the station", () => {
  let line: WatchedIndex;
  beforeAll(() => {
    line = new WatchedIndex();
  });
  afterAll(() => line.close());

  it("tells a drift once, unit by unit, and says the same after a new start", async () => {
    line.tests(300, 10);
    const watch = line.watch();
    await looked(watch);
    const before = line.told.length;
    for (let k = 0; k < 40; k++) {
      line.test(12);
      await looked(watch);
    }
    const leak = line.told.slice(before).filter(({ characteristic }) => characteristic === "leak rate");
    expect(leak).toHaveLength(1);
    expect(leak[0]).toMatchObject({ direction: "rises", cavity: null, ended: null });
    expect(Math.abs(Number(leak[0]?.first.serial.slice(3)) - 301)).toBeLessThanOrEqual(8);
    expect(watch.standing[0]?.units).toBeGreaterThan(30);
    const restarted = line.watch();
    expect(await looked(restarted)).toEqual(watch.standing);
  });

  it("does not tell again at a new start what stands", async () => {
    const before = line.told.length;
    expect((await looked(line.watch())).length).toBeGreaterThan(0);
    expect(line.told.length).toBe(before);
  });

  it("forgets a drift whose tests a failed reference check put in doubt", async () => {
    const watch = line.watch();
    await looked(watch);
    expect(watch.standing.length).toBeGreaterThan(0);
    line.doubts = {
      ...NO_DOUBTS,
      untrusted: new Set(Array.from({ length: 45 }, (_, k) => String(296 + k).padStart(64, "0"))),
    };
    expect(await looked(watch)).toEqual([]);
    line.doubts = NO_DOUBTS;
  });

  it("counts neither retests nor drafts", async () => {
    const quiet = new WatchedIndex();
    quiet.tests(300, 10);
    const watch = quiet.watch();
    const stood = await looked(watch);
    for (let k = 0; k < 30; k++) {
      quiet.test(10);
      quiet.test(14, { attempt: 2 });
      quiet.test(14, { draft: true });
      await looked(watch);
    }
    expect(watch.standing).toEqual(stood);
    quiet.close();
  });

  it("goes on when its records can't be read, and catches up", async () => {
    const lost = new WatchedIndex();
    lost.tests(200, 10);
    const watch = lost.watch();
    await looked(watch);
    const { firstTests } = lost.index;
    lost.index.firstTests = () => {
      throw new Error("disk gone");
    };
    lost.tests(40, 13);
    await looked(watch);
    await looked(watch);
    expect(lost.failures).toEqual([expect.stringMatching(/tries again after the next unit.*disk gone/)]);
    expect(watch.standing.some(({ characteristic }) => characteristic === "leak rate")).toBe(false);
    lost.index.firstTests = firstTests;
    expect((await looked(watch)).some(({ characteristic }) => characteristic === "leak rate")).toBe(true);
    lost.close();
  });

  it("comes to the same after a new start when it has left old units behind", async () => {
    const long = new WatchedIndex();
    long.tests(2900, 10);
    const watch = long.watch();
    await looked(watch);
    for (let k = 0; k < 350; k++) {
      long.test(k < 310 ? 10 : 12);
      if (k % 25 === 24) await looked(watch);
    }
    expect(watch.standing.length).toBeGreaterThan(0);
    expect(await looked(long.watch())).toEqual(watch.standing);
    long.close();
  });

  it("names the warnings that a report of the same records names, past windows that begin anew", async () => {
    const long = new WatchedIndex();
    const watch = long.watch();
    await looked(watch);
    // Drifts while the first window holds, across the tests at which it is left for another, and long after.
    const drifts = [300, 1200, 2100, 3530, 4370];
    const isDrifting = (k: number) => drifts.some((begin) => k >= begin && k < begin + 60);
    for (let k = 0; k < 4400; k += 11) {
      long.index.add(Array.from({ length: 11 }, (_, n) => long.attempt(isDrifting(k + n) ? 12 : 10)));
      await looked(watch);
    }
    const { warnings } = await earlyWarnings({
      folder: long.folder,
      ...{ from_ms: null, to_ms: null },
      shifts: SHIFTS,
    });
    const keyOf = ({ characteristic, direction, cavity, signalled }: EarlyWarning) =>
      [characteristic, direction, cavity?.value, signalled.serial].join(" ");
    expect(long.told.length).toBeGreaterThanOrEqual(drifts.length);
    expect(new Set(long.told.map(keyOf))).toEqual(new Set(warnings.map(keyOf)));
    const stands = warnings.filter(({ ended }) => ended === null);
    expect(watch.standing.length).toBeGreaterThan(0);
    expect(new Set(watch.standing)).toEqual(new Set(stands));
    long.close();
  });
});
