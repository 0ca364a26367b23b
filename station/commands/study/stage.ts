import type { Clock } from "../../../drivers/ports.ts";
import type { LeakStep } from "../../../limits/model.ts";
import type { SimulatedUnit } from "../../../sim/population.ts";
import type { StationPlant } from "../../../sim/station-plant.ts";
import { calendarDate } from "../../calendar-date.ts";
import { makeWritable, requireWritable } from "../../calibrations-in-force.ts";
import type { ReferencePiece } from "../../cycle/attempt.ts";
import type { ModelInForce } from "../../cycle/refusals.ts";

import { UsageError } from "../../explain.ts";
import type { LoadedStation } from "../../load-station.ts";
import { modelsOn } from "../../models-in-force.ts";
import { FolderLock } from "../../records/folder-lock.ts";
import type { StationFile } from "../../station-file.ts";
import { stopOnSignal } from "../../stop-on-signal.ts";
import { DecayBench } from "../../watch-decay.ts";
import { Confirming } from "./confirming.ts";

export interface StageOptions {
  readonly station?: string;
  readonly simulate?: true;
  readonly seed: number;
  readonly model: string;
  /** Folder to save to, instead of the station's own. */
  readonly out: string | undefined;
  /** Reference pieces the study needs. */
  readonly pieces: readonly ReferencePiece["kind"][];
  /** The study will hardly take longer. */
  readonly longest_s: number;
}

/** What is to be put on the fixture next. */
export interface Mounting {
  readonly piece: string;
  /** In words, for the person who does it. */
  readonly words: string;
  /** What the simulated hands do to the piece before they put it on. */
  readonly prepared?: { readonly addedLeak_m3_s: number } | { readonly addedVolume_m3: number };
}

/** A fixture with one model on it, for a study and nobody else: real, or simulated in virtual time. */
export interface Stage {
  readonly stationPath: string;
  readonly file: StationFile;
  readonly model: ModelInForce;
  readonly step: LeakStep;
  /** Unit and fixture together, as far as it is known before the study. */
  readonly volume_m3: number;
  readonly clock: Clock;
  readonly bench: DecayBench;
  /** What the leak gauge says of itself. */
  readonly leakGauge: { readonly name: string; readonly profile: string; readonly identity: string };
  readonly isSimulated: boolean;
  /** The simulated fixture; null at a real one. */
  readonly plant: StationPlant | null;
  /** Where the calibration goes; it can be written to. */
  readonly folder: string;
  /** Aborted when the study has to end. */
  readonly stop: AbortSignal;
  /** @returns false when the study was stopped meanwhile; throws UsageError when nobody confirms it */
  mount(mounting: Mounting): Promise<boolean>;
  /** Does the work, and lets virtual time run meanwhile. */
  perform<T>(work: () => Promise<T>): Promise<T>;
  close(): Promise<void>;
}

/** @throws UsageError for a station that can't be studied, and what opening instruments throws */
export async function openStage(options: StageOptions): Promise<Stage> {
  if (!options.simulate && options.station === undefined) {
    throw new UsageError("Say which station: --station FILE, or --simulate for the demo station.");
  }
  return options.simulate ? openSimulated(options) : openReal(options, options.station ?? "");
}

/** @throws UsageError where the station file names no such piece of the model */
export function pieceOf(file: StationFile, model: string, kind: ReferencePiece["kind"]): ReferencePiece {
  const piece = file.referenceCheck?.pieces.find((it) => it.model === model && it.kind === kind);
  if (piece) return piece;
  throw new UsageError(
    `The station file names no ${kind} reference piece of ${model}: add it under reference_check, with its certified leak rate.`,
  );
}

async function openReal(options: StageOptions, stationPath: string): Promise<Stage> {
  const { loadStation } = await import("../../wiring.ts");
  const { openFixture } = await import("../../instruments.ts");
  const { RealClock } = await import("../../../drivers/real-clock.ts");
  const { makeSafeOnCrash } = await import("../../last-resort.ts");
  const { dirname, resolve } = await import("node:path");
  const loaded = loadStation(stationPath, options.model);
  const { model, step } = studied(loaded, options.pieces, Date.now());
  const folder = options.out ?? dirname(resolve(stationPath));
  // Before ten minutes at the fixture, not after.
  requireWritable(folder);
  const clock = new RealClock();
  const lock = await lockAgainstShift(loaded.file, clock);
  try {
    const fixture = await openFixture({ ...loaded, clock });
    const bench = await DecayBench.open({ file: loaded.file, fixture, clock });
    const confirming = new Confirming(process.stdin, process.stderr);
    const stop = stopBench(bench);
    stop.addEventListener("abort", () => confirming.close());
    const unwatch = makeSafeOnCrash(() => bench.makeSafe());
    return {
      stationPath,
      file: loaded.file,
      model,
      step,
      volume_m3: knownVolume_m3(loaded, model, clock),
      clock,
      bench,
      leakGauge: leakGaugeOf(loaded.file, fixture.identities()),
      isSimulated: loaded.file.isSimulated,
      plant: null,
      folder,
      stop,
      async mount({ piece, words }) {
        if (stop.aborted) return false;
        const isThere = await confirming.ask(piece, words);
        if (!isThere && !stop.aborted) {
          throw new UsageError(
            `Nobody said that ${piece} is on the fixture: scan it or press Enter when it is. Nothing was saved.`,
          );
        }
        return isThere;
      },
      perform: (work) => work(),
      async close() {
        confirming.close();
        try {
          await bench.close();
        } finally {
          lock?.release();
          unwatch();
        }
      },
    };
  } catch (error) {
    lock?.release();
    throw error;
  }
}

async function openSimulated(options: StageOptions): Promise<Stage> {
  const { demoStationPath, loadStation } = await import("../../wiring.ts");
  const { openFixture } = await import("../../instruments.ts");
  const { StationPlant: Plant } = await import("../../../sim/station-plant.ts");
  const { DEMO_START_ms, VirtualClock } = await import("../../../sim/virtual-clock.ts");
  const { referencePieces, withLeak, withVolume } = await import("../../../sim/reference-pieces.ts");
  const { join } = await import("node:path");
  const stationPath = demoStationPath();
  const loaded = loadStation(stationPath, options.model, "simulated");
  const { model, step } = studied(loaded, options.pieces, DEMO_START_ms);
  const folder = options.out ?? join(loaded.file.recordsFolder, "calibrations");
  if (options.out === undefined) makeWritable(folder);
  else requireWritable(folder);
  // Over before the demo's shift begins, so that what was learned is in force by then.
  const clock = new VirtualClock(DEMO_START_ms - (options.longest_s + BEFORE_SHIFT_S) * 1000);
  const plant = new Plant({ clock, seed: options.seed, models: [model.limits] });
  const fixture = await openFixture({
    ...loaded,
    clock,
    attach: (name) => {
      const instrument = plant.instruments.get(name);
      return instrument && ((far) => instrument.attach(far));
    },
  });
  const perform = <T>(work: () => Promise<T>) => clock.runUntil(work());
  const bench = await perform(() => DecayBench.open({ file: loaded.file, fixture, clock }));
  const stop = stopBench(bench);
  const bodies = referencePieces(model.limits);
  const bodyOf = (piece: string): SimulatedUnit => {
    const body = [bodies.tight, bodies.leak].find(({ unit }) => unit.serial === piece);
    if (!body) throw new UsageError(`The demo plant has no reference piece ${piece}.`);
    return body.unit;
  };
  return {
    stationPath,
    file: loaded.file,
    model,
    step,
    volume_m3: knownVolume_m3(loaded, model, clock),
    clock,
    bench,
    leakGauge: leakGaugeOf(loaded.file, fixture.identities()),
    isSimulated: true,
    plant,
    folder,
    stop,
    async mount({ piece, prepared }) {
      const body = bodyOf(piece);
      if (!prepared) plant.mount(body);
      else if ("addedVolume_m3" in prepared) plant.mount(withVolume(body, prepared.addedVolume_m3));
      else plant.mount(withLeak(body, prepared.addedLeak_m3_s, step.testPressure_Pa));
      return !stop.aborted;
    },
    perform,
    close: () => perform(() => bench.close()),
  };
}

const BEFORE_SHIFT_S = 300;

function stopBench(bench: DecayBench): AbortSignal {
  return stopOnSignal(() =>
    bench.stop({ code: "PROGRAM_STOPPED", sentence: "The program was stopped during the study." }),
  );
}

/** @throws UsageError where the model has no leak step, or the station file lacks a piece */
function studied(
  { file, models }: LoadedStation,
  pieces: StageOptions["pieces"],
  now_ms: number,
): { readonly model: ModelInForce; readonly step: LeakStep } {
  const [model] = modelsOn(models, calendarDate(now_ms), true).models;
  const step = model?.limits.steps.find((candidate) => candidate.kind === "leak");
  if (!model || step?.kind !== "leak") {
    throw new UsageError(`${model?.limits.model} has no leak step to study.`);
  }
  for (const kind of pieces) pieceOf(file, model.limits.model, kind);
  return { model, step };
}

/** As measured, where it has been; else as the files say. */
function knownVolume_m3(loaded: LoadedStation, { limits }: ModelInForce, clock: Clock): number {
  const measured = loaded.calibrationsAt(clock.wall_ms(), [limits]).get(limits.model)?.volume;
  return measured?.calibration.volume_m3 ?? limits.volume_m3 + loaded.file.knowledge.fixtureVolume_m3;
}

/** A station that tests units from the same records folder has the fixture. */
async function lockAgainstShift(file: StationFile, clock: Clock): Promise<FolderLock | null> {
  const { existsSync } = await import("node:fs");
  const { RecordError } = await import("../../records/record-error.ts");
  if (!existsSync(file.recordsFolder)) return null;
  try {
    return FolderLock.acquire({
      folder: file.recordsFolder,
      station: `${file.name}, study`,
      since_ms: clock.wall_ms(),
    });
  } catch (error) {
    if (!(error instanceof RecordError) || error.code !== "FOLDER_IN_USE") throw error;
    throw new UsageError(
      `The station is testing units (it uses ${file.recordsFolder}), and a study needs the fixture for itself: end the shift first.`,
    );
  }
}

function leakGaugeOf(file: StationFile, identities: ReadonlyMap<string, string>): Stage["leakGauge"] {
  const gauge = file.gauges.find(({ channels }) => channels.has("leak_pressure"));
  if (!gauge) throw new Error("The station has no leak gauge.");
  return { name: gauge.name, profile: gauge.profile, identity: identities.get(gauge.name) ?? "" };
}
