import { DecidedComparison } from "./audit-decided-index.ts";
import type { Findings } from "./audit-finding.ts";
import type { HeadsFound } from "./audit-heads.ts";
import { AuditIndex, INDEX_FILE } from "./audit-index.ts";
import type { NeededFiles } from "./audit-kept.ts";
import { auditLog, type ChainAudited } from "./audit-log.ts";
import { PermittedDecisions } from "./audit-permitted.ts";
import { DAILY_HEADS } from "./daily-head.ts";
import { cameMeanwhile } from "./daily-head-closed.ts";
import { type DisposedUnit, Disposition } from "./disposition.ts";
import { DISPOSITIONS, logFile } from "./numbered-log.ts";
import { StationEvent } from "./station-event.ts";
import { EVENTS } from "./station-logs.ts";

export interface DispositionsAudited {
  readonly chain: ChainAudited;
  /** Units decided on, by hash, serial and attempt of the traveller that must be there. */
  readonly units: Map<string, DisposedUnit & { readonly path: string }>;
  /** Judges them, once every traveller that is read is told to it. */
  readonly permitted: PermittedDecisions;
}

/** Follows the dispositions, and gathers the travellers they decided on. */
export function auditDispositions(
  folder: string,
  { claims, accepted }: HeadsFound,
  findings: Findings,
): DispositionsAudited {
  const units: DispositionsAudited["units"] = new Map();
  const permitted = new PermittedDecisions(findings);
  const lostBefore = accepted?.dispositions?.sequence ?? 0;
  // Before the files: what the station tells the index meanwhile is none of it.
  const index = new AuditIndex(folder);
  const comparison = new DecidedComparison(index);
  const chain = auditLog({
    folder,
    name: DISPOSITIONS,
    what: "disposition",
    schema: Disposition,
    claims: claims.dispositions,
    findings,
    indexed(sequence) {
      const sha256 = index.decided(sequence)?.sha256;
      return typeof sha256 === "string" ? sha256 : undefined;
    },
    take(disposition, { sequence, path, sha256, text }) {
      comparison.compare(disposition, sha256, text);
      permitted.decided(disposition, path);
      if (sequence <= lostBefore) return;
      for (const unit of disposition.units) {
        units.set(`${unit.traveller} ${unit.serial} ${unit.attempt}`, { ...unit, path });
      }
    },
  });
  for (const { sequence, path, what } of comparison.differences()) {
    // Where it is the file that was changed or has gone, the index is right, and that has been told; but for an end that is cut off.
    if (sequence > chain.last) findings.add("truncated", path, what);
    else if (!chain.walk.isBad(sequence))
      findings.add(
        "index",
        INDEX_FILE,
        `of ${path}: ${what} (stop the station and run drumtight index rebuild)`,
      );
  }
  index.close();
  return { chain, units, permitted };
}

export interface EventsAudited {
  readonly chain: ChainAudited;
  /** The greatest number of a traveller that was there when one of these was noted, and which one says so. */
  readonly afterTraveller: number;
  readonly path: string;
}

/** Follows the station's events, and gathers what they say was there: travellers, heads and files in force. */
export function auditEvents(
  folder: string,
  heads: HeadsFound,
  findings: Findings,
  needed: NeededFiles,
): EventsAudited {
  const lostBefore = heads.accepted?.events?.sequence ?? 0;
  const known = new Map(heads.heads.map(({ sequence, sha256 }) => [sequence, sha256]));
  const quiet = heads.quiet.filter((time) => time.chain === "events");
  let afterTraveller = 0;
  let newest = "";
  const chain = auditLog({
    folder,
    name: EVENTS,
    what: "station event",
    schema: StationEvent,
    claims: heads.claims.events,
    findings,
    take(event, { sequence, path }) {
      if (event.in_force) needed.ofOpening(event.in_force, event.after_traveller, path);
      if (sequence <= lostBefore) return;
      const closed = quiet.find(({ after, to }) => after < sequence && sequence <= to);
      if (closed && !heads.hasGrown()) {
        findings.add("unsigned", path, cameMeanwhile(closed.closed));
      }
      const isNewer = (event.head?.sequence ?? 0) > heads.count && heads.hasGrown();
      if (event.head && !isNewer && known.get(event.head.sequence) !== event.head.sha256) {
        findings.add(
          "truncated",
          logFile(DAILY_HEADS, event.head.sequence),
          `the station signed it when it opened, as ${path} says, and it is not there as it was`,
        );
      }
      if (event.after_traveller <= afterTraveller) return;
      afterTraveller = event.after_traveller;
      newest = path;
    },
  });
  return { chain, afterTraveller, path: newest };
}
