import { describe, expect, it } from "vitest";
import type { ReferencePiece } from "../station/cycle/attempt.ts";
import type { ReferenceRules } from "../station/cycle/reference-due.ts";
import type { RecordStore } from "../station/records/store.ts";
import { ReferenceWatch } from "../station/reference-watch.ts";
import { facts, outcome, stoppedClock } from "./records/example-attempt.ts";
import { close, open } from "./records/running-store.ts";
import { scratchFolder } from "./records/scratch-folder.ts";

const MODEL = "demo-body";
const TIGHT = piece("REF-TIGHT", "tight");
const LEAK = piece("REF-LEAK", "leak");
const OTHER = { ...piece("REF-TIGHT-OTHER", "tight"), model: "other-body" };
const PIECES = [TIGHT, LEAK, OTHER];

const EVERY_8_HOURS: ReferenceRules = {
  every_s: 8 * 3600,
  everyUnits: null,
  atShiftStart: false,
  afterFault: true,
};

function piece(serial: string, kind: "tight" | "leak"): ReferencePiece {
  const certified_m3_s = kind === "leak" ? 50e-6 / 60 : 0;
  return {
    serial,
    kind,
    model: MODEL,
    certified_m3_s,
    tolerance_m3_s: 4e-6 / 60,
    unit: "mL/min",
    orifice: null,
  };
}

/** A station whose records are real, whose clock stands where it is put, and whose program can be started again. */
class WatchedStation {
  readonly #clock = stoppedClock();
  readonly #folder = scratchFolder();
  readonly #rules: ReferenceRules;
  readonly #shifts: readonly string[];
  readonly #attempts = new Map<string, number>();
  #store!: RecordStore;
  #watch!: ReferenceWatch;

  private constructor(rules: Partial<ReferenceRules>, shifts: readonly string[]) {
    this.#rules = { ...EVERY_8_HOURS, ...rules };
    this.#shifts = shifts;
  }

  static async begin(
    rules: Partial<ReferenceRules> = {},
    shifts: readonly string[] = [],
  ): Promise<WatchedStation> {
    const station = new WatchedStation(rules, shifts);
    await station.#start();
    return station;
  }

  /** Begun, and every piece passed at this time. */
  static async proven(
    at: string,
    rules: Partial<ReferenceRules> = {},
    shifts: readonly string[] = [],
  ): Promise<WatchedStation> {
    const station = await WatchedStation.begin(rules, shifts);
    station.at(at);
    for (const one of PIECES) await station.check(one);
    return station;
  }

  async #start(): Promise<void> {
    const { store } = await open(this.#folder, this.#clock);
    this.#store = store;
    this.#watch = new ReferenceWatch({
      check: { ...this.#rules, pieces: PIECES },
      shifts: this.#shifts,
      clock: this.#clock,
    });
    await this.#watch.load(store);
  }

  async restart(): Promise<void> {
    await close(this.#store);
    await this.#start();
  }

  /** @param local wall time, as the shifts are given */
  at(local: string): void {
    this.#clock.wall = new Date(local).toISOString();
  }

  async check(
    reference: ReferencePiece,
    verdict: "pass" | "fail" | "void" = "pass",
    draft = false,
    measured_mLmin = reference.certified_m3_s * 6e7,
  ): Promise<void> {
    const certified = { certified_value: reference.certified_m3_s * 6e7, tolerance: 4, unit: "mL/min" };
    const measured = verdict === "void" ? null : measured_mLmin;
    const { traveller, sha256 } = await this.#record(
      reference.serial,
      {
        kind: "reference",
        model: reference.model,
        draft,
        reference: { piece: reference.serial, ...certified },
      },
      { verdict, reference: { measured, conforms: verdict === "pass" } },
    );
    this.#watch.checked(reference, traveller, sha256);
  }

  /** The program was killed before it could note what the unit's traveller tells; with no code, in mid-test. */
  async killedIn(unit: string, code: string | null): Promise<void> {
    const begun = await this.#store.begin({ ...facts(unit), started_at: this.#clock.wall });
    if (code !== null) {
      const reasons = [{ code, sentence: "So it was." }];
      await this.#store.commit(begun, outcome({ ended_at: this.#clock.wall, verdict: "void", reasons }));
    }
    await this.restart();
  }

  async unit(model = MODEL, verdict: "pass" | "fail" | "void" = "pass", draft = false): Promise<void> {
    await this.#record(`U${this.#attempts.size}`, { model, draft }, { verdict });
    if (verdict !== "void" && !draft) this.#watch.unitTested(model);
  }

  async fault(): Promise<void> {
    await this.#store.note({
      event: "fault",
      reasons: [{ code: "GAUGE_FROZEN", sentence: "It stands still." }],
    });
    this.#watch.faulted();
  }

  /** Something that is no fault. */
  async note(): Promise<void> {
    await this.#store.note({ event: "opened" });
  }

  async #record(
    serial: string,
    more: Partial<Parameters<RecordStore["begin"]>[0]>,
    found: Partial<Parameters<RecordStore["commit"]>[1]>,
  ) {
    const attempt = (this.#attempts.get(serial) ?? 0) + 1;
    this.#attempts.set(serial, attempt);
    const begun = await this.#store.begin({
      ...facts(serial, attempt),
      started_at: this.#clock.wall,
      ...more,
    });
    const reasons = found.verdict === "pass" ? [] : [{ code: "OUT_OF_LIMITS", sentence: "It is." }];
    return this.#store.commit(begun, outcome({ ended_at: this.#clock.wall, reasons, ...found }));
  }

  due(ahead_s = 0): string[] {
    return this.#watch.due([MODEL, OTHER.model], ahead_s).map(({ serial, why }) => `${serial}: ${why}`);
  }

  state(model = MODEL) {
    return this.#watch.state(model);
  }

  trend(serial: string) {
    return this.#watch.trend(serial);
  }
}

const ALL = (why: string) => PIECES.map(({ serial }) => `${serial}: ${why}`);

/** What has been said must be said again by a program that was started anew. */
async function expectDue(station: WatchedStation, due: readonly string[]): Promise<void> {
  expect(station.due()).toEqual(due);
  await station.restart();
  expect(station.due()).toEqual(due);
}

describe("a reference piece is due", () => {
  it("before its first check, and again while its newest valid check has failed", async () => {
    const station = await WatchedStation.begin();
    await expectDue(station, ALL("never"));
    await station.check(TIGHT);
    await station.check(LEAK, "fail");
    await expectDue(station, ["REF-LEAK: failed", "REF-TIGHT-OTHER: never"]);
    await station.check(LEAK);
    await station.check(OTHER);
    await expectDue(station, []);
  });

  it("whatever a void check or one on draft limits has read: neither counts", async () => {
    const station = await WatchedStation.begin();
    await station.check(TIGHT, "void");
    await station.check(LEAK, "pass", true);
    await expectDue(station, ALL("never"));
    for (const one of PIECES) await station.check(one);
    await station.check(LEAK, "fail", true);
    await station.check(LEAK, "void", true);
    await expectDue(station, []);
  });

  it("once a check of it came to nothing: a wrong reading can't be called off to stay with the check before", async () => {
    const station = await WatchedStation.proven("2026-01-05T06:00", { afterFault: false });
    await station.check(LEAK, "void");
    await expectDue(station, ["REF-LEAK: void"]);
    expect(station.state().inForce).toBeNull();
    await station.check(TIGHT);
    await expectDue(station, ["REF-LEAK: void"]);
    await station.check(LEAK);
    await expectDue(station, []);
  });

  it("once the interval is over, told ahead of time to whoever asks", async () => {
    const station = await WatchedStation.proven("2026-01-05T06:00");
    station.at("2026-01-05T14:00");
    await expectDue(station, []);
    expect(station.due(1)).toEqual(ALL("interval"));
    station.at("2026-01-05T14:00:01");
    await expectDue(station, ALL("interval"));
  });

  it("once so many of its model's units were judged: voids and drafts were not, other models have pieces of their own", async () => {
    const station = await WatchedStation.proven("2026-01-05T06:00", { everyUnits: 3 });
    station.at("2026-01-05T07:00");
    expect(station.state().unitsLeft).toBe(3);
    await station.unit();
    await station.unit(MODEL, "void");
    await station.unit(MODEL, "fail", true);
    await station.unit(OTHER.model);
    await station.unit(MODEL, "fail");
    await expectDue(station, []);
    expect(station.state().unitsLeft).toBe(1);
    await station.unit();
    await expectDue(station, ["REF-TIGHT: units", "REF-LEAK: units"]);
    await station.check(TIGHT);
    await expectDue(station, ["REF-LEAK: units"]);
  });

  it("when a shift has begun since, also over midnight and across a restart", async () => {
    const shifts = ["06:00", "14:00", "22:00"];
    const station = await WatchedStation.proven("2026-01-05T21:00", { atShiftStart: true }, shifts);
    station.at("2026-01-05T21:59:59");
    await expectDue(station, []);
    expect(station.due(1)).toEqual(ALL("shift"));
    station.at("2026-01-05T22:00");
    await expectDue(station, ALL("shift"));
    for (const one of PIECES) await station.check(one);
    station.at("2026-01-06T05:59");
    await expectDue(station, []);
    station.at("2026-01-06T06:00");
    await expectDue(station, ALL("shift"));
  });

  it("for every model after a fault, until it has been tested since", async () => {
    const station = await WatchedStation.proven("2026-01-05T06:00");
    station.at("2026-01-05T06:30");
    await station.fault();
    await expectDue(station, ALL("fault"));
    station.at("2026-01-05T06:40");
    await station.check(LEAK);
    await expectDue(station, ["REF-TIGHT: fault", "REF-TIGHT-OTHER: fault"]);
  });

  it("after a fault that only a unit's traveller tells of, since the program was killed before it noted it", async () => {
    const station = await WatchedStation.proven("2026-01-05T06:00");
    await station.killedIn("U1", "GUARD_OPENED");
    expect(station.due()).toEqual([]);
    await station.killedIn("U2", "PHASE_SILENT");
    expect(station.due()).toEqual(ALL("fault"));
  });

  it("after a test of which nobody saw the end", async () => {
    const station = await WatchedStation.proven("2026-01-05T06:00");
    await station.killedIn("U1", null);
    expect(station.due()).toEqual(ALL("fault"));
  });

  it("after a fault while the clock was put back, also for a program started once the clock is right again", async () => {
    const station = await WatchedStation.proven("2026-01-05T10:00");
    station.at("2026-01-05T09:00");
    await station.fault();
    for (let i = 0; i < 70; i++) await station.note();
    station.at("2026-01-05T10:30");
    await station.restart();
    expect(station.due()).toEqual(ALL("fault"));
  });

  it("after no fault, where the station file says so", async () => {
    const station = await WatchedStation.proven("2026-01-05T06:00", { afterFault: false });
    await station.fault();
    await expectDue(station, []);
  });

  it("when the clock is put back behind its check, and stays due when the clock gets there again", async () => {
    const station = await WatchedStation.proven("2026-01-05T10:00");
    station.at("2026-01-05T09:00");
    await expectDue(station, ALL("clock"));
    expect(station.state().inForce).toBeNull();
    await station.check(TIGHT);
    await station.unit();
    station.at("2026-01-05T10:30");
    await expectDue(station, ["REF-LEAK: clock", "REF-TIGHT-OTHER: clock"]);
  });

  it("not because a time server moved the clock by a second", async () => {
    const station = await WatchedStation.proven("2026-01-05T10:00:00");
    station.at("2026-01-05T09:59:59");
    await expectDue(station, []);
  });
});

describe("a station that is proven", () => {
  it("says by which checks, until when and for how many units", async () => {
    const station = await WatchedStation.proven("2026-01-05T13:00", { everyUnits: 50, atShiftStart: true }, [
      "06:00",
      "14:00",
    ]);
    const { inForce, until_ms, unitsLeft } = station.state();
    expect(inForce?.travellers).toHaveLength(2);
    expect(inForce?.at_ms).toBe(new Date("2026-01-05T13:00").getTime());
    expect(until_ms).toBe(new Date("2026-01-05T14:00").getTime());
    expect(unitsLeft).toBe(50);
  });

  it("without shifts is so until the interval is over, from the oldest check on", async () => {
    const station = await WatchedStation.proven("2026-01-05T06:00");
    station.at("2026-01-05T07:00");
    await station.check(LEAK);
    expect(station.state().until_ms).toBe(new Date("2026-01-05T14:00").getTime());
  });
});

it("a piece's trend is the same after a restart, and leaves out what proved nothing", async () => {
  const station = await WatchedStation.begin();
  for (const measured of [49.6, 50.4, 50.1]) await station.check(LEAK, "pass", false, measured);
  await station.check(LEAK, "void");
  await station.check(LEAK, "pass", true, 51);
  const trend = station.trend(LEAK.serial);
  expect(trend?.readings.map((reading) => reading.toFixed(1))).toEqual(["49.6", "50.4", "50.1"]);
  await station.restart();
  expect(station.trend(LEAK.serial)).toEqual(trend);
  expect(station.trend("POD000123")).toBeNull();
});

it("a station without reference checks never has one due, and none in force", () => {
  const watch = new ReferenceWatch({ check: null, shifts: [], clock: stoppedClock() });
  watch.faulted();
  expect(watch.due([MODEL])).toEqual([]);
  expect(watch.state(MODEL).inForce).toBeNull();
});
