import { mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { join, resolve } from "node:path";
import { describe, expect, it, onTestFinished } from "vitest";
import { LineUp } from "../sim/line-up.ts";
import { Population } from "../sim/population.ts";
import { StationPlant } from "../sim/station-plant.ts";
import { VirtualClock } from "../sim/virtual-clock.ts";
import { copyCalibrations } from "../station/calibrations-in-force.ts";
import type { Scan } from "../station/cycle/scan.ts";
import { NOBODY } from "../station/people/person.ts";
import { scansOfSeed, scansOfSerials } from "../station/simulated-scans.ts";
import { OneByOne } from "../station/test-one.ts";
import { loadStation, openStation } from "../station/wiring.ts";
import { scratchFolder } from "./records/scratch-folder.ts";

const SEED = 7;

/** The demo station with another interval between its reference checks, and everything it has tested or refused. */
async function stationChecking(every: string, isSignedIn = true) {
  const folder = scratchFolder();
  const path = join(folder, "station.yaml");
  const text = readFileSync("sim/demo-station.yaml", "utf8")
    .replace("../limits/models", resolve("limits/models"))
    .replace("every: 8 h", `every: ${every}`);
  writeFileSync(path, text);
  copyCalibrations("sim/demo-station.yaml", path, [{ model: "POD-4" }, { model: "TUB-12" }]);
  const loaded = loadStation(path, undefined, "simulated");
  const clock = new VirtualClock();
  const models = loaded.models.map(({ limits }) => limits);
  const plant = new StationPlant({ clock, seed: SEED, models });
  const recordsFolder = join(folder, "records");
  mkdirSync(recordsFolder);
  const running = await clock.runUntil(
    openStation({
      ...loaded,
      clock,
      recordsFolder,
      allowDrafts: false,
      hold: () => clock.hold(),
      attach: (instrument) => {
        const simulated = plant.instruments.get(instrument);
        return simulated && ((far) => simulated.attach(far));
      },
    }),
  );
  onTestFinished(() => clock.runUntil(running.close()));
  const { station } = running;
  if (isSignedIn) station.signIn(NOBODY);
  const lineUp = new LineUp({ seed: SEED, models, count: Number.POSITIVE_INFINITY });
  const tested: string[] = [];
  const refused: string[] = [];
  let checks = 0;
  station.listen({
    finished: ({ attempt }) => {
      if (attempt.reference) checks++;
      else tested.push(attempt.serial);
    },
    refused: (serial) => refused.push(serial),
  });
  const one = new OneByOne(station);
  const testAll = async (scans: AsyncIterable<Scan> | Iterable<Scan>) => {
    for await (const scan of scans) await one.test(scan);
  };
  return {
    plant,
    tested,
    refused,
    checks: () => checks,
    operated: {
      station,
      plant,
      population: new Population({ seed: SEED, models }),
      unitOf: (serial: string) => lineUp.find(serial),
      outsideTime: <T>(work: () => Promise<T>) => work(),
    },
    run: (scans: AsyncIterable<Scan> | Iterable<Scan>) => clock.runUntil(testAll(scans)),
    serials: (count: number) =>
      Array.from(new Population({ seed: SEED, models }).units(count), ({ serial }) => serial),
  };
}

async function* scanned(serials: readonly string[]): AsyncGenerator<Scan> {
  for (const serial of serials) yield { serial, parts: {} };
}

describe("the operator of a simulated station", () => {
  // Units and pieces take 10 to 40 s each: the interval ends again and again, at another moment every time.
  it.each(["130 s", "190 s"])(
    "tests every unit of the seed once and in order, with a reference check due every %s",
    async (every) => {
      const shift = await stationChecking(every);
      await shift.run(scansOfSeed(shift.operated, 24));
      expect(shift.refused).toEqual([]);
      expect(shift.tested).toEqual(shift.serials(24));
      expect(shift.checks()).toBeGreaterThan(6 * 3);
    },
  );

  it("tests every unit whose serial is piped in once and in order, however often the check is due", async () => {
    const shift = await stationChecking("170 s");
    await shift.run(scansOfSerials(shift.operated, scanned(shift.serials(30))));
    expect(shift.refused).toEqual([]);
    expect(shift.tested).toEqual(shift.serials(30));
    expect(shift.checks()).toBeGreaterThan(6 * 3);
  });

  it("leaves the reference pieces alone where nobody has signed in, who may test them", async () => {
    const shift = await stationChecking("8 h", false);
    await shift.run(scansOfSeed(shift.operated, 2));
    expect(shift.refused).toEqual(shift.serials(2));
    expect(shift.checks()).toBe(0);
  });

  it("tries a reference piece that fails three times before a unit and leaves it to the station to refuse the unit", async () => {
    const shift = await stationChecking("8 h");
    shift.plant.instruments.get("io_block")?.misbehave("fixture_leak");
    await shift.run(scansOfSeed(shift.operated, 1));
    expect(shift.tested).toEqual([]);
    expect(shift.refused).toEqual(shift.serials(1));
    // Each of the leak pieces three times, and the orifices, which have read what they should, once.
    expect(shift.checks()).toBe(4 * 3 + 2);
  });
});
