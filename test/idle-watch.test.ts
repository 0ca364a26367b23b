import { describe, expect, it } from "vitest";
import type { Reason } from "../station/cycle/reason.ts";
import { IdleWatch } from "../station/idle-watch.ts";
import { connectedFixture } from "./connected-fixture.ts";

async function watched(first: string) {
  const { clock, plant, fixture } = await connectedFixture();
  const faults: Reason[] = [];
  const station = { state: first };
  const watch = new IdleWatch({
    clock,
    state: () => station.state,
    ask: () => fixture.askGauges(),
    fault: (reason) => {
      faults.push(reason);
      station.state = "faulted";
    },
  });
  const lose = (gauge: string, day: string) => plant.instruments.get(gauge)?.misbehave(day);
  return { clock, faults, station, watch, lose };
}

describe("a gauge that is lost while the station waits", () => {
  it.each([
    ["ready", "leak_gauge", "unplugged"],
    ["needsReference", "leak_gauge", "silent"],
    ["armed", "power_meter", "silent"],
  ])("stops it within seconds, by name: %s, %s %s", async (state, gauge, day) => {
    const { clock, faults, watch, lose } = await watched(state);
    await clock.advance_s(20);
    expect(faults).toEqual([]);
    lose(gauge, day);
    await clock.advance_s(12);
    expect(faults).toMatchObject([{ code: "INSTRUMENT_FAULT", instrument: gauge }]);
    watch.stop();
  });

  it("is a test's own matter while one runs, and nobody's once the station is closed", async () => {
    const { clock, faults, station, watch, lose } = await watched("testing");
    lose("leak_gauge", "unplugged");
    await clock.advance_s(20);
    expect(faults).toEqual([]);
    station.state = "ready";
    watch.stop();
    await clock.advance_s(20);
    expect(faults).toEqual([]);
  });
});
