import { createHash } from "node:crypto";
import type { Profile } from "../../drivers/profile.ts";
import { readProfile } from "../../drivers/profile-file.ts";
import { readLimitFile } from "../../limits/limit-file.ts";
import { readCalibrationFile } from "../calibration-file.ts";
import { type ModelCalibration, NOT_CALIBRATED, type PreparedAttempt } from "../cycle/attempt.ts";
import { readStationFile, type StationFile } from "../station-file.ts";
import type { TapeContents } from "./tape-file.ts";

/** A tape's files as the program reads them now, and the attempt as it was prepared. */
export interface TapedStation {
  readonly file: StationFile;
  readonly profiles: ReadonlyMap<string, Profile>;
  readonly attempt: PreparedAttempt;
}

/** @throws FileProblems where this program reads one of the files differently; Error where one is missing */
export function tapedStation({ files, attempt: facts }: TapeContents): TapedStation {
  // The folder's name does not matter: every file is on the tape.
  const file = readStationFile(`/${files.station.name}`, files.station.text);
  const profiles = new Map(
    files.profiles.map(({ name, text }) => [name, readProfile(name, `${name}.yaml`, text)] as const),
  );
  const limits = readLimitFile(files.limits.name, files.limits.text);
  const reference = facts.isReference
    ? (file.referenceCheck?.pieces.find(({ serial }) => serial === facts.serial) ?? null)
    : null;
  if (facts.isReference && !reference) {
    throw new Error(`${facts.serial} is no reference piece of the station file on the tape.`);
  }
  return {
    file,
    profiles,
    attempt: {
      serial: facts.serial,
      parts: facts.parts,
      limits,
      number: facts.number,
      kind: facts.kind,
      isDraft: facts.isDraft,
      approvedBy: facts.approvedBy,
      who: facts.who,
      missingParts: [],
      retestReasons: [],
      retestReason: facts.retestReason,
      calibration: calibrationOf(files.calibrations),
      reference,
    },
  };
}

function calibrationOf(files: TapeContents["files"]["calibrations"]): ModelCalibration {
  let found = NOT_CALIBRATED;
  for (const { name, text } of files) {
    const calibration = readCalibrationFile(name, text);
    const common = {
      date: calibration.facts.at,
      sha256: createHash("sha256").update(text, "utf8").digest("hex"),
      file: name,
    };
    found =
      calibration.kind === "settle"
        ? { ...found, settle: { calibration: calibration.values, ...common } }
        : { ...found, volume: { calibration: calibration.values, ...common } };
  }
  return found;
}
