import { createHash } from "node:crypto";
import { accessSync, constants, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { basename, dirname, extname, join, resolve } from "node:path";
import { describeProblem, FileProblems } from "../limits/checked-yaml.ts";
import type { ModelLimits } from "../limits/model.ts";
import {
  type Calibration,
  type CalibrationKind,
  calibrationText,
  readCalibrationFile,
} from "./calibration-file.ts";
import type { InForce, ModelCalibration } from "./cycle/attempt.ts";
import { UsageError } from "./explain.ts";
import { makeFolder } from "./make-folder.ts";
import { writeOnce } from "./records/durable-file.ts";
import { errnoOf } from "./records/record-error.ts";
import type { StationFile } from "./station-file.ts";

/** The calibrations of a model in force, and what keeps others from being so. */
export interface ModelCalibrations extends ModelCalibration {
  readonly problems: readonly CalibrationProblem[];
}

export interface CalibrationProblem {
  /** "misnamed": a file that looks like a calibration of this station, and by its name is none. */
  readonly kind: CalibrationKind | "misnamed";
  /**
   * "unusable": there is a newest calibration, and it must not be used, so that there is none in force.
   * "not yet": its date lies in the future; an older one stays in force.
   * "ignored": as if it were not there.
   */
  readonly what: "unusable" | "not yet" | "ignored";
  /** What is wrong with which file, and what to do. */
  readonly sentence: string;
}

type StationFacts = Pick<StationFile, "name" | "isSimulated" | "gauges">;

/** 2026-01-05T0555Z, and -2, -3... for more in the same minute. */
const DATED = /^(\d{4}-\d{2}-\d{2})T(\d{2})(\d{2})Z(?:-([1-9]\d*))?$/;

const IS_CALIBRATION = /\.(?:settle|volume)\.\d{4}-\d{2}-\d{2}T\d{4}Z(?:-[1-9]\d*)?\.json$/;

const KINDS: readonly CalibrationKind[] = ["settle", "volume"];
const LOOKS_LIKE_CALIBRATION = /\.(?:settle|volume)\./;

/**
 * The newest calibrations beside a station file that are not dated in the future, per model. History is kept beside them
 * and only the newest is read: where it is broken or not this station's, none is in force, and a sentence says so.
 * @param stationPath path of the station file
 * @param now_ms wall time
 */
export function calibrationsInForce(
  stationPath: string,
  station: StationFacts,
  models: readonly ModelLimits[],
  now_ms: number,
): ReadonlyMap<string, ModelCalibrations> {
  const folder = dirname(resolve(stationPath));
  const names = filesIn(folder);
  return new Map(
    models.map((limits) => {
      const look = { folder, names, prefix: filePrefix(stationPath, limits.model), station, limits, now_ms };
      const settle = newest(look, "settle");
      const volume = newest(look, "volume");
      const problems = [...settle.problems, ...volume.problems];
      return [
        limits.model,
        {
          settle:
            settle.found?.calibration.kind === "settle"
              ? inForce(settle.found, settle.found.calibration.values)
              : null,
          volume:
            volume.found?.calibration.kind === "volume"
              ? inForce(volume.found, volume.found.calibration.values)
              : null,
          problems,
        },
      ];
    }),
  );
}

/**
 * Files beside a station file that look like its calibrations and are passed over for their names: renamed, a copy, or of a
 * model that the station has not.
 * @param models every model of the station
 */
export function misnamedCalibrations(
  stationPath: string,
  models: readonly string[],
): readonly CalibrationProblem[] {
  const names = filesIn(dirname(resolve(stationPath)));
  const stem = stemOf(stationPath);
  const longerStems = names
    .filter((name) => /\.ya?ml$/.test(name))
    .map(stemOf)
    .filter((other) => other.startsWith(`${stem}.`));
  return names
    .filter((name) => name.startsWith(`${stem}.`) && LOOKS_LIKE_CALIBRATION.test(name))
    .filter((name) => !longerStems.some((other) => name.startsWith(`${other}.`)))
    .filter((name) => !models.some((model) => isOf(model, name)))
    .sort()
    .map((name) => ({
      kind: "misnamed",
      what: "ignored",
      sentence:
        `${name} looks like a calibration, and by its name is none of this station's models (${models.join(", ")}): it is ` +
        `not used. Name it like ${stem}.MODEL.settle.2026-01-05T0555Z.json, as the study did, or take it away.`,
    }));

  function isOf(model: string, name: string): boolean {
    const prefix = filePrefix(stationPath, model);
    return KINDS.some((kind) => datedFile(name, `${prefix}${kind}.`).length > 0);
  }
}

/**
 * Writes a calibration as a new file of its own; nothing is ever overwritten.
 * @param folder where to; that of the station file for it to come into force
 * @returns the path of the new file
 * @throws UsageError for a folder that can't be written to, RecordError when writing fails
 */
export async function saveCalibration(
  calibration: Calibration,
  stationPath: string,
  folder: string,
): Promise<string> {
  const text = calibrationText(calibration);
  // What is written must be readable, or the station would refuse it tomorrow.
  readCalibrationFile("the new calibration", text);
  const { model, at } = calibration.facts;
  const minute = `${at.slice(0, 13)}${at.slice(14, 16)}Z`;
  const stem = `${filePrefix(stationPath, model)}${calibration.kind}.${minute}`;
  requireWritable(folder);
  const taken = new Set(filesIn(folder));
  for (let k = 1; ; k++) {
    const name = `${stem}${k === 1 ? "" : `-${k}`}.json`;
    if (taken.has(name)) continue;
    const path = join(folder, name);
    await writeOnce(text, join(folder, `.${name}.${process.pid}`), path);
    return path;
  }
}

/**
 * Copies a station's calibrations of these models beside another station file that stands for the same station, so that they are in force
 * there too. What lies there under the same name is of the same minute, and is replaced.
 * @param edited the text as it is to stand in the copy
 */
export function copyCalibrations(
  fromStationPath: string,
  toStationPath: string,
  models: readonly Pick<ModelLimits, "model">[],
  edited: (text: string) => string = (text) => text,
): void {
  const from = dirname(resolve(fromStationPath));
  const to = dirname(resolve(toStationPath));
  for (const { model } of models) {
    const prefix = filePrefix(fromStationPath, model);
    for (const name of filesIn(from)) {
      if (!name.startsWith(prefix) || !IS_CALIBRATION.test(name)) continue;
      const copy = join(to, filePrefix(toStationPath, model) + name.slice(prefix.length));
      writeFileSync(copy, edited(readFileSync(join(from, name), "utf8")));
    }
  }
}

/** @example filePrefix("/etc/drumtight/line-2.yaml", "TUB-12") // "line-2.TUB-12." */
function filePrefix(stationPath: string, model: string): string {
  return `${stemOf(stationPath)}.${model}.`;
}

function stemOf(stationPath: string): string {
  return basename(stationPath, extname(stationPath));
}

interface Look {
  readonly folder: string;
  readonly names: readonly string[];
  readonly prefix: string;
  readonly station: StationFacts;
  readonly limits: ModelLimits;
  readonly now_ms: number;
}

interface Found {
  readonly calibration: Calibration;
  readonly sha256: string;
  readonly file: string;
}

function inForce<T>({ calibration, sha256, file }: Found, values: T): InForce<T> {
  return { calibration: values, date: calibration.facts.at, sha256, file };
}

function newest(
  look: Look,
  kind: CalibrationKind,
): { readonly found: Found | null; readonly problems: readonly CalibrationProblem[] } {
  const dated = look.names
    .flatMap((name) => datedFile(name, `${look.prefix}${kind}.`))
    .sort((a, b) => b.minute_ms - a.minute_ms || b.number - a.number);
  const past = dated.filter(({ minute_ms }) => minute_ms <= look.now_ms);
  const problems: CalibrationProblem[] = dated
    .filter(({ minute_ms }) => minute_ms > look.now_ms)
    .map(({ name }) => ({
      kind,
      what: "not yet",
      sentence: `${name} is dated in the future, so it is not used yet: check the clock of this computer and the file's name.`,
    }));
  const [latest] = past;
  if (!latest) return { found: null, problems };
  const read = readOne(look, kind, latest.name);
  if (read.kind === "usable") return { found: read.found, problems };
  return { found: null, problems: [...problems, { kind, what: "unusable", sentence: read.sentence }] };
}

function datedFile(
  name: string,
  prefix: string,
): { readonly name: string; readonly minute_ms: number; readonly number: number }[] {
  if (!name.startsWith(prefix) || !name.endsWith(".json")) return [];
  const match = DATED.exec(name.slice(prefix.length, -".json".length));
  if (!match) return [];
  const [, day, hours, minutes, number = "1"] = match;
  const minute_ms = Date.parse(`${day}T${hours}:${minutes}:00Z`);
  return Number.isNaN(minute_ms) ? [] : [{ name, minute_ms, number: Number(number) }];
}

type Read =
  | { readonly kind: "usable"; readonly found: Found }
  | { readonly kind: "unusable"; readonly sentence: string };

function readOne(look: Look, kind: CalibrationKind, name: string): Read {
  const remedy = `make a new one: drumtight study ${kind} --model ${look.limits.model}`;
  const unusable = (why: string): Read => ({
    kind: "unusable",
    sentence: `${name} ${why} and is not used: put the right file back, or ${remedy}.`,
  });
  let bytes: Buffer;
  let calibration: Calibration;
  try {
    bytes = readFileSync(join(look.folder, name));
    calibration = readCalibrationFile(name, bytes.toString("utf8"));
  } catch (error) {
    if (error instanceof FileProblems) {
      const [first] = error.problems;
      return unusable(`is broken (${first ? describeProblem(first) : error.message})`);
    }
    if (errnoOf(error) === "") throw error;
    return unusable(`can't be read (${error instanceof Error ? error.message : String(error)})`);
  }
  const foreign =
    calibration.kind === kind ? whyForeign(calibration, look) : `is a ${calibration.kind} calibration`;
  if (foreign !== null) return unusable(foreign);
  const sha256 = createHash("sha256").update(bytes).digest("hex");
  return { kind: "usable", found: { calibration, sha256, file: name } };
}

/** @returns why a calibration is not this station's and model's, null when it is */
function whyForeign({ facts }: Calibration, { station, limits, now_ms }: Look): string | null {
  const step = limits.steps.find((candidate) => candidate.kind === "leak");
  const gauge = station.gauges.find(({ channels }) => channels.has("leak_pressure"));
  if (facts.model !== limits.model) return `is of the model ${facts.model}`;
  if (facts.station !== station.name) return `is of the station "${facts.station}"`;
  if (facts.simulated && !station.isSimulated) return "was made on a simulated station";
  if (step?.kind === "leak" && !isSame(facts.testPressure_Pa, step.testPressure_Pa)) {
    return `was made at ${facts.testPressure_Pa / 1000} kPa, and the limit file tests at ${step.testPressure_Pa / 1000} kPa,`;
  }
  if (gauge && facts.leakGauge.profile !== gauge.profile) {
    return `was made with a leak gauge of the profile ${facts.leakGauge.profile}, and the station has ${gauge.profile},`;
  }
  if (Date.parse(facts.at) > now_ms + 60_000)
    return `says inside that it was made on ${facts.at}, in the future,`;
  return null;
}

function isSame(a: number, b: number): boolean {
  return Math.abs(a - b) <= 1e-6 * Math.abs(b);
}

const NO_FOLDER: Readonly<Record<string, string>> = {
  ENOENT: "there is no such folder",
  ENOTDIR: "it is a file, not a folder",
  EACCES: "it may not be read",
};

/** @throws UsageError for a folder that is not there or can't be listed */
function filesIn(folder: string): string[] {
  try {
    return readdirSync(folder);
  } catch (error) {
    const why = NO_FOLDER[errnoOf(error)] ?? String(error);
    throw new UsageError(`The folder ${folder} can't be used for calibrations: ${why}.`);
  }
}

/** @throws UsageError for a folder that calibrations can't be written to */
export function requireWritable(folder: string): void {
  filesIn(folder);
  try {
    accessSync(folder, constants.W_OK);
  } catch {
    throw new UsageError(
      `The calibration can't be written to ${folder}: get write access to it, or choose a folder with --out.`,
    );
  }
}

/** Makes the folder and what is missing above it. @throws UsageError where that can't be, or it can't be written to */
export function makeWritable(folder: string): void {
  try {
    makeFolder(folder);
  } catch (error) {
    throw new UsageError(
      `The folder ${folder} for calibrations can't be made (${errnoOf(error)}): choose one that is there with --out.`,
    );
  }
  requireWritable(folder);
}
