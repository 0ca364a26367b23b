import { readFile } from "node:fs/promises";
import { basename, join } from "node:path";
import { audit } from "./audit.ts";
import { ownCopies } from "./audit-copies.ts";
import { type FindingKind, Findings } from "./audit-finding.ts";
import { type QuietTime, quietAfter, recordsIdOf } from "./audit-heads.ts";
import { TravellerListing } from "./audit-listing.ts";
import { type ChainHead, sha256Hex } from "./chain.ts";
import { ChainedLog } from "./chained-log.ts";
import type { ChainEnds, DailyHead, HeadChain } from "./daily-head.ts";
import { claimsHold } from "./daily-head-check.ts";
import { copiedNumbers, copyHeads, readCopy } from "./daily-head-copies.ts";
import type { StationKey } from "./daily-head-key.ts";
import { DailyHeadLog, type WrittenHead } from "./daily-head-log.ts";
import { REAL_DISK } from "./disk.ts";
import type { Decider } from "./disposition.ts";
import { dispositionChain } from "./disposition-log.ts";
import { FolderLock } from "./folder-lock.ts";
import { connectAnew } from "./index-file.ts";
import { logFile } from "./numbered-log.ts";
import { StationEvent } from "./station-event.ts";
import { EVENTS } from "./station-logs.ts";

export interface LossAccepted {
  readonly folder: string;
  readonly station: string;
  readonly key: StationKey;
  /** The station's public keys, former ones too. */
  readonly keys: readonly string[];
  readonly copiesFolder: string | null;
  readonly by: Decider;
  readonly reason: string;
  readonly at_ms: number;
}

export type LossOutcome =
  | { readonly kind: "accepted"; readonly head: DailyHead; readonly restored: number }
  /** Nothing is missing; heads may have come back from their copies. */
  | { readonly kind: "nothing missing"; readonly restored: number }
  | { readonly kind: "refused"; readonly why: string };

/**
 * Somebody answers for records that were cut off and can't be had back: heads come back from their copies, and a new one,
 * signed by the station, says who accepts that the records go on from what is there. Refused where anything else is wrong
 * than a missing end.
 * @throws RecordError FOLDER_IN_USE while a station runs, or why it can't be read or written
 */
export async function acceptLoss(it: LossAccepted): Promise<LossOutcome> {
  const { folder, station, at_ms } = it;
  const lock = FolderLock.acquire({ folder, station, since_ms: at_ms });
  try {
    return await acceptLocked(it);
  } finally {
    lock.release();
  }
}

/** What somebody can answer for; anything else is for whoever looks into it. */
const ANSWERABLE: ReadonlySet<FindingKind> = new Set(["truncated", "unsigned", "index"]);

async function acceptLocked(it: LossAccepted): Promise<LossOutcome> {
  const { folder, keys, copiesFolder } = it;
  const report = await audit({ folder, keys, copiesFolder });
  const other = report.findings.find(({ kind }) => !ANSWERABLE.has(kind));
  if (other) {
    const why = `More is wrong in ${folder} than an end that is missing or not signed: ${other.path}: ${other.what}. Restore the folder from a backup, or give the station a new records folder and keep this one as evidence.`;
    return { kind: "refused", why };
  }
  const log = new DailyHeadLog(folder);
  const restored = await restoreHeads(it, log);
  const heads = await log.all();
  const unsigned = report.findings.flatMap(({ kind, path }) => (kind === "unsigned" ? [path] : []));
  const since = await firstThatFails(it, heads, unsigned);
  if (since === null) {
    if (report.findings.length > 0) connectAnew(folder, REAL_DISK).close();
    return { kind: "nothing missing", restored };
  }
  const head = await log.append(
    {
      at: new Date(it.at_ms).toISOString(),
      moment: "loss_accepted",
      station: it.station,
      ...(await endsOf(folder)),
      accepted: { since_head: since, by: it.by, reason: it.reason },
    },
    it.key,
  );
  // It still knows what was lost; the next start makes it anew from the files.
  connectAnew(folder, REAL_DISK).close();
  // The station copies what could not be copied now when it starts.
  if (copiesFolder !== null) await copyHeads(log, copiesFolder, head).catch(() => undefined);
  return { kind: "accepted", head: head.content, restored };
}

/** @returns how many came back */
async function restoreHeads(
  { folder, keys, copiesFolder }: LossAccepted,
  log: DailyHeadLog,
): Promise<number> {
  if (copiesFolder === null) return 0;
  const findings = new Findings();
  const copies = await ownCopies({ folder, copiesFolder, keys, recordsId: recordsIdOf(folder), findings });
  if (copies === null) return 0;
  let last = (await log.newest())?.sequence ?? 0;
  const before = last;
  for (const sequence of await copiedNumbers(copies)) {
    if (sequence !== last + 1) continue;
    const copy = await readCopy(copies, sequence, keys);
    if (copy === null) break;
    await log.put(copy);
    last = sequence;
  }
  return last - before;
}

/**
 * @param unsigned records that came while the station was closed
 * @returns the number of the first head, not answered for before, that knew of what is not there any more, or that the station
 * closed with before something came; null for none
 */
async function firstThatFails(
  it: LossAccepted,
  heads: readonly WrittenHead[],
  unsigned: readonly string[],
): Promise<number | null> {
  const listing = new TravellerListing(it.folder, new Findings());
  const pathOf = (chain: HeadChain, sequence: number) =>
    chain === "travellers" ? (listing.at(sequence)[0] ?? null) : logFile(chain, sequence);
  const accepted = heads.flatMap(({ content, sequence }) =>
    content.accepted ? [{ since: content.accepted.since_head, to: sequence }] : [],
  );
  for (const [at, { content, sequence }] of heads.entries()) {
    if (accepted.some(({ since, to }) => since <= sequence && sequence < to)) continue;
    if (!(await claimsHold({ folder: it.folder, keys: it.keys, pathOf }, content))) return sequence;
    const quiet = quietAfter(content, heads[at + 1]?.content);
    if (unsigned.some((path) => quiet.some((time) => cameIn(time, path)))) return sequence;
  }
  return null;
}

function cameIn({ chain, after, to }: QuietTime, path: string): boolean {
  const number = Number.parseInt(basename(path), 10);
  return (chain === EVENTS) === path.startsWith(`${EVENTS}/`) && after < number && number <= to;
}

async function endsOf(folder: string): Promise<ChainEnds> {
  const listing = new TravellerListing(folder, new Findings());
  let last = 0;
  for (const sequence of listing.numbers()) last = sequence;
  const [path] = listing.at(last);
  const travellers: ChainHead | null =
    path === undefined ? null : { sequence: last, sha256: sha256Hex(await readFile(join(folder, path))) };
  const events = new ChainedLog({ folder, name: EVENTS, what: "station event", schema: StationEvent });
  return { travellers, dispositions: await dispositionChain(folder).end(), events: await events.end() };
}
