import type { Disposition, DispositionDraft } from "./disposition.ts";
import type { UnitInDoubt } from "./doubts.ts";
import type { AttemptSummary } from "./index-db.ts";

/** What the records say about a unit, dispositions included. */
export interface UnitStanding {
  readonly serial: string;
  /** As recorded, references and drafts included, in order of the attempt number. */
  readonly attempts: readonly AttemptSummary[];
  /** Those that name the unit, in the order in which they were recorded. */
  readonly dispositions: readonly Disposition[];
  /** The newest attempt that counts (of a unit, on approved limits), void or not: a rework or scrap names it. */
  readonly newest: AttemptSummary | null;
  readonly inDoubt: UnitInDoubt | null;
  /** Of the newest attempt: a rework was recorded, and no test since. */
  readonly isReworked: boolean;
  readonly isScrapped: boolean;
}

export interface DispositionsOptions {
  /** The time of what is disposed; the machine's own where not given. */
  readonly now_ms?: () => number;
}

/** The dispositions of a records folder, for commands: no lock is taken, the station may be running. */
export interface Dispositions {
  /** @throws RecordError when a traveller of the unit, or the chain of dispositions, is not as recorded */
  standingOf(serial: string): Promise<UnitStanding>;
  /** Units in doubt, in the order in which they were tested; those that were scrapped since come too. */
  inDoubt(): Promise<readonly UnitInDoubt[]>;
  /** @throws RecordError DISK_FULL ...; nothing was recorded then */
  dispose(draft: DispositionDraft): Promise<Disposition>;
}

/** @throws RecordError FOLDER_MISSING */
export async function openDispositions(
  _folder: string,
  _options: DispositionsOptions = {},
): Promise<Dispositions> {
  throw new Error("Being written.");
}
