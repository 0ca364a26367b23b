import { readFileSync } from "node:fs";
import { dirname, join, resolve } from "node:path";
import type { Clock, FarEnd, Transport } from "../drivers/ports.ts";
import type { Profile } from "../drivers/profile.ts";
import { loadProfile, ownProfilesFolder } from "../drivers/profile-file.ts";
import { AsciiIoBlock } from "../drivers/protocols/ascii-io.ts";
import { AsciiLineGauge } from "../drivers/protocols/ascii-line.ts";
import { RealClock } from "../drivers/real-clock.ts";
import { MemoryTransport } from "../drivers/transports/memory.ts";
import { PacedClock } from "../sim/paced-clock.ts";
import { Population, type SimulatedUnit } from "../sim/population.ts";
import { referencePieces } from "../sim/reference-pieces.ts";
import { StationPlant } from "../sim/station-plant.ts";
import { VirtualClock } from "../sim/virtual-clock.ts";
import { type Records, StationController } from "./controller.ts";
import type { ModelInForce } from "./cycle/refusals.ts";
import { UsageError } from "./explain.ts";
import { Fixture } from "./fixture.ts";
import { loadModels } from "./models-in-force.ts";
import { packageRoot, softwareName } from "./package-root.ts";
import { type Recorded, RecordStore } from "./records/store.ts";
import {
  type GaugeSettings,
  type InstrumentSettings,
  readStationFile,
  type StationFile,
} from "./station-file.ts";

/** The far end of a simulated instrument's cable, by the instrument's station-file name. */
export type Attach = (instrument: string) => ((far: FarEnd) => void) | undefined;

export interface StationSetup {
  readonly file: StationFile;
  /** Folders searched for profiles, before the built-in ones. */
  readonly profileFolders: readonly string[];
  readonly models: readonly ModelInForce[];
  readonly clock: Clock;
  readonly recordsFolder: string;
  readonly allowDrafts: boolean;
  /** Given for simulated stations: memory transports end there. */
  readonly attach?: Attach;
  /** Given where time is virtual: it must stand still while a record is written. */
  readonly hold?: () => () => void;
}

export interface RunningStation {
  readonly station: StationController;
  /** Attempts an earlier run of the program began and never finished; void now. */
  readonly interrupted: readonly Recorded[];
  close(): Promise<void>;
}

/**
 * @param onlyModel the one model on the line now; others' serials are then refused
 * @throws UsageError when the file can't be read or has no such model, FileProblems when something in it is wrong
 */
export function loadStation(
  path: string,
  onlyModel?: string,
): Pick<StationSetup, "file" | "profileFolders" | "models"> {
  const absolute = resolve(path);
  let text: string;
  try {
    text = readFileSync(absolute, "utf8");
  } catch (error) {
    const why = error instanceof Error ? error.message : String(error);
    throw new UsageError(`The station file ${path} can't be read (${why}). Give another one with --station.`);
  }
  const file = readStationFile(absolute, text);
  const all = loadModels(file);
  const models = onlyModel === undefined ? all : all.filter(({ limits }) => limits.model === onlyModel);
  if (models.length === 0) {
    const known = all.map(({ limits }) => limits.model).join(", ");
    throw new UsageError(`There is no model ${onlyModel} in ${file.limitsFolder}; there are: ${known}.`);
  }
  return { file, profileFolders: [dirname(absolute), ownProfilesFolder()], models };
}

/** The station of the invented demo plant, every instrument simulated. */
export function demoStationPath(): string {
  return join(packageRoot(), "sim", "demo-station.yaml");
}

/**
 * Opens the records (which makes interrupted attempts void), connects every instrument and makes the outputs safe.
 * @throws RecordError, DriverError, FileProblems
 */
export async function openStation(setup: StationSetup): Promise<RunningStation> {
  const { file, clock, recordsFolder, models, allowDrafts } = setup;
  const fixture = await openFixture(setup);
  const held = holder(setup.hold);
  const { store, interrupted } = await held(() =>
    RecordStore.open({ folder: recordsFolder, clock, station: file.name }),
  );
  try {
    const station = await StationController.open({
      file,
      models,
      clock,
      fixture,
      store: heldRecords(store, held),
      software: softwareName(),
      isSimulated: setup.attach !== undefined,
      allowDrafts,
    });
    return {
      station,
      interrupted,
      async close() {
        await station.close();
        await held(() => store.close());
      },
    };
  } catch (error) {
    await held(() => store.close());
    throw error;
  }
}

export interface SimulatedSetup {
  readonly seed: number;
  /** Virtual: time runs as fast as the arithmetic. Real: as on the line. */
  readonly pace: "virtual" | "real";
  /** Made under the station's records folder, new for each run, when not given. */
  readonly recordsFolder?: string;
  readonly allowDrafts: boolean;
  readonly onlyModel?: string;
}

export interface SimulatedStation extends RunningStation {
  readonly file: StationFile;
  /** Models on the line. */
  readonly models: readonly ModelInForce[];
  readonly recordsFolder: string;
  readonly plant: StationPlant;
  readonly population: Population;
  /** Bodies of the station file's reference pieces, by serial. */
  readonly referenceBodies: ReadonlyMap<string, SimulatedUnit>;
  readonly clock: Clock;
  /** Lets time run until this has happened; in real time it only waits. */
  runUntil<T>(happened: Promise<T>): Promise<T>;
}

/** The demo plant's station with simulated instruments on simulated cables, and the units of a seed. */
export async function openSimulatedStation(setup: SimulatedSetup): Promise<SimulatedStation> {
  const loaded = loadStation(demoStationPath(), setup.onlyModel);
  const limits = loaded.models.map((model) => model.limits);
  const virtual = setup.pace === "virtual" ? new VirtualClock() : null;
  const clock = virtual ?? new PacedClock(new RealClock());
  const plant = new StationPlant({ clock, seed: setup.seed, models: limits });
  const recordsFolder = setup.recordsFolder ?? join(loaded.file.recordsFolder, runName(setup.seed));
  const opening = openStation({
    ...loaded,
    clock,
    recordsFolder,
    allowDrafts: setup.allowDrafts,
    attach: (instrument) => {
      const simulated = plant.instruments.get(instrument);
      return simulated && ((far) => simulated.attach(far));
    },
    ...(virtual ? { hold: () => virtual.hold() } : {}),
  });
  const runUntil = <T>(happened: Promise<T>) => (virtual ? virtual.runUntil(happened) : happened);
  const running = await runUntil(opening);
  return {
    ...running,
    file: loaded.file,
    models: loaded.models,
    recordsFolder,
    plant,
    population: new Population({ seed: setup.seed, models: limits }),
    referenceBodies: new Map(
      limits.flatMap((model) => {
        const { tight, leak } = referencePieces(model);
        return [tight, leak].map(({ unit }) => [unit.serial, unit] as const);
      }),
    ),
    clock,
    runUntil,
    close: () => runUntil(running.close()),
  };
}

/** Each simulated run gets a folder of its own: its serials come back with the next run of the same seed. */
function runName(seed: number): string {
  return `${new Date().toISOString().replace(/[:.]/g, "").replace("T", "-").slice(0, 17)}-seed-${seed}`;
}

async function openFixture(setup: StationSetup): Promise<Fixture> {
  const { file, clock } = setup;
  const gauges = await Promise.all(
    file.gauges.map(async (settings) => {
      const profile = loadProfile(settings.profile, setup.profileFolders);
      if (profile.kind !== "gauge") throw wrongKind(settings, "a gauge");
      requireChannels(settings, profile);
      const transport = await transportFor(settings, profile, setup);
      return new AsciiLineGauge({ name: settings.name, profile, transport, clock });
    }),
  );
  const ioProfile = loadProfile(file.ioBlock.profile, setup.profileFolders);
  if (ioProfile.kind !== "io_block") throw wrongKind(file.ioBlock, "an I/O block");
  const ioTransport = await transportFor(file.ioBlock, ioProfile, setup);
  const ioBlock = new AsciiIoBlock({
    name: file.ioBlock.name,
    profile: ioProfile,
    transport: ioTransport,
    clock,
  });
  const expectedIdentity = new Map(
    file.gauges.flatMap((settings) =>
      settings.identity === null ? [] : [[settings.name, settings.identity]],
    ),
  );
  return new Fixture({ gauges, outputs: ioBlock, inputs: ioBlock, expectedIdentity });
}

/** Serial and TCP are loaded only where a station uses them: the serial binding takes time to load. */
async function transportFor(
  settings: InstrumentSettings,
  profile: Profile,
  setup: StationSetup,
): Promise<Transport> {
  const { transport, name: instrument } = settings;
  const common = { instrument, framing: profile.framing, clock: setup.clock };
  switch (transport.kind) {
    case "serial": {
      const { SerialTransport } = await import("../drivers/transports/serial.ts");
      return new SerialTransport({ ...common, path: transport.port, settings: profile.port });
    }
    case "tcp": {
      const { TcpTransport } = await import("../drivers/transports/tcp.ts");
      return new TcpTransport({ ...common, host: transport.host, port: transport.port });
    }
    case "memory": {
      const attach = setup.attach?.(instrument);
      if (attach) return new MemoryTransport({ ...common, attach });
      throw new UsageError(
        `${instrument} has a memory transport, which only simulated stations have. Give it a serial or tcp transport in the station file.`,
      );
    }
  }
}

function requireChannels(settings: GaugeSettings, profile: Extract<Profile, { kind: "gauge" }>): void {
  const delivered = profile.channels.map((channel) => channel.name);
  for (const channel of settings.channels.keys()) {
    if (delivered.includes(channel)) continue;
    throw new UsageError(
      `${settings.name}: the profile ${settings.profile} has no channel ${channel}; it has ${delivered.join(", ")}. Correct the station file.`,
    );
  }
}

function wrongKind(settings: InstrumentSettings, wanted: string): UsageError {
  return new UsageError(
    `${settings.name}: the profile ${settings.profile} is not that of ${wanted}. Correct the station file.`,
  );
}

type Held = <T>(work: () => Promise<T>) => Promise<T>;

/** Files are read and written outside virtual time, so it has to wait for them. */
function holder(hold: StationSetup["hold"]): Held {
  if (!hold) return (work) => work();
  return async (work) => {
    const release = hold();
    try {
      return await work();
    } finally {
      release();
    }
  };
}

function heldRecords(store: RecordStore, held: Held): Records {
  return {
    begin: (facts) => held(() => store.begin(facts)),
    commit: (open, outcome) => held(() => store.commit(open, outcome)),
    voidOpenAttempts: () => held(() => store.voidOpenAttempts()),
    history: (serial) => held(() => store.history(serial)),
    freeBytes: () => held(() => store.freeBytes()),
  };
}
