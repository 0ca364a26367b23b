import { realpathSync } from "node:fs";
import { isAbsolute, relative, resolve, sep } from "node:path";
import { RealClock } from "../../drivers/real-clock.ts";
import type { TrustedKey } from "../../limits/approval.ts";
import { UsageError } from "../explain.ts";
import { readStationFileAlone } from "../load-station.ts";
import { commandWho } from "../people/command-who.ts";
import type { Role, SignedIn } from "../people/person.ts";
import type { SignInSettings } from "../people/sign-in-settings.ts";
import type { Traveller } from "../records/traveller.ts";
import { askUnseen } from "./ask-unseen.ts";

/** Which records a command is about. */
export interface RecordsOptions {
  readonly records?: string;
  readonly station?: string;
}

export interface RecordsAt {
  readonly folder: string;
  /** Where the limits lie, and whose approvals count there; null where no station file was given. */
  readonly limits: { readonly folder: string; readonly approvers: readonly TrustedKey[] } | null;
  /** Null where no station file was given. */
  readonly station: StationAt | null;
}

interface StationAt {
  /** The file, as given. */
  readonly path: string;
  readonly name: string;
  readonly recordsFolder: string;
  readonly signIn: SignInSettings;
  /** Global trade item numbers by model. */
  readonly gtins: ReadonlyMap<string, string>;
}

/** The records folder named, or the station's, or "records" here. */
export function recordsAt({ records, station }: RecordsOptions): RecordsAt {
  if (station === undefined) return { folder: records ?? "records", limits: null, station: null };
  const { name, recordsFolder, limitsFolder, approvers, signIn, labels } = readStationFileAlone(station);
  return {
    folder: records ?? recordsFolder,
    limits: { folder: limitsFolder, approvers },
    station: { path: station, name, recordsFolder, signIn, gtins: labels.gtins },
  };
}

export interface Deciding {
  readonly at: RecordsAt;
  /** `--as` */
  readonly as: string | undefined;
  readonly least: Role;
  /** The tests that are decided on. */
  readonly tests: readonly Pick<Traveller, "serial" | "station" | "who">[];
  /** What to do where a test was made by somebody who proved who they are, and no station file says how that is done. */
  readonly whereProven: string;
}

/**
 * Who decides about tested units. Where whoever tests proves who they are, nobody decides on a name alone, whatever station
 * file is given or left out; and who signs in at another station decides nothing about this one's units. A file that gives
 * itself out for the station's is not told from it: who may write the records and the station's own files is the computer's business.
 * @throws UsageError where somebody has to prove who they are and does not, or may not do this
 */
export function whoDecides({ at, as, least, tests, whereProven }: Deciding): Promise<SignedIn> {
  const isProven = tests.some(({ who }) => who.sign_in === "badge" || who.sign_in === "pin");
  const isToBeProven = at.station?.signIn.kind === "people";
  if (isProven && !isToBeProven) throw new UsageError(`${whereProven} Nothing was recorded.`);
  if (at.station && isToBeProven) requireOwnStation(at.station, at.folder, tests);
  return commandWho({
    as,
    settings: at.station?.signIn ?? null,
    least,
    askPin: (question) => askUnseen(question, "DRUMTIGHT_PIN"),
    clock: new RealClock(),
  });
}

function requireOwnStation(station: StationAt, folder: string, tests: Deciding["tests"]): void {
  const other = tests.find((test) => test.station.name !== station.name);
  if (other) {
    throw new UsageError(
      `${other.serial} was tested at station "${other.station.name}", and ${station.path} is the file of "${station.name}": give that station's file. Nothing was recorded.`,
    );
  }
  // A simulated run has a folder of its own in the station's.
  if (isIn(folder, station.recordsFolder)) return;
  throw new UsageError(
    `The records of ${station.path} are in ${station.recordsFolder}, not in ${folder}: leave --records out, or give the file of the station that tested these units. Nothing was recorded.`,
  );
}

function isIn(folder: string, parent: string): boolean {
  const path = relative(real(parent), real(folder));
  return path.split(sep)[0] !== ".." && !isAbsolute(path);
}

/** Through all symbolic links, where it is there. */
function real(folder: string): string {
  try {
    return realpathSync(folder);
  } catch {
    return resolve(folder);
  }
}

/** What somebody gives as a cause, an action or a reason. @throws UsageError for nothing, or too much */
export function requireText(option: string, text: string): string {
  const tidy = text.replace(/\s+/gu, " ").trim();
  if (tidy !== "" && tidy.length <= LONGEST && !/\p{C}/u.test(tidy)) return tidy;
  throw new UsageError(`${option}: expected 1 to ${LONGEST} characters of text. Nothing was recorded.`);
}

const LONGEST = 400;
