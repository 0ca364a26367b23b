import { join } from "node:path";
import { type ChainHead, sha256Hex } from "./chain.ts";
import { type ChainEnds, type DailyHead, HEAD_CHAINS, type HeadChain } from "./daily-head.ts";
import { copiedNumbers, copiesOf, copyFolders, readCopy } from "./daily-head-copies.ts";
import { DailyHeadLog, headText, requireSigned, type WrittenHead } from "./daily-head-log.ts";
import { type Disk, REAL_DISK } from "./disk.ts";
import { errnoOf, RecordError, readError } from "./record-error.ts";

/** Where a chain's record of this number lies, relative to the records folder; null where there is none. */
export type RecordPath = (chain: HeadChain, sequence: number) => string | null;

export interface HeadsToCheck {
  /** The records folder. */
  readonly folder: string;
  /** The station's public keys, former ones too; null where nobody knows them: any will do then. */
  readonly keys: readonly string[] | null;
  readonly pathOf: RecordPath;
  readonly disk?: Disk;
}

/**
 * Whether what the newest head says was there is there still: its last traveller, disposition and event, by their hashes.
 * The chains hold what lies before.
 * @returns the newest head; null where none was ever written
 * @throws RecordError CORRUPT where it is not, or the head is not the station's
 */
export async function requireNewestHead(it: HeadsToCheck): Promise<WrittenHead | null> {
  const newest = await new DailyHeadLog(it.folder, it.disk).newest();
  if (newest === null) return null;
  requireSigned(it.folder, newest, it.keys);
  await requireClaims(it, newest.content);
  return newest;
}

/**
 * Whether the copies know of heads, or of records, that are not here any more.
 * @param newest of the records folder's own
 * @throws RecordError CORRUPT where they do; the system's error where the copies can't be read
 */
export async function requireCopies(
  it: HeadsToCheck,
  copiesFolder: string,
  newest: WrittenHead | null,
): Promise<void> {
  const first = await new DailyHeadLog(it.folder, it.disk).firstHash();
  const own = first === null ? await copiesAbout(it, copiesFolder) : copiesOf(copiesFolder, first);
  if (own === null) return;
  const copy = await newestCopy(own, it.keys);
  if (copy === null) return;
  if (copy.sequence > (newest?.sequence ?? 0)) {
    await requireClaims(it, copy.content);
    throw lost(
      it.folder,
      `${headText(copy.content)} is among the copies in ${own}, and not in the records folder`,
    );
  }
  const same = copy.sequence === newest?.sequence ? newest : null;
  const here = same ?? (await new DailyHeadLog(it.folder, it.disk).all())[copy.sequence - 1];
  if (here?.sha256 !== copy.sha256) {
    throw lost(
      it.folder,
      `the copy of ${headText(copy.content)} in ${own} is another than the one in the records folder: two histories were signed`,
    );
  }
}

/** @returns the newest that is whole and signed; null for none. @throws the system's error */
async function newestCopy(folder: string, keys: HeadsToCheck["keys"]): Promise<WrittenHead | null> {
  for (const sequence of [...(await copiedNumbers(folder))].reverse()) {
    const copy = await readCopy(folder, sequence, keys);
    if (copy) return copy;
  }
  return null;
}

/** @returns the copies' folder of heads that were signed for these very records, whose own heads are not there; null for none */
export async function copiesAbout(it: HeadsToCheck, copiesFolder: string): Promise<string | null> {
  for (const folder of await copyFolders(copiesFolder)) {
    for (const sequence of await copiedNumbers(folder)) {
      const head = await readCopy(folder, sequence, it.keys);
      const claims = head ? claimsOf(head.content).filter(([, end]) => end !== null) : [];
      if (claims.length === 0) continue;
      for (const [chain, end] of claims)
        if (end && (await claimState(it, chain, end)) === "holds") return folder;
      // Heads only grow: where the first that says anything fits nothing, these are other records.
      break;
    }
  }
  return null;
}

/** @returns whether every record a head knew is there as it was */
export async function claimsHold(it: HeadsToCheck, head: ChainEnds): Promise<boolean> {
  for (const [chain, end] of claimsOf(head)) {
    if (end && (await claimState(it, chain, end)) !== "holds") return false;
  }
  return true;
}

/** @throws RecordError CORRUPT */
async function requireClaims(it: HeadsToCheck, head: DailyHead): Promise<void> {
  for (const [chain, end] of claimsOf(head)) {
    const state = end === null ? "holds" : await claimState(it, chain, end);
    if (state === "holds") continue;
    const what = chain.slice(0, -1);
    throw lost(
      it.folder,
      state === "gone"
        ? `${headText(head)} knew of ${what} number ${end?.sequence}, and it is not there any more`
        : `${headText(head)} knew of ${what} number ${end?.sequence} with other content than is there now`,
    );
  }
}

function claimsOf(head: ChainEnds): readonly (readonly [HeadChain, ChainHead | null])[] {
  return HEAD_CHAINS.map((chain) => [chain, head[chain]] as const);
}

async function claimState(
  { folder, pathOf, disk = REAL_DISK }: HeadsToCheck,
  chain: HeadChain,
  { sequence, sha256 }: ChainHead,
): Promise<"holds" | "gone" | "differs"> {
  const path = pathOf(chain, sequence);
  if (path === null) return "gone";
  try {
    return sha256Hex(await disk.readFile(join(folder, path))) === sha256 ? "holds" : "differs";
  } catch (error) {
    if (errnoOf(error) === "ENOENT") return "gone";
    throw readError(error, join(folder, path), `The record ${join(folder, path)} can't be read`);
  }
}

function lost(folder: string, why: string): RecordError {
  return new RecordError(
    "CORRUPT",
    folder,
    `Records are missing in ${folder}: ${why}. Nothing is tested on records that were cut off. Look with drumtight audit, then restore the folder from a backup; where the loss is known and can't be mended, an engineer answers for it with drumtight audit accept-loss.`,
  );
}
