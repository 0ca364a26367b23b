import { RealClock } from "../../drivers/real-clock.ts";
import { UsageError } from "../explain.ts";
import { readStationFileAlone } from "../load-station.ts";
import { commandWho } from "../people/command-who.ts";
import type { Role, SignedIn } from "../people/person.ts";
import type { SignInSettings } from "../people/sign-in-settings.ts";
import { askUnseen } from "./ask-unseen.ts";

/** Which records a command is about. */
export interface RecordsOptions {
  readonly records?: string;
  readonly station?: string;
}

export interface RecordsAt {
  readonly folder: string;
  readonly limitsFolder: string | null;
  /** Null where no station file was given. */
  readonly signIn: SignInSettings | null;
}

/** The records folder named, or the station's, or "records" here. */
export function recordsAt({ records, station }: RecordsOptions): RecordsAt {
  if (station === undefined) return { folder: records ?? "records", limitsFolder: null, signIn: null };
  const { recordsFolder, limitsFolder, signIn } = readStationFileAlone(station);
  return { folder: records ?? recordsFolder, limitsFolder, signIn };
}

/** @throws UsageError where somebody has to prove who they are and does not, or may not do this */
export function whoDecides(at: RecordsAt, as: string | undefined, least: Role): Promise<SignedIn> {
  return commandWho({
    as,
    settings: at.signIn,
    least,
    askPin: (question) => askUnseen(question, "DRUMTIGHT_PIN"),
    clock: new RealClock(),
  });
}

/** What somebody gives as a cause, an action or a reason. @throws UsageError for nothing, or too much */
export function requireText(option: string, text: string): string {
  const tidy = text.replace(/\s+/gu, " ").trim();
  if (tidy !== "" && tidy.length <= LONGEST && !/\p{C}/u.test(tidy)) return tidy;
  throw new UsageError(`${option}: expected 1 to ${LONGEST} characters of text. Nothing was recorded.`);
}

const LONGEST = 400;

/** @example minuteOf("2026-01-05T06:00:12.000Z") // "2026-01-05 06:00 UTC" */
export function minuteOf(instant: string): string {
  return `${instant.slice(0, 16).replace("T", " ")} UTC`;
}
