import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { travellersIn } from "../records/scratch-folder.ts";
import { FaultBench } from "./fault-bench.ts";
import { changedStation, plain } from "./plain-station.ts";

const folder = mkdtempSync(join(tmpdir(), "drumtight-bad-days-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe("a leaking unit", { timeout: 300_000 }, () => {
  it("passes on no bad day of any instrument, whenever it begins, and every attempt has one traveller", async () => {
    const stationPath = changedStation(plain, folder);
    const bench = await FaultBench.open({ recordsFolder: join(folder, "records"), stationPath });
    const days = [...bench.simulated.plant.instruments].flatMap(([name, instrument]) =>
      instrument.badDays.map((day) => [name, day] as const),
    );
    expect(days.length).toBeGreaterThan(100);
    const tested = new Set<string>();
    for (const [instrument, day] of days) {
      // The leak step does not ask the others: when in it their day begins makes no difference.
      const isAsked = ["leak_gauge", "source_gauge", "io_block"].includes(instrument);
      for (const phase of isAsked ? ["fill", "measure"] : ["measure"]) {
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
