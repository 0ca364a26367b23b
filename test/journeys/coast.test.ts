import { afterEach, beforeEach, expect, it, vi } from "vitest";
import { SimulatedShift } from "./simulated-shift.ts";

const warned = vi.spyOn(console, "warn");
beforeEach(() => warned.mockClear());
afterEach(() => expect(warned).not.toHaveBeenCalled());

it.each(["silent", "unplugged", "outputs_not_taken", "watchdog_trips"])(
  "an I/O block that is %s while a dead motor coasts is the station's fault, and nothing is said of the unit",
  async (day) => {
    const shift = await SimulatedShift.proven({ onlyModel: "TUB-12" });
    const wasStruck = shift.strikeIn("coast", "io_block", day);
    const { traveller, faults } = await shift.tryUnit(shift.unitWith("motor_dead"));
    expect(wasStruck()).toBe(true);
    expect(traveller?.verdict).toBe("void");
    expect(faults.map(({ code }) => code)).toContain("OUTPUT_FAULT");
    expect(shift.simulated.station.state()).toBe("faulted");
    await shift.simulated.close();
  },
);
