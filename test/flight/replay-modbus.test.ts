import { describe, expect, it } from "vitest";
import { copyCalibrations } from "../../station/calibrations-in-force.ts";
import { modbusDemoCalibration, modbusDemoFile } from "../../station/modbus-demo-file.ts";
import { demoStationPath } from "../../station/wiring.ts";
import { changedStation, plain } from "../journeys/plain-station.ts";
import { SimulatedShift } from "../journeys/simulated-shift.ts";
import { replayedSame, tapesIn } from "./tapes.ts";

describe("a tape of gauges and an I/O block that speak Modbus", () => {
  it("gives the same digits again: of a pass, a fail, a damaged answer, and the test after connecting anew", {
    timeout: 120_000,
  }, async () => {
    const stationPath = changedStation((text) => plain(modbusDemoFile(text)));
    copyCalibrations(demoStationPath(), stationPath, [{ model: "POD-4" }], modbusDemoCalibration);
    const shift = await SimulatedShift.begin({ stationPath, tapes: true });
    const serial = (k: number) => shift.simulated.population.unitAt(k).serial;
    // Of the seed's first units one passes and one fails.
    const travellers = [await shift.tryBody(serial(1)), await shift.tryBody(serial(2))];
    const struck = shift.strikeIn("measure", "leak_gauge", "damaged");
    travellers.push(await shift.tryBody(serial(3)));
    expect(struck()).toBe(true);
    shift.heal("leak_gauge");
    travellers.push(await shift.tryBody(serial(4)));
    const recorded = travellers.map(({ traveller }) => traveller?.verdict);
    expect(recorded.slice(0, 3)).toEqual(["pass", "fail", "void"]);
    const { recordsFolder } = await shift.close();
    const found = [];
    for (const tape of tapesIn(recordsFolder)) found.push(await replayedSame(tape));
    expect(found.map(({ verdict }) => verdict)).toEqual(recorded);
    expect(found[2]?.codes).toEqual(["INSTRUMENT_FAULT"]);
    expect(found[3]?.verdict).not.toBe("void");
  });

  it.each([25, 60])(
    "gives the same digits again where the next unit is started while a block that takes %i ms to answer is still being looked at after connecting",
    { timeout: 120_000 },
    async (answers_ms) => {
      const stationPath = changedStation((text) => plain(modbusDemoFile(text)));
      copyCalibrations(demoStationPath(), stationPath, [{ model: "POD-4" }], modbusDemoCalibration);
      const shift = await SimulatedShift.begin({ stationPath, tapes: true });
      const { plant, clock, population } = shift.simulated;
      const serial = (k: number) => population.unitAt(k).serial;
      const block = plant.instruments.get("io_block");
      if (!block) throw new Error("The demo station has an I/O block.");
      const attach = block.attach.bind(block);
      block.attach = (far) =>
        attach({
          send: (bytes) => far.send(bytes),
          hangUp: () => far.hangUp(),
          onBytes: (hear) => far.onBytes((bytes) => void clock.setTimeout(() => hear(bytes), answers_ms)),
        });
      const struck = shift.strikeIn("fill", "leak_gauge", "unplugged");
      const recorded = [(await shift.tryBody(serial(1))).traveller?.verdict];
      expect(struck()).toBe(true);
      shift.heal("leak_gauge");
      for (const k of [2, 3, 4]) recorded.push((await shift.tryBody(serial(k))).traveller?.verdict);
      const { recordsFolder } = await shift.close();
      const found = [];
      for (const tape of tapesIn(recordsFolder)) found.push((await replayedSame(tape)).verdict);
      expect(found).toHaveLength(4);
      expect(found.slice(1)).toEqual(recorded.slice(1));
    },
  );
});
