import { describe, expect, it } from "vitest";
import { StationPlant } from "../sim/station-plant.ts";
import { VirtualClock } from "../sim/virtual-clock.ts";
import type { Reason } from "../station/cycle/reason.ts";
import { openFixture } from "../station/instruments.ts";
import { readStation } from "../station/load-station.ts";
import { demoStationPath } from "../station/wiring.ts";

/** The demo station's fixture, connected to its simulated instruments. */
async function connected(prepare: (plant: StationPlant) => void = () => {}) {
  const clock = new VirtualClock();
  const plant = new StationPlant({ clock, seed: 7 });
  const loaded = readStation(demoStationPath(), "simulated");
  const fixture = await openFixture({
    ...loaded,
    clock,
    attach: (name) => {
      const instrument = plant.instruments.get(name);
      return instrument && ((far) => instrument.attach(far));
    },
  });
  const told = { presses: 0, stuck: [] as Reason[], faults: [] as Reason[] };
  const listener = {
    guard: () => {},
    startPressed: () => {
      told.presses++;
    },
    startStuck: (reason: Reason) => told.stuck.push(reason),
    fault: (reason: Reason) => told.faults.push(reason),
  };
  prepare(plant);
  await clock.runUntil(fixture.connect(listener));
  const stick = (isStuck: boolean) =>
    plant.instruments.get("io_block")?.misbehave(isStuck ? "start_stuck" : null);
  return { clock, plant, fixture, listener, told, stick };
}

describe("the start button", () => {
  it("starts when it is pressed after the unit was armed, once for each press", async () => {
    const { clock, plant, fixture, told } = await connected();
    fixture.expectStart();
    await clock.advance_s(1);
    plant.pressStart();
    await clock.advance_s(1);
    expect(told.presses).toBe(1);
    plant.pressStart();
    await clock.advance_s(1);
    expect(told).toMatchObject({ presses: 2, stuck: [] });
  });

  it("starts nothing before a unit is armed", async () => {
    const { clock, plant, told } = await connected();
    await clock.advance_s(1);
    plant.pressStart();
    await clock.advance_s(1);
    expect(told.presses).toBe(0);
  });

  it("starts nothing when it was down already as the unit was armed, until it has been let go of", async () => {
    const { clock, plant, fixture, told, stick } = await connected();
    stick(true);
    await clock.advance_s(0.5);
    fixture.expectStart();
    await clock.advance_s(2);
    expect(told.presses).toBe(0);
    expect(fixture.startRefusal()?.code).toBe("START_BUTTON_STUCK");
    stick(false);
    await clock.advance_s(0.5);
    expect(fixture.startRefusal()).toBeNull();
    expect(told.presses).toBe(0);
    plant.pressStart();
    await clock.advance_s(0.5);
    expect(told.presses).toBe(1);
  });

  it("starts nothing by a press that may have begun before the unit was armed", async () => {
    const { clock, plant, fixture, told } = await connected();
    await clock.advance_s(1);
    // Between two looks at the inputs: the next one sees both at once.
    plant.pressStart();
    fixture.expectStart();
    await clock.advance_s(2);
    expect(told.presses).toBe(0);
  });

  it("is called stuck after five seconds, again every five seconds, and no more once it is up", async () => {
    const { clock, told, stick } = await connected();
    await clock.advance_s(1);
    stick(true);
    await clock.advance_s(4.9);
    expect(told.stuck).toEqual([]);
    await clock.advance_s(0.3);
    expect(told.stuck).toMatchObject([{ code: "START_BUTTON_STUCK", instrument: "io_block" }]);
    expect(told.stuck[0]?.sentence).toMatch(/stuck or held down\. Let go of it/);
    await clock.advance_s(5);
    expect(told.stuck).toHaveLength(2);
    stick(false);
    await clock.advance_s(20);
    expect(told.stuck).toHaveLength(2);
  });

  it("is called stuck when it is down from the moment the station connects, and starts nothing", async () => {
    const { clock, fixture, told } = await connected((plant) =>
      plant.instruments.get("io_block")?.misbehave("start_stuck"),
    );
    fixture.expectStart();
    expect(fixture.startRefusal()?.code).toBe("START_BUTTON_STUCK");
    await clock.advance_s(6);
    expect(told).toMatchObject({ presses: 0, stuck: [{ code: "START_BUTTON_STUCK" }] });
  });

  it("held long by the press that started is no reason to refuse that start", async () => {
    const { clock, fixture, told, stick } = await connected();
    fixture.expectStart();
    await clock.advance_s(1);
    stick(true);
    await clock.advance_s(2);
    expect(told.presses).toBe(1);
    expect(fixture.startRefusal()).toBeNull();
  });

  it("tells nothing once the station no longer listens", async () => {
    const { clock, fixture, told, stick } = await connected();
    stick(true);
    await clock.advance_s(1);
    fixture.stopListening();
    await clock.advance_s(20);
    expect(told).toMatchObject({ presses: 0, stuck: [] });
  });
});

describe("a fault of an instrument", () => {
  it("names the instrument, whose last lines can then be read", async () => {
    const { clock, plant, fixture, told } = await connected();
    await clock.advance_s(1);
    plant.instruments.get("io_block")?.misbehave("silent");
    await clock.advance_s(2);
    expect(told.faults).toMatchObject([{ code: "INSTRUMENT_FAULT", instrument: "io_block" }]);
    const lines = fixture.conversations().find(({ instrument }) => instrument === "io_block")?.lines ?? [];
    expect(lines).toHaveLength(20);
    expect(lines.slice(-3)).toMatchObject([
      { direction: "sent", text: "GET" },
      { text: "(no answer)" },
      { text: "(cable closed)" },
    ]);
  });

  it("leaves the lines of the instruments that are well to be read as well, the I/O block's last", async () => {
    const { clock, fixture } = await connected();
    await clock.advance_s(0.5);
    const conversations = fixture.conversations();
    expect(conversations.map(({ instrument }) => instrument)).toEqual([
      "leak_gauge",
      "source_gauge",
      "airflow_gauge",
      "power_meter",
      "ambient",
      "io_block",
    ]);
    expect(conversations.every(({ lines }) => lines.length >= 2)).toBe(true);
  });
});
