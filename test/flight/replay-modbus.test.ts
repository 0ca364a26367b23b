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
});
