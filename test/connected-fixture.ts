import { StationPlant } from "../sim/station-plant.ts";
import { VirtualClock } from "../sim/virtual-clock.ts";
import type { Reason } from "../station/cycle/reason.ts";
import { openFixture } from "../station/instruments.ts";
import { readStation } from "../station/load-station.ts";
import { demoStationPath } from "../station/wiring.ts";

/**
 * The demo station's fixture, connected to its simulated instruments, and what it told.
 * @param prepare before it connects
 */
export async function connectedFixture(prepare: (plant: StationPlant) => void = () => {}) {
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
