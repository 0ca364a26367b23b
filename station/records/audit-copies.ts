import { readdirSync } from "node:fs";
import { Findings } from "./audit-finding.ts";
import { TravellerListing } from "./audit-listing.ts";
import { copiesAbout } from "./daily-head-check.ts";
import { copiedNumbers, copyFolders, readCopy } from "./daily-head-copies.ts";
import { headText } from "./daily-head-log.ts";
import { logFile } from "./numbered-log.ts";
import { errnoOf, RecordError } from "./record-error.ts";

export interface CopiesAsked {
  /** The records folder. */
  readonly folder: string;
  /** Where a station puts its copies, or one records folder's own in there. */
  readonly copiesFolder: string;
  /** The station's public keys; null for any. */
  readonly keys: readonly string[] | null;
  /** The id that these records' own heads carry; null where there are none. */
  readonly recordsId: string | null;
  readonly findings: Findings;
}

/**
 * Finds the copies that were made of these records' heads, and names those of others.
 * @returns their folder; null where there are none
 * @throws RecordError NOT_READABLE where the copies can't be read
 */
export async function ownCopies(asked: CopiesAsked): Promise<string | null> {
  const { folder, copiesFolder, keys, recordsId, findings } = asked;
  try {
    if (readdirSync(copiesFolder).some((name) => /^\d{8,15}\.json$/.test(name))) return copiesFolder;
    const candidates = await copyFolders(copiesFolder);
    let own: string | null = null;
    if (recordsId === null) {
      // What it names is named when the travellers are listed for good.
      const listing = new TravellerListing(folder, new Findings());
      const pathOf = (chain: string, sequence: number) =>
        chain === "travellers" ? (listing.at(sequence)[0] ?? null) : logFile(chain, sequence);
      own = await copiesAbout({ folder, keys, pathOf }, copiesFolder);
    }
    for (const candidate of candidates) {
      const last = await newest(candidate, keys);
      if (last === null || candidate === own) continue;
      if (recordsId !== null && last.records_id === recordsId) own = candidate;
      else {
        findings.note(
          `${candidate} has copies of the heads of other records, of station "${last.station}": the last is ${headText(last)} and knows of ${last.travellers?.sequence ?? 0} travellers.`,
        );
      }
    }
    if (own === null) findings.note(`In ${copiesFolder} is no copy of a head of these records.`);
    return own;
  } catch (error) {
    if (error instanceof RecordError || errnoOf(error) === "") throw error;
    throw new RecordError(
      "NOT_READABLE",
      copiesFolder,
      `The copies of the heads in ${copiesFolder} can't be read (${errnoOf(error)}): give the folder they were copied to with --heads.`,
      { cause: error },
    );
  }
}

async function newest(folder: string, keys: readonly string[] | null) {
  for (const sequence of [...(await copiedNumbers(folder))].reverse()) {
    const copy = await readCopy(folder, sequence, keys);
    if (copy) return copy.content;
  }
  return null;
}
