import { isInterrupted } from "./attempt-intent.ts";
import { ownCopies } from "./audit-copies.ts";
import { auditDispositions, auditEvents } from "./audit-decided.ts";
import { type Finding, Findings } from "./audit-finding.ts";
import { auditHeads, type HeadsFound, recordsIdOf } from "./audit-heads.ts";
import { auditKept, NeededFiles } from "./audit-kept.ts";
import { requireFolder } from "./audit-listing.ts";
import { auditOpenAttempts } from "./audit-open.ts";
import { auditTravellers } from "./audit-travellers.ts";
import { type ChainTrust, trustOf } from "./audit-trust.ts";
import type { HeadChain } from "./daily-head.ts";
import { cameMeanwhile, voidedMeanwhile } from "./daily-head-closed.ts";
import { headText } from "./daily-head-log.ts";
import { DISPOSITIONS, logFile } from "./numbered-log.ts";
import { RecordError } from "./record-error.ts";
import { EVENTS } from "./station-logs.ts";

export interface AuditAsked {
  /** The records folder. */
  readonly folder: string;
  /** The station's public keys; null where nobody gives any. */
  readonly keys: readonly string[] | null;
  /** Where copies of the heads went; null where they are not to be compared. */
  readonly copiesFolder: string | null;
}

export interface AuditReport {
  readonly intact: boolean;
  /** Told up to a thousand; `findingCount` counts all. */
  readonly findings: readonly Finding[];
  readonly findingCount: number;
  /** What can't be seen, and what is no record. */
  readonly notes: readonly string[];
  readonly losses: readonly string[];
  readonly chains: Readonly<Record<HeadChain, ChainTrust>>;
  readonly heads: { readonly count: number; readonly newest: string | null };
  /** Limit files that judged units, by SHA-256. */
  readonly limitFiles: NeededFiles["limitFiles"];
}

/**
 * Reads every record of a folder and holds it against its neighbours, the signed heads, their copies and the index. Nothing
 * is changed, and the station may be running: what it writes meanwhile is no finding.
 * @throws RecordError FOLDER_MISSING, or why a folder can't be listed
 */
export async function audit({ folder, keys, copiesFolder }: AuditAsked): Promise<AuditReport> {
  const findings = new Findings();
  requireFolder(folder);
  // In the reverse of the order of writing: what a record points to is there when it is read later.
  const copies =
    copiesFolder === null
      ? null
      : await ownCopies({ folder, copiesFolder, keys, recordsId: recordsIdOf(folder), findings });
  const heads = auditHeads({ folder, keys, copies, findings });
  const needed = new NeededFiles();
  const decided = auditDispositions(folder, heads, findings);
  const noted = auditEvents(folder, heads, findings, needed);
  const open = auditOpenAttempts(folder, findings);
  const quiet = heads.quiet.filter(({ chain }) => chain === "travellers");
  const travellers = await auditTravellers({
    folder,
    findings,
    claims: heads.claims.travellers,
    take(traveller, { sha256, path }) {
      const { sequence } = traveller.chain;
      decided.units.delete(`${sha256} ${traveller.serial} ${traveller.attempt.number}`);
      decided.permitted.tested(traveller, sha256);
      open.delete(traveller.id);
      needed.ofTraveller(traveller, path);
      const closed = quiet.find(({ after, to }) => after < sequence && sequence <= to);
      if (!closed || heads.hasGrown()) return;
      // What an earlier run left open is made void when the station opens, before it signs that.
      if (isInterrupted(traveller)) findings.note(voidedMeanwhile(traveller, path, closed.closed));
      else findings.add("unsigned", path, cameMeanwhile(closed.closed));
    },
  });
  for (const { path, attempt, serial } of decided.units.values()) {
    findings.add(
      "truncated",
      "travellers",
      `attempt ${attempt} of ${serial}, on which ${path} decided, is not there as it was then`,
    );
  }
  if (noted.afterTraveller > travellers.last) {
    findings.add(
      "truncated",
      "travellers",
      `number ${noted.afterTraveller} was there when ${noted.path} was noted, and the last one now is ${travellers.last}`,
    );
  }
  if (open.size > 0)
    findings.note(`${open.size} attempts are begun and not recorded: under test now, or cut off.`);
  auditKept(folder, needed, findings);
  if (travellers.index !== null) findings.note(travellers.index);
  noteBlindness(findings, heads, keys);
  if (findings.count + travellers.count + noted.chain.count + decided.chain.count + heads.count === 0) {
    throw new RecordError(
      "FOLDER_MISSING",
      folder,
      `There are no records in ${folder}: give a records folder with --records.`,
    );
  }
  const trust = (chain: HeadChain, audited: typeof travellers | typeof noted.chain) =>
    trustOf({
      folder,
      chain,
      audited,
      heads: heads.heads,
      pathOf: chain === "travellers" ? travellers.pathOf : (sequence) => logFile(chain, sequence),
    });
  return {
    intact: findings.count === 0,
    findings: findings.told,
    findingCount: findings.count,
    notes: findings.notes,
    losses: heads.losses,
    chains: {
      travellers: trust("travellers", travellers),
      dispositions: trust(DISPOSITIONS, decided.chain),
      events: trust(EVENTS, noted.chain),
    },
    heads: { count: heads.count, newest: newestHead(heads) },
    limitFiles: needed.limitFiles,
  };
}

/** In words, what this audit was not able to see. */
function noteBlindness(findings: Findings, heads: HeadsFound, keys: AuditAsked["keys"]): void {
  if (heads.count === 0) {
    findings.note(
      "There is no daily head: a record changed at the end of a chain, an end that was cut off, and a whole chain that was written anew can't be seen. Let the station sign heads (daily_head in the station file).",
    );
    return;
  }
  if (keys === null) {
    findings.note(
      `Nobody said which key is the station's: the heads were held against the key they name themselves, ${heads.unknownKeys.join(", ")}, and whoever changed the records may have signed them anew. Give --station or --public-key.`,
    );
  }
}

function newestHead({ heads }: HeadsFound): string | null {
  const newest = heads.at(-1)?.content;
  return newest ? `${headText(newest)} (${newest.moment})` : null;
}
