import { describe, expect, it } from "vitest";
import { changedStation, plain } from "../journeys/plain-station.ts";
import { SimulatedShift } from "../journeys/simulated-shift.ts";
import { replayedSame, tapesIn } from "./tapes.ts";

/** Faults of every layer of the line, and the phase of the test they strike in. */
const FAULTS = [
  { instrument: "leak_gauge", day: "silent", phase: "settle" },
  { instrument: "leak_gauge", day: "garbage", phase: "measure" },
  { instrument: "leak_gauge", day: "half_line", phase: "fill" },
  { instrument: "source_gauge", day: "unplugged", phase: "fill" },
  { instrument: "source_gauge", day: "late", phase: "fill" },
  { instrument: "power_meter", day: "silent", phase: "hold" },
  { instrument: "io_block", day: "unplugged", phase: "hold" },
  { instrument: "io_block", day: "garbage", phase: "measure" },
] as const;

describe("a tape gives the same verdict, reasons and digits again", () => {
  it("of reference pieces, of units that pass and of units that fail, whatever for", {
    timeout: 60_000,
  }, async () => {
    const shift = await SimulatedShift.proven({ tapes: true });
    for (const defects of [[], ["cracked_tub"], ["motor_dead"]])
      await shift.tryUnit(shift.unitWith(...defects));
    const { recordsFolder } = await shift.close();
    const found = [];
    for (const tape of tapesIn(recordsFolder)) found.push(await replayedSame(tape));
    expect(found.filter(({ serial }) => serial.startsWith("REF-")).map(({ verdict }) => verdict)).toEqual([
      "pass",
      "pass",
      "pass",
    ]);
    const verdicts = new Set(found.map(({ verdict }) => verdict));
    expect(verdicts).toEqual(new Set(["pass", "fail"]));
  });

  it.each(FAULTS)(
    "of a test that ended because $instrument was $day in $phase",
    { timeout: 60_000 },
    async (fault) => {
      const shift = await SimulatedShift.begin({ tapes: true, stationPath: changedStation(plain) });
      const struck = shift.strikeIn(fault.phase, fault.instrument, fault.day);
      const { traveller } = await shift.tryBody(shift.unitWith().serial);
      expect(struck()).toBe(true);
      const { recordsFolder } = await shift.close();
      const [tape, ...others] = tapesIn(recordsFolder);
      expect(others).toEqual([]);
      const replayed = await replayedSame(tape ?? "");
      expect(replayed.verdict).toBe(traveller?.verdict);
      expect(replayed.codes).toEqual(traveller?.reasons.map(({ code }) => code));
    },
  );

  it("of a test that the inspector ended, of one that the opened guard ended, and of the one after", {
    timeout: 60_000,
  }, async () => {
    const shift = await SimulatedShift.begin({ tapes: true, stationPath: changedStation(plain) });
    const { station, plant } = shift.simulated;
    const inSettle = (act: () => void) => {
      let isDone = false;
      station.listen({
        phase: (_, phase) => {
          if (phase !== "settle" || isDone) return;
          isDone = true;
          act();
        },
      });
    };
    const [first, second, third] = [0, 1, 2].map((k) => shift.simulated.population.unitAt(k).serial);
    inSettle(() => station.abort());
    await shift.tryBody(first ?? "");
    inSettle(() => plant.guard(false));
    await shift.tryBody(second ?? "");
    plant.guard(true);
    await shift.tryBody(third ?? "");
    const { recordsFolder } = await shift.close();
    const found = [];
    for (const tape of tapesIn(recordsFolder)) found.push(await replayedSame(tape));
    expect(found.slice(0, 2)).toMatchObject([{ codes: ["ABORTED"] }, { codes: ["GUARD_OPENED"] }]);
    expect(found[2]?.verdict).not.toBe("void");
  });

  it("of a test after the instruments were connected anew", { timeout: 60_000 }, async () => {
    const shift = await SimulatedShift.begin({ tapes: true, stationPath: changedStation(plain) });
    const struck = shift.strikeIn("measure", "leak_gauge", "unplugged");
    await shift.tryBody(shift.simulated.population.unitAt(0).serial);
    expect(struck()).toBe(true);
    shift.heal("leak_gauge");
    await shift.tryBody(shift.simulated.population.unitAt(1).serial);
    const { recordsFolder } = await shift.close();
    const found = [];
    for (const tape of tapesIn(recordsFolder)) found.push(await replayedSame(tape));
    expect(found).toMatchObject([{ verdict: "void" }, { verdict: expect.stringMatching(/pass|fail/) }]);
  });
});
