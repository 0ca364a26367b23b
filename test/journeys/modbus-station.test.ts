import { describe, expect, it, test } from "vitest";
import { copyCalibrations } from "../../station/calibrations-in-force.ts";
import { modbusDemoCalibration, modbusDemoFile } from "../../station/modbus-demo-file.ts";
import { demoStationPath } from "../../station/wiring.ts";
import { changedStation, plain } from "./plain-station.ts";
import { SimulatedShift } from "./simulated-shift.ts";

/** The demo station with leak gauge, power meter, ambient gauge and I/O block that speak Modbus. */
function modbusStation(): string {
  const path = changedStation((text) => plain(modbusDemoFile(text)));
  copyCalibrations(demoStationPath(), path, [{ model: "POD-4" }], modbusDemoCalibration);
  return path;
}

describe("a shift at a station whose instruments speak Modbus", () => {
  it("ends with the verdicts of the demo station, the same gauges being wrong in the same way", async () => {
    const modbus = await SimulatedShift.begin({ stationPath: modbusStation() });
    const demo = await SimulatedShift.begin({ stationPath: changedStation(plain) });
    // Of the seed's first units one passes and one fails.
    for (const k of [1, 2]) {
      const { serial } = demo.simulated.population.unitAt(k);
      const here = (await modbus.tryBody(serial)).traveller;
      const there = (await demo.tryBody(serial)).traveller;
      expect(here?.verdict, serial).toBe(k === 1 ? "pass" : "fail");
      const verdicts = (of: typeof here) => of?.characteristics.map(({ name, verdict }) => [name, verdict]);
      expect(verdicts(here), serial).toEqual(verdicts(there));
    }
  });

  test.each([
    ["leak_gauge", "measure", "damaged"],
    ["leak_gauge", "measure", "stuck"],
    ["power_meter", "hold", "exception"],
    ["io_block", "measure", "watchdog_trips"],
  ] as const)(
    "is void, and leaves nothing on, when %s in %s is %s; then it goes on",
    async (instrument, phase, day) => {
      const shift = await SimulatedShift.begin({ stationPath: modbusStation() });
      const unit = shift.unitWith();
      const hasStruck = shift.strikeIn(phase, instrument, day);
      const { traveller } = await shift.tryUnit(unit);
      expect(hasStruck()).toBe(true);
      expect(traveller?.verdict).toBe("void");
      await shift.pass(1.5);
      expect(shift.simulated.plant.isSafe).toBe(true);
      shift.heal(instrument);
      await shift.pass(5);
      expect((await shift.tryUnit(unit)).traveller?.verdict).toBe("pass");
    },
  );
});
