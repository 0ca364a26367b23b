import { readFileSync } from "node:fs";
import { dirname, resolve } from "node:path";
import { DriverError } from "../drivers/ports.ts";
import type { Profile } from "../drivers/profile.ts";
import { findProfile, knownProfiles, loadProfile, ownProfilesFolder } from "../drivers/profile-file.ts";
import { type FileProblem, FileProblems, problemIn } from "../limits/checked-yaml.ts";
import { type LimitFolder, readLimitFolder } from "../limits/limit-file.ts";
import type { ModelLimits } from "../limits/model.ts";
import { byModel } from "../limits/revisions.ts";
import {
  type CalibrationProblem,
  calibrationsInForce,
  type ModelCalibrations,
  misnamedCalibrations,
} from "./calibrations-in-force.ts";
import { UsageError } from "./explain.ts";
import { type LimitFiles, limitFilesIn } from "./limit-files.ts";
import { type LimitRevision, limitRevisions } from "./models-in-force.ts";
import { readStationFile, type StationFile } from "./station-file.ts";
import type { LimitsLookup, ProfileLookup, Surroundings } from "./station-file-checks.ts";
import { takeTimeZone } from "./time-zone.ts";

export interface LoadedStation {
  readonly file: StationFile;
  /** The station file itself, absolute, and what was read of it. */
  readonly source: { readonly path: string; readonly text: string };
  /** By name: every profile the file names. */
  readonly profiles: ReadonlyMap<string, Profile>;
  /** Every limit file, of a model perhaps several revisions; which of them judges depends on the day. */
  readonly models: readonly LimitRevision[];
  /** The limit files and approvals as they lay there when they were read. */
  readonly limitFiles: LimitFiles;
  /** Names of all the station's models, also where only one of them is on the line. */
  readonly allModels: readonly string[];
  /** Reads again all that the station file names, the station file itself aside. @throws FileProblems */
  reread(): LoadedStation;
  /** What has been learned for each of these limits and is in force at this time, by model; the files are read anew each time. */
  calibrationsAt(now_ms: number, limits: readonly ModelLimits[]): ReadonlyMap<string, ModelCalibrations>;
  /** Files beside the station file that look like calibrations and are passed over for their names. */
  misnamedCalibrations(): readonly CalibrationProblem[];
}

/**
 * Reads a station file and all it names, profiles and limit files, before anything is opened.
 * @param cables "simulated" where a memory transport ends at a simulated instrument
 * From then on the program's local times are those of the file's time zone, where it names one.
 * @throws UsageError when there is no station file to read; FileProblems with every mistake in any of the files, and
 * whatever in one does not fit another
 */
export function readStation(path: string, cables: Surroundings["cables"]): LoadedStation {
  const station = stationOf(resolve(path), stationText(path), cables);
  takeZoneOf(station.file);
  return station;
}

function stationOf(absolute: string, text: string, cables: Surroundings["cables"]): LoadedStation {
  const beside = new FilesBeside(dirname(absolute), cables);
  const problems: FileProblem[] = [];
  let file: StationFile | undefined;
  try {
    file = readStationFile(absolute, text, beside);
  } catch (error) {
    if (!(error instanceof FileProblems)) throw error;
    problems.push(...error.problems);
  }
  problems.push(...beside.problems());
  if (!file || problems.length > 0) throw new FileProblems(problems);
  const limits = beside.models();
  const station = file;
  return {
    file,
    source: { path: absolute, text },
    profiles: beside.profiles(),
    models: limitRevisions(limits, file.approvers),
    limitFiles: limitFilesIn(file.limitsFolder),
    allModels: [...byModel(limits).keys()],
    reread: () => stationOf(absolute, text, cables),
    calibrationsAt: (now_ms, judging) => calibrationsInForce(absolute, station, judging, now_ms),
    misnamedCalibrations: () =>
      misnamedCalibrations(
        absolute,
        limits.map(({ model }) => model),
      ),
  };
}

/**
 * Reads a station file by itself, without the profiles and limit files it names. From then on the program's local times are
 * those of the file's time zone, where it names one.
 * @throws UsageError when there is no station file to read; FileProblems with every mistake in it
 */
export function readStationFileAlone(path: string): StationFile {
  const file = readStationFile(resolve(path), stationText(path));
  takeZoneOf(file);
  return file;
}

/** Whoever works with a station's file means that plant's days, shifts and times. */
function takeZoneOf({ timeZone }: StationFile): void {
  if (timeZone !== null) takeTimeZone(timeZone);
}

function stationText(path: string): string {
  const remedy = "Give a station file with --station FILE.";
  if (path.trim() === "") throw new UsageError(`No station file is named. ${remedy}`);
  try {
    return readFileSync(path, "utf8");
  } catch (error) {
    const code = error instanceof Error && "code" in error ? String(error.code) : String(error);
    throw new UsageError(`The station file ${path} can't be read: ${SYSTEM_WORDS[code] ?? code}. ${remedy}`);
  }
}

const SYSTEM_WORDS: Readonly<Record<string, string>> = {
  ENOENT: "there is no such file",
  EISDIR: "it is a folder",
  ENOTDIR: "there is no such folder",
  EACCES: "not allowed to open it",
};

/** Profiles and limit files, each read once, and what is wrong in them. */
class FilesBeside implements Surroundings {
  readonly cables: Surroundings["cables"];
  readonly #folder: string;
  readonly #profileFolders: readonly string[];
  readonly #profiles = new Map<string, ProfileLookup>();
  readonly #limits = new Map<string, LimitFolder>();
  readonly #problems: FileProblem[] = [];

  constructor(folder: string, cables: Surroundings["cables"]) {
    this.#folder = folder;
    // The plant's own before the built-in ones.
    this.#profileFolders = [folder, ownProfilesFolder()];
    this.cables = cables;
  }

  profile(name: string): ProfileLookup {
    const known = this.#profiles.get(name) ?? this.#readProfile(name);
    this.#profiles.set(name, known);
    return known;
  }

  limits(folder: string): LimitsLookup {
    const path = resolve(this.#folder, folder);
    const read = this.#limits.get(path) ?? this.#readLimits(path);
    this.#limits.set(path, read);
    if (read.kind === "read") return { ...read, kind: "found" };
    return { kind: "missing", found: read.problem.found, expected: read.problem.expected };
  }

  placeIn(limits: ModelLimits, path: readonly (string | number)[]): string {
    const { path: file } = limits.source;
    const { line, column } = problemIn(file, readFileSync(file, "utf8"), path, { expected: "" });
    return `${file}:${line}:${column}`;
  }

  problems(): readonly FileProblem[] {
    return this.#problems;
  }

  profiles(): ReadonlyMap<string, Profile> {
    const found = [...this.#profiles].flatMap(([name, lookup]) =>
      lookup.kind === "found" ? [[name, lookup.profile] as const] : [],
    );
    return new Map(found);
  }

  models(): readonly ModelLimits[] {
    return [...this.#limits.values()].flatMap((read) => (read.kind === "read" ? read.models : []));
  }

  #readProfile(name: string): ProfileLookup {
    if (findProfile(name, this.#profileFolders) === null) {
      return { kind: "missing", known: knownProfiles(this.#profileFolders) };
    }
    try {
      return { kind: "found", profile: loadProfile(name, this.#profileFolders) };
    } catch (error) {
      if (error instanceof DriverError) return { kind: "unreadable", why: error.message };
      if (!(error instanceof FileProblems)) throw error;
      this.#problems.push(...error.problems);
      return { kind: "faulty" };
    }
  }

  #readLimits(path: string): LimitFolder {
    const read = readLimitFolder(path);
    if (read.kind === "read") this.#problems.push(...read.problems);
    return read;
  }
}
