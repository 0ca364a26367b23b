import { describe, expect, it } from "vitest";
import { SAFE_LEVELS } from "../station/cycle/unit-orders.ts";
import { connectedFixture } from "./connected-fixture.ts";

const FILLING = { source: true, isolate: true, vent: false };

describe("the outputs are called safe", () => {
  it("once the I/O block has confirmed it, and no longer while they are not", async () => {
    const { clock, fixture } = await connectedFixture();
    expect(fixture.areOutputsSafe).toBe(true);
    await clock.runUntil(fixture.command(FILLING));
    expect(fixture.areOutputsSafe).toBe(false);
    await clock.runUntil(fixture.command(SAFE_LEVELS));
    expect(fixture.areOutputsSafe).toBe(true);
  });

  it("never by a command that the I/O block did not confirm, however often it is given", async () => {
    const { clock, plant, fixture } = await connectedFixture();
    await clock.runUntil(fixture.command(FILLING));
    plant.instruments.get("io_block")?.misbehave("outputs_not_taken");
    await clock.runUntil(fixture.makeSafe());
    await clock.runUntil(fixture.makeSafe());
    expect(fixture.areOutputsSafe).toBe(false);
  });

  it("no longer when the I/O block is lost while nothing runs", async () => {
    const { clock, plant, fixture, told } = await connectedFixture();
    plant.instruments.get("io_block")?.misbehave("silent");
    await clock.advance_s(10);
    expect(told.faults).toHaveLength(1);
    expect(fixture.areOutputsSafe).toBe(false);
  });

  it("only with the orifices shut too: a killed program may have left one open, and its successor keeps the watchdog quiet", async () => {
    const { plant, fixture } = await connectedFixture((line) => {
      let send: (bytes: string) => void = () => {};
      const unplug = line.instruments.get("io_block")?.attach({
        send: () => {},
        onBytes: (handler) => {
          send = handler;
        },
        hangUp: () => {},
      });
      send("SET orifice_2=1\r\n");
      unplug?.();
      expect(line.isSafe).toBe(false);
    });
    expect(plant.isSafe).toBe(true);
    expect(fixture.areOutputsSafe).toBe(true);
  });
});
