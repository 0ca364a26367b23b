import { afterEach, describe, expect, it, vi } from "vitest";
import { InstrumentTail } from "../../station/flight/instrument-tail.ts";
import { TapeWriter } from "../../station/flight/tape-events-codec.ts";
import { changedStation, plain } from "../journeys/plain-station.ts";
import { SimulatedShift } from "../journeys/simulated-shift.ts";

const broken = () => {
  throw new Error("out of memory");
};

describe("a test whose tape breaks passes all the same, and the station warns once", () => {
  afterEach(() => {
    vi.restoreAllMocks();
  });

  it.each([
    ["at the test's begin", () => vi.spyOn(InstrumentTail.prototype, "events").mockImplementation(broken)],
    ["at everything said", () => vi.spyOn(TapeWriter.prototype, "add").mockImplementation(broken)],
    ["on every cable", () => vi.spyOn(InstrumentTail.prototype, "add").mockImplementation(broken)],
    ["at the test's end", () => vi.spyOn(TapeWriter.prototype, "bytes").mockImplementation(broken)],
  ])("%s", { timeout: 120_000 }, async (_, breakTape) => {
    const shift = await SimulatedShift.begin({ tapes: true, stationPath: changedStation(plain) });
    const warnings: string[] = [];
    shift.simulated.station.listen({ warned: (sentence) => warnings.push(sentence) });
    breakTape();
    const { traveller, faults } = await shift.tryUnit(shift.unitWith());
    expect(traveller?.verdict).toBe("pass");
    expect(faults).toEqual([]);
    expect(warnings.filter((warning) => warning.includes("out of memory"))).toHaveLength(1);
  });
});
