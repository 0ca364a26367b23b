import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import type { ReasonCode } from "../../station/cycle/reason.ts";
import { connectedFixture } from "../connected-fixture.ts";
import { travellersIn } from "../records/scratch-folder.ts";
import { FaultBench } from "./fault-bench.ts";
import { faultTable } from "./fault-table.ts";
import { changedStation, plain } from "./plain-station.ts";

const folder = mkdtempSync(join(tmpdir(), "drumtight-faults-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));
/** The whole table, and a good unit after each fault: three times the processor's time. */
const IN_EVERY_PHASE = process.env.EVERY_PHASE === "1";

describe("every fault", () => {
  let bench: FaultBench;
  let tested = 0;
  const proven = new Set<ReasonCode>();
  beforeAll(async () => {
    const stationPath = changedStation(plain, folder);
    bench = await FaultBench.open({ recordsFolder: join(folder, "records"), stationPath });
  });
  afterAll(() => bench.close());

  it.each(faultTable(IN_EVERY_PHASE))(
    "$fault ($instrument, $phase) is noticed within $within_s s, leaves no false verdict and live outputs, and is over when mended",
    async (row) => {
      const { instrument, verdict, code, words, within_s, recovers } = row;
      const struck = await bench.strike(row);
      expect(struck.reasons.map((it) => it.code)).toContain(code);
      expect(struck.reasons.map(({ sentence }) => sentence).join(" ")).toMatch(words);
      expect(struck.noticed_s).toBeLessThanOrEqual(within_s);
      expect(struck.traveller?.verdict ?? "none").toBe(verdict);
      expect(struck.isStopped).toBe(recovers === "acknowledge");
      expect(struck.isSafe).toBe(true);

      bench.misbehave(instrument, null);
      const connected = bench.connects(instrument);
      // After one of each kind a good unit passes; after the others it is the next fault's unit that gets to its phase.
      if (proven.has(code) && !IN_EVERY_PHASE) {
        if (recovers === "acknowledge") expect(await bench.acknowledge()).toBe(true);
      } else {
        proven.add(code);
        const after = await bench.test(bench.unit());
        expect(after).toMatchObject({ kind: "finished", finished: { traveller: { verdict: "pass" } } });
        tested++;
      }
      expect(bench.connects(instrument) - connected).toBe(recovers === "acknowledge" ? 1 : 0);
      tested += verdict === "none" ? 0 : 1;
    },
  );

  it("has left one traveller for each attempt and none besides", async () => {
    const kept = await travellersIn(bench.simulated.recordsFolder);
    expect(kept.length).toBe(tested);
    expect(new Set(kept.map(({ serial }) => serial)).size).toBe(tested);
  });
});

/** Where an instrument of the leak step is asked, or commanded, for what the verdict stands on. */
const PHASES = new Map([
  ["leak_gauge", IN_EVERY_PHASE ? ["measure", "fill"] : ["measure"]],
  ["source_gauge", IN_EVERY_PHASE ? ["fill", "measure"] : ["fill"]],
  ["io_block", IN_EVERY_PHASE ? ["fill", "measure"] : ["fill"]],
]);
/** The leak step, which such a unit fails, does not ask the others. */
const OTHERS = IN_EVERY_PHASE ? ["measure"] : [];

describe("a leaking unit", { timeout: 300_000 }, () => {
  it("passes on no bad day of any instrument, whenever it begins, and every attempt has one traveller", async () => {
    const stationPath = changedStation(plain, folder);
    const bench = await FaultBench.open({ recordsFolder: join(folder, "leaking"), stationPath });
    const days = [...bench.simulated.plant.instruments].flatMap(([name, instrument]) =>
      instrument.badDays.map((day) => [name, day] as const),
    );
    expect(days.length).toBeGreaterThan(100);
    const tested = new Set<string>();
    for (const [instrument, day] of days) {
      for (const phase of PHASES.get(instrument) ?? OTHERS) {
        const what = `${instrument} ${day} in ${phase}`;
        const unit = bench.unit("pinched_gasket");
        const { traveller } = await bench.strike({ instrument, day, phase }, unit);
        expect(traveller?.verdict, what).not.toBe("pass");
        expect(traveller?.serial, what).toBe(unit.serial);
        tested.add(unit.serial);
        bench.misbehave(instrument, null);
      }
    }
    const kept = await travellersIn(bench.simulated.recordsFolder);
    expect(kept.map(({ serial }) => serial)).toEqual([...tested]);
    await bench.close();
  });
});

describe("a reference piece on a leak gauge that has lost its calibration", () => {
  it.each(["POD-4", "TUB-12"])(
    "proves nothing for %s: the two pressure gauges disagree, and the station stops",
    async (onlyModel) => {
      const bench = await FaultBench.open({ recordsFolder: join(folder, onlyModel), onlyModel });
      const piece = bench.simulated.unitOf(`REF-TIGHT-${onlyModel}`);
      if (!piece) throw new Error("the demo plant has that piece");
      const { traveller, reasons, isStopped } = await bench.strike(
        { instrument: "leak_gauge", day: "off_calibration", phase: "start" },
        piece,
      );
      expect(traveller).toMatchObject({ verdict: "void" });
      expect(reasons).toMatchObject([{ code: "GAUGES_DISAGREE" }]);
      expect(reasons[0]?.sentence).toMatch(/Leak gauge and source gauge disagree/);
      expect(isStopped).toBe(true);
      bench.misbehave("leak_gauge", null);
      expect(await bench.test(piece)).toMatchObject({ finished: { traveller: { verdict: "pass" } } });
      await bench.close();
    },
  );
});

const INSTRUMENTS = ["leak_gauge", "source_gauge", "airflow_gauge", "power_meter", "ambient", "io_block"];

describe.each(INSTRUMENTS)("%s at the start", (instrument) => {
  it.each([
    ["is missing", "unplugged", "PORT_MISSING", /is not there.*put it back/],
    ["is another instrument", "wrong_identity", "WRONG_INSTRUMENT", /when asked who it is.*check/],
  ])(
    "that %s keeps the station from starting, and is taken once it is right",
    async (_, day, code, words) => {
      const bench = await connectedFixture();
      const { fixture, clock, plant, listener } = bench;
      await clock.runUntil(fixture.close());
      plant.instruments.get(instrument)?.misbehave(day);
      const refused = await clock.runUntil(fixture.connect(listener).catch((error: unknown) => error));
      expect(refused).toMatchObject({ code, instrument, message: expect.stringMatching(words) });
      expect(plant.isSafe).toBe(true);
      plant.instruments.get(instrument)?.misbehave(null);
      await clock.runUntil(fixture.connect(listener));
      expect(fixture.areOutputsSafe).toBe(true);
      await clock.runUntil(fixture.close());
    },
  );
});

describe("another instrument plugged in where one was pulled out", () => {
  it("is noticed at the acknowledgement, as often as that is tried, and nothing starts", async () => {
    const stationPath = changedStation(plain, folder);
    const bench = await FaultBench.open({ recordsFolder: join(folder, "swapped"), stationPath });
    await bench.strike({ instrument: "leak_gauge", day: "unplugged", phase: "idle" });
    bench.misbehave("leak_gauge", "wrong_identity");
    for (let tries = 0; tries < 2; tries++) {
      const tested = await bench.test(bench.unit());
      expect(tested).toMatchObject({ kind: "refused", reasons: [{ code: "STATION_FAULTED" }] });
      expect(tested.kind === "refused" && tested.reasons[0]?.sentence).toMatch(
        /leak_gauge says "ID=STREAM-FORCE.*when asked who it is/,
      );
    }
    bench.misbehave("leak_gauge", null);
    expect(await bench.test(bench.unit())).toMatchObject({ finished: { traveller: { verdict: "pass" } } });
    await bench.close();
  });
});

describe("the computer's date", () => {
  it.each([
    ["back", -3600],
    ["forward", 3600],
  ])(
    "set %s in the middle of a test changes neither its verdict nor its length, and order is kept",
    async (way, by_s) => {
      const stationPath = changedStation(plain, folder);
      const bench = await FaultBench.open({ recordsFolder: join(folder, way), stationPath });
      const { clock, station } = bench.simulated;
      const wall_ms = clock.wall_ms.bind(clock);
      station.listen({
        phase: (_, phase) => {
          if (phase === "measure") clock.wall_ms = () => wall_ms() + by_s * 1000;
        },
      });
      await bench.test(bench.unit());
      await bench.test(bench.unit());
      await bench.close();
      const kept = await travellersIn(join(folder, way));
      expect(kept.map(({ verdict }) => verdict)).toEqual(["pass", "pass"]);
      expect(kept.map(({ serial }) => serial)).toEqual(["POD000001", "POD000002"]);
      for (const { started_at, ended_at, duration_s } of kept) {
        const apart_s = (Date.parse(ended_at ?? "") - Date.parse(started_at)) / 1000;
        expect(apart_s).toBeCloseTo(duration_s ?? Number.NaN, 2);
      }
    },
  );
});
