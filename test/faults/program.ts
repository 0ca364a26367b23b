import type { FarEnd } from "../../drivers/ports.ts";
import type { StationPlant } from "../../sim/station-plant.ts";
import type { VirtualClock } from "../../sim/virtual-clock.ts";
import type { LoadedStation } from "../../station/load-station.ts";
import { openStation, type RunningStation } from "../../station/wiring.ts";
import { type DiskState, ModelledDisk } from "./modelled-disk.ts";
import type { CrashKind } from "./platter.ts";
import { ProgramClock, type WallClock } from "./program-clock.ts";

export interface Machine {
  readonly world: VirtualClock;
  readonly wall: WallClock;
  readonly plant: StationPlant;
  readonly disk: DiskState;
  readonly recordsFolder: string;
}

/** Listens at the cables. */
export interface CableTap {
  /** A text from an instrument on its way to the station. @returns what arrives of it */
  toStation(instrument: string, text: string): string;
  /** A text from the station has reached an instrument. */
  reached(instrument: string): void;
  /** Instrument and station begin a new connection. */
  connected(instrument: string): void;
}

/**
 * One run of the station's program on the machine, from its start to its end by whatever way. What it does afterwards, as code
 * that is still there, reaches neither cable nor disk, and no timer of it fires.
 */
export class Program {
  readonly clock: ProgramClock;
  readonly #machine: Machine;
  readonly #disk: ModelledDisk;
  readonly #unplug: (() => void)[] = [];
  #end: () => void = () => {};
  /** Resolves when the program has ended. */
  readonly ended: Promise<void>;
  running: RunningStation | null = null;

  constructor(machine: Machine) {
    this.#machine = machine;
    this.clock = new ProgramClock(machine.world, machine.wall);
    const { clock } = this;
    this.#disk = new ModelledDisk(machine.disk, {
      isRunning: () => clock.isRunning,
      setTimeout: (fn, delay_ms) => clock.setTimeout(fn, delay_ms),
    });
    this.ended = new Promise((resolve) => {
      this.#end = resolve;
    });
  }

  get isRunning(): boolean {
    return this.clock.isRunning;
  }

  /** @throws what keeps the station from opening; never settles where the program ends meanwhile */
  async open(loaded: LoadedStation, tap: CableTap): Promise<RunningStation> {
    const { plant, recordsFolder } = this.#machine;
    this.running = await openStation({
      ...loaded,
      clock: this.clock,
      recordsFolder,
      allowDrafts: false,
      disk: this.#disk,
      // They are written by other ways than the modelled disk, and only once the traveller is safe.
      tapes: false,
      attach: (name) => {
        const instrument = plant.instruments.get(name);
        return instrument && ((far) => this.#plugIn(name, far, tap));
      },
    });
    return this.running;
  }

  /** Something somebody does at the station; a program that is held up sees it when it goes on. */
  act(deed: (running: RunningStation) => void): void {
    this.clock.arrive(() => {
      if (this.running) deed(this.running);
    });
  }

  /** The program is gone, and with it whatever it knew; cables are let go of. */
  crash(how: CrashKind): void {
    if (!this.isRunning) return;
    const { platter, random } = this.#machine.disk;
    this.clock.end();
    for (const unplug of this.#unplug) unplug();
    this.#disk.abandon();
    platter.crash(how, this.#disk.user, random);
    this.#end();
  }

  #plugIn(name: string, far: FarEnd, tap: CableTap): void {
    const { clock } = this;
    const instrument = this.#machine.plant.instruments.get(name);
    if (!instrument) return;
    tap.connected(name);
    const unplug = instrument.attach({
      send: (text) => clock.arrive(() => far.send(tap.toStation(name, text))),
      onBytes: (handler) =>
        far.onBytes((bytes) => {
          if (!this.isRunning) return;
          handler(bytes);
          tap.reached(name);
        }),
      hangUp: () => clock.arrive(() => far.hangUp()),
    });
    this.#unplug.push(unplug);
  }
}
