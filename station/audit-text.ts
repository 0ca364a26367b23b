import type { AuditReport } from "./records/audit.ts";
import type { Finding, FindingKind } from "./records/audit-finding.ts";
import type { ChainTrust } from "./records/audit-trust.ts";
import type { HeadChain } from "./records/daily-head.ts";

const ONE: Readonly<Record<HeadChain, string>> = {
  travellers: "traveller",
  dispositions: "disposition",
  events: "station event",
};

const WORDS: Readonly<Record<FindingKind, string>> = {
  altered: "ALTERED",
  missing: "MISSING",
  added: "ADDED",
  unsigned: "UNSIGNED",
  misplaced: "MISPLACED",
  truncated: "CUT OFF",
  unreadable: "NOT READ",
  signature: "NOT SIGNED",
  index: "INDEX",
  limits: "LIMITS",
  not_allowed: "RULES",
};

/** What an audit found, for somebody who reads it at five in the morning. */
export function auditText(folder: string, report: Omit<AuditReport, "limitFiles">): string {
  const { findings, findingCount, chains, heads, notes, losses } = report;
  const untold = findingCount - findings.length;
  return [
    `${folder}: ${HEADS_OF.map((chain) => counted(chains[chain].count, ONE[chain])).join(", ")}, ${counted(heads.count, "head")}`,
    ...findings.map(findingText),
    ...(untold > 0 ? [`... and ${untold} more.`] : []),
    ...HEADS_OF.filter((chain) => chain === "travellers" || isNotWhole(chains[chain])).map((chain) =>
      trustText(chain, chains[chain]),
    ),
    ...losses,
    ...notes.map((note) => `Note: ${note}`),
    report.intact
      ? "Intact: every record is as it was recorded, as far as can be seen."
      : `NOT INTACT: ${counted(findingCount, "finding")}. Keep the folder as evidence, change nothing in it, and tell the quality engineer.`,
  ].join("\n");
}

const HEADS_OF = ["travellers", "dispositions", "events"] as const;

function findingText({ kind, path, what }: Finding): string {
  return `${WORDS[kind].padEnd(10)} ${path}: ${what}.`.replace(/\.\.$/, ".");
}

function isNotWhole({ count, trusted, unvouched }: ChainTrust): boolean {
  return count > (trusted?.sequence ?? 0) + unvouched;
}

function trustText(chain: HeadChain, { count, trusted, unvouched }: ChainTrust): string {
  const one = ONE[chain];
  if (trusted === null) {
    return count === 0 ? `There is no ${one}.` : `No ${one} can be relied on.`;
  }
  const { sequence, sha256, what, at, head } = trusted;
  const by = head === null ? "by its chain alone: no signed head vouches for it" : `signed in ${head}`;
  const after =
    unvouched === 0
      ? ""
      : ` After it ${unvouched === 1 ? "comes 1 that is" : `come ${unvouched} that are`} chained, and no head vouches for yet.`;
  return `Trusted up to ${one} number ${sequence}, ${what} of ${at.slice(0, 16).replace("T", " ")} UTC, SHA-256 ${sha256}, ${by}.${after}`;
}

function counted(count: number, one: string): string {
  return `${count} ${one}${count === 1 ? "" : "s"}`;
}
