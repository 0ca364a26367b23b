import { join } from "node:path";
import { setImmediate } from "node:timers/promises";
import type { Clock } from "../drivers/ports.ts";
import { RealClock } from "../drivers/real-clock.ts";
import { readDrift } from "../sim/drift.ts";
import { Hands } from "../sim/hands.ts";
import { MODBUS_INSTRUMENTS, type ModbusInstrumentName } from "../sim/instruments/modbus-demo.ts";
import { LineUp } from "../sim/line-up.ts";
import { PacedClock } from "../sim/paced-clock.ts";
import { Population, type SimulatedUnit } from "../sim/population.ts";
import { referencePieces } from "../sim/reference-pieces.ts";
import { StationPlant } from "../sim/station-plant.ts";
import { VirtualClock } from "../sim/virtual-clock.ts";
import { calendarDate } from "./calendar-date.ts";
import { limitsLook } from "./changed-limits.ts";
import { StationController } from "./controller.ts";
import type { ModelInForce } from "./cycle/refusals.ts";
import { DailyHeads } from "./daily-heads.ts";
import { UsageError } from "./explain.ts";
import { filesInForce } from "./files-in-force.ts";
import { FlightRecorder } from "./flight/flight-recorder.ts";
import { FilesForTapes } from "./flight/tape-contents.ts";
import { TapeKeeper } from "./flight/tape-keeper.ts";
import { recordedForPlan } from "./guided-study/recorded-for-plan.ts";
import { requireForStation, StudyGuide } from "./guided-study/study-guide.ts";
import type { StudySetup } from "./guided-study/study-setup.ts";
import { type InstrumentSetup, openFixture } from "./instruments.ts";
import { type LoadedStation, readStation } from "./load-station.ts";
import { type LimitRevision, modelsOn } from "./models-in-force.ts";
import { refuseOlder } from "./older-limits.ts";
import { packageRoot, softwareName } from "./package-root.ts";
import type { Disk } from "./records/disk.ts";
import type { Disposition } from "./records/disposition.ts";
import { keepFiles } from "./records/kept-files.ts";
import { type Recorded, RecordStore } from "./records/store.ts";
import { newRunFolder } from "./run-folder.ts";
import type { StationFile } from "./station-file.ts";
import type { Records } from "./station-records.ts";

export interface StationSetup extends InstrumentSetup {
  readonly source: LoadedStation["source"];
  readonly models: readonly LimitRevision[];
  readonly calibrationsAt: LoadedStation["calibrationsAt"];
  readonly misnamedCalibrations: LoadedStation["misnamedCalibrations"];
  readonly allModels: LoadedStation["allModels"];
  readonly reread: LoadedStation["reread"];
  readonly limitFiles: LoadedStation["limitFiles"];
  readonly recordsFolder: string;
  readonly allowDrafts: boolean;
  /** Measured instead of testing production. */
  readonly study?: StudySetup;
  /** Keep each attempt's raw conversation, unless the station file says no; when not given, only where time is real. */
  readonly tapes?: boolean;
  /** Given where time is virtual: it must stand still while a record is written. */
  readonly hold?: () => () => void;
  /** Where the records folder lies; the machine's own disk when not given. */
  readonly disk?: Disk;
}

export interface RunningStation {
  readonly station: StationController;
  /** Attempts an earlier run of the program began and never finished; void now. */
  readonly interrupted: readonly Recorded[];
  /** Units in doubt by a reference check that failed in an earlier run, on hold only now. */
  readonly held: readonly Disposition[];
  /** Calibrations that are passed over though nothing is refused for it, a sentence each. */
  readonly passedOver: readonly string[];
  /** What could not be seen of whether the records are all there, and limits that may not judge any more, a sentence each. */
  readonly unseen: readonly string[];
  close(): Promise<void>;
}

/**
 * @param onlyModel the one model on the line now; others' serials are then refused
 * @param cables "simulated" where `attach` is given when the station is opened
 * @throws UsageError when the file can't be read or has no such model, FileProblems with everything wrong in it, its
 * profiles and its limit files
 */
export function loadStation(
  path: string,
  onlyModel?: string,
  cables: "real" | "simulated" = "real",
): LoadedStation {
  const loaded = readStation(path, cables);
  if (onlyModel === undefined) return loaded;
  const models = loaded.models.filter(({ limits }) => limits.model === onlyModel);
  if (models.length === 0) {
    const known = loaded.allModels.join(", ");
    throw new UsageError(
      `There is no model ${onlyModel} in ${loaded.file.limitsFolder}; there are: ${known}.`,
    );
  }
  return { ...loaded, models };
}

/** The station of the invented demo plant, every instrument simulated. */
export function demoStationPath(): string {
  return join(packageRoot(), "sim", "demo-station.yaml");
}

/**
 * Opens the records (which makes interrupted attempts void), connects every instrument and makes the outputs safe.
 * @throws RecordError, DriverError, FileProblems; UsageError where a study is not planned for this station
 */
export async function openStation(setup: StationSetup): Promise<RunningStation> {
  const { file, clock, recordsFolder, allowDrafts } = setup;
  const held = holder(setup.hold);
  const today = calendarDate(clock.wall_ms());
  const chosen = modelsOn(setup.models, today, allowDrafts);
  if (setup.study) requireForStation(setup.study.plan, { name: file.name, models: chosen.models });
  const heads = dailyHeads(setup, held);
  const unseen: string[] = [];
  const recorder = isTaped(setup) ? flightRecorder(setup) : null;
  const fixture = await held(() => openFixture(recorder ? taped(setup, recorder) : setup));
  const { store, interrupted } = await held(() =>
    RecordStore.open({
      folder: recordsFolder,
      clock,
      station: file.name,
      requireComplete: async (pathOf) => {
        unseen.push(...((await heads?.requireComplete(pathOf)) ?? []));
      },
      ...(setup.disk ? { disk: setup.disk } : {}),
    }),
  );
  try {
    const { models, refused } = await held(() =>
      refuseOlder(chosen.models, store, trustedNow(setup), setup.disk),
    );
    unseen.push(...refused, ...chosen.notes);
    const calibrations = setup.calibrationsAt(
      clock.wall_ms(),
      models.map(({ limits }) => limits),
    );
    const deciding = filesInForce({ ...setup, models, calibrations });
    const in_force = await held(() => keepFiles(recordsFolder, deciding, setup.disk));
    let warn = (sentence: string) => {
      unseen.push(sentence);
    };
    const head = heads && (await held(() => heads.open(store, (sentence) => warn(sentence))));
    const records = heldRecords(store, held);
    const { study: planned } = setup;
    const study = planned && (await held(() => guideOf(planned, store)));
    const forTapes = recorder ? new FilesForTapes(setup.source, file, deciding, softwareName()) : null;
    const keeper =
      recorder && forTapes && file.flightRecorder
        ? new TapeKeeper({
            recordsFolder,
            allowance: file.flightRecorder,
            leastFreeDisk_bytes: file.leastFreeDisk_bytes,
            freeBytes: () => store.freeBytes(),
            clock,
            files: forTapes,
            warn: (sentence) => warn(sentence),
            held,
          })
        : null;
    keeper?.start();
    const look = limitsLook({
      loaded: setup,
      atStart: { today, told: chosen.notes },
      allowDrafts,
      refuseOlder: async (them) => (await refuseOlder(them, store, trustedNow(setup), setup.disk)).models,
      keep: async (judging) => {
        const files = filesInForce({ ...setup, ...judging });
        const kept = await keepFiles(recordsFolder, files, setup.disk);
        forTapes?.take(files);
        return kept;
      },
      wall_ms: () => clock.wall_ms(),
    });
    const { station, held: heldUnits } = await StationController.open({
      file,
      judging: { models, calibrations },
      lookAtLimits: (now) => held(() => look(now)),
      clock,
      fixture,
      store: records,
      pause: () => held(() => setImmediate()),
      software: softwareName(),
      allowDrafts,
      ...(study ? { study } : {}),
      flight: recorder && keeper && { recorder, keeper },
      atOpening: { in_force, ...(head ? { head } : {}) },
    });
    warn = (sentence) => station.warn(sentence);
    return {
      station,
      interrupted,
      held: heldUnits,
      passedOver: [
        ...[...calibrations.values()].flatMap(({ problems }) => problems),
        ...setup.misnamedCalibrations(),
      ]
        .filter(({ what }) => what !== "unusable")
        .map(({ sentence }) => sentence),
      unseen,
      async close() {
        await station.close();
        await held(async () => {
          await heads?.close();
          await store.close();
        });
      },
    };
  } catch (error) {
    heads?.stop();
    await held(() => store.close());
    throw error;
  }
}

async function guideOf({ plan, evaluate }: StudySetup, store: RecordStore): Promise<StudyGuide> {
  const recorded = await recordedForPlan(plan, store.folder, (serial) => store.history(serial));
  return new StudyGuide(plan, recorded, evaluate(store.folder));
}

function trustedNow({ file, clock }: StationSetup) {
  return { approvers: file.approvers, today: calendarDate(clock.wall_ms()) };
}

function isTaped({ file, tapes, hold }: StationSetup): boolean {
  return file.flightRecorder !== null && (tapes ?? hold === undefined);
}

function flightRecorder({ file, profiles, clock }: StationSetup): FlightRecorder {
  const all = [...file.gauges, file.ioBlock];
  const streaming = file.gauges.filter(({ profile }) => isStreaming(profiles, profile));
  return new FlightRecorder({
    clock,
    instruments: all.map(({ name }) => name),
    streaming: new Set(streaming.map(({ name }) => name)),
  });
}

function isStreaming(profiles: StationSetup["profiles"], name: string): boolean {
  const profile = profiles.get(name);
  return profile?.kind === "gauge" && profile.mode.kind === "stream";
}

function taped(setup: StationSetup, recorder: FlightRecorder): StationSetup {
  return {
    ...setup,
    tap: (instrument, bytes) => recorder.tap(instrument, setup.tap?.(instrument, bytes) ?? bytes),
    gate: recorder,
  };
}

function dailyHeads({ file, clock, recordsFolder, disk }: StationSetup, held: Held): DailyHeads | null {
  const { dailyHead: settings, name: station } = file;
  return (
    settings && new DailyHeads({ settings, recordsFolder, station, clock, held, ...(disk ? { disk } : {}) })
  );
}

export interface SimulatedSetup {
  readonly seed: number;
  /** Virtual: time runs as fast as the arithmetic. Real: as on the line. */
  readonly pace: "virtual" | "real";
  /** Virtual pace: wall time at the beginning, for a run that goes on after another one. */
  readonly startsAt_ms?: number;
  /** At real pace: so many times as fast. */
  readonly speed?: number;
  /** Made under the station's records folder, new for each run, when not given. */
  readonly recordsFolder?: string;
  readonly allowDrafts: boolean;
  readonly onlyModel?: string;
  readonly study?: StudySetup;
  /** Another station file than the demo plant's, of the same instruments. */
  readonly stationPath?: string;
  /** Keep each attempt's raw conversation; when not given, only at real pace. */
  readonly tapes?: boolean;
  /** Of the units, as somebody typed it. */
  readonly drift?: string;
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
  /** The body with this serial, unit or reference piece; null when the seed has none. */
  unitOf(serial: string): SimulatedUnit | null;
  readonly clock: Clock;
  /** Tells the simulated operator's hands, as `guard open`. @returns what they have done, in a sentence */
  obey(line: string): string;
  /** Lets time run until this has happened; in real time it only waits. */
  runUntil<T>(happened: Promise<T>): Promise<T>;
  /** Waits for something that is no part of the plant's time, such as a line somebody types. */
  outsideTime<T>(work: () => Promise<T>): Promise<T>;
}

/**
 * The demo plant's station with simulated instruments on simulated cables, and the units of a seed.
 * @throws what opening a station throws; DriftError for a drift that can't be planted
 */
export async function openSimulatedStation(setup: SimulatedSetup): Promise<SimulatedStation> {
  const loaded = loadStation(setup.stationPath ?? demoStationPath(), setup.onlyModel, "simulated");
  const virtual = setup.pace === "virtual" ? new VirtualClock(setup.startsAt_ms) : null;
  const paced = new PacedClock(new RealClock(), setup.speed);
  const clock = virtual ?? paced;
  const { models } = modelsOn(loaded.models, calendarDate(clock.wall_ms()), setup.allowDrafts);
  const limits = models.map((model) => model.limits);
  const drift = setup.drift === undefined ? {} : { drift: readDrift(setup.drift) };
  const line = { seed: setup.seed, models: limits, ...drift };
  const population = new Population(line);
  const plant = new StationPlant({
    clock,
    seed: setup.seed,
    models: limits,
    modbus: framingsOf(loaded),
  });
  const recordsFolder = setup.recordsFolder ?? newRunFolder(loaded.file.recordsFolder, setup.seed);
  const opening = openStation({
    ...loaded,
    clock,
    recordsFolder,
    allowDrafts: setup.allowDrafts,
    ...(setup.study ? { study: setup.study } : {}),
    ...(setup.tapes === undefined ? {} : { tapes: setup.tapes }),
    attach: (instrument) => {
      const simulated = plant.instruments.get(instrument);
      return simulated && ((far) => simulated.attach(far));
    },
    ...(virtual ? { hold: () => virtual.hold() } : {}),
  });
  const runUntil = <T>(happened: Promise<T>) => (virtual ? virtual.runUntil(happened) : happened);
  const running = await runUntil(opening);
  const lineUp = new LineUp({ ...line, count: Number.POSITIVE_INFINITY });
  const hands = new Hands({
    clock,
    plant,
    next: () => null,
    find: (serial) => lineUp.find(serial),
    did: () => {},
  });
  return {
    ...running,
    file: loaded.file,
    models,
    recordsFolder,
    plant,
    population,
    referenceBodies: new Map(
      limits.flatMap((model) => {
        const pieces = Object.values(referencePieces(model));
        return pieces.map(({ unit }) => [unit.serial, unit] as const);
      }),
    ),
    unitOf: (serial) => lineUp.find(serial),
    clock,
    obey: (line) => hands.obey(line).sentence,
    runUntil,
    outsideTime: holder(virtual ? () => virtual.hold() : undefined),
    async close() {
      await runUntil(running.close());
      paced.stop();
    },
  };
}

/** Instruments of a simulated station that speak Modbus, by their profiles. */
function framingsOf({ file, profiles }: LoadedStation): Map<ModbusInstrumentName, "rtu" | "tcp"> {
  const profileOf = new Map([...file.gauges, file.ioBlock].map(({ name, profile }) => [name, profile]));
  return new Map(
    MODBUS_INSTRUMENTS.flatMap((name) => {
      const profile = profiles.get(profileOf.get(name) ?? "");
      return profile && "modbus" in profile ? [[name, profile.modbus.framing] as const] : [];
    }),
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
    dispositionsOf: (serial) => held(() => store.dispositionsOf(serial)),
    ensureHolds: () => held(() => store.ensureHolds()),
    inDoubt: () => held(() => store.inDoubt()),
    attemptsSince: (at_ms) => held(() => store.attemptsSince(at_ms)),
    lastUnits: (count) => held(() => store.lastUnits(count)),
    firstTests: (range) => held(() => store.firstTests(range)),
    firstTestsWindow: (model) => held(() => store.firstTestsWindow(model)),
    note: (event) => held(() => store.note(event)),
    attemptsAfter: (sequence) => held(() => store.attemptsAfter(sequence)),
    eventsAfter: (sequence) => held(() => store.eventsAfter(sequence)),
    eventsSince: (at_ms) => held(() => store.eventsSince(at_ms)),
    freeBytes: () => held(() => store.freeBytes()),
  };
}
