import { join } from "node:path";
import type { z } from "zod";
import type { Findings } from "./audit-finding.ts";
import { loggedNumbers } from "./audit-listing.ts";
import { AuditReader } from "./audit-read.ts";
import { ChainWalk, type Claim } from "./audit-walk.ts";
import { readRecord } from "./chain.ts";
import { logFile } from "./numbered-log.ts";

export interface LoggedAt {
  readonly sequence: number;
  readonly path: string;
  readonly sha256: string;
  /** The file, to the byte. */
  readonly text: string;
}

export interface AuditedLog<T> {
  readonly folder: string;
  /** The log's folder in the records folder: "events". */
  readonly name: string;
  /** What one record is, for sentences: "station event". */
  readonly what: string;
  readonly schema: z.ZodType<T>;
  readonly claims: ReadonlyMap<number, Claim>;
  readonly findings: Findings;
  /** Each record that is well formed, in order. */
  readonly take: (content: T, at: LoggedAt) => void;
  /** What the index says of a number; see `WalkParts`. */
  readonly indexed?: (sequence: number) => string | undefined;
}

/** How much of a chain is there, and how far it can be believed. */
export interface ChainAudited {
  readonly count: number;
  readonly last: number;
  readonly walk: ChainWalk;
}

/** Follows a log from its first record to its last; memory holds its numbers only. */
export function auditLog<T>(log: AuditedLog<T>): ChainAudited {
  const { folder, name, what, findings } = log;
  const reader = new AuditReader();
  const walk = new ChainWalk({
    claims: log.claims,
    ...(log.indexed ? { indexed: log.indexed } : {}),
    found: (kind, path, why) => findings.add(kind, path, why),
  });
  const numbers = loggedNumbers(folder, name, findings);
  let expected = 1;
  for (const sequence of numbers) {
    if (sequence > expected) {
      const range = expected === sequence - 1 ? "" : ` to ${sequence - 1}`;
      findings.add(
        "missing",
        `${logFile(name, expected)}${range}`,
        `it was recorded, since number ${sequence} is there, and it is not there any more`,
      );
      walk.missing(expected);
    }
    expected = sequence + 1;
    const path = logFile(name, sequence);
    const file = reader.read(join(folder, path));
    if (!file.ok) {
      findings.add(file.isGone ? "missing" : "unreadable", path, file.problem);
      walk.bad(sequence);
      continue;
    }
    const record = readRecord(file.bytes);
    const parsed = record.ok ? log.schema.safeParse(record.content) : undefined;
    if (!record.ok || record.chain.sequence !== sequence) {
      const isOther = record.ok;
      findings.add(
        isOther ? "misplaced" : "altered",
        path,
        record.ok ? `by its content it is number ${record.chain.sequence}` : record.problem,
      );
      walk.bad(sequence);
      continue;
    }
    walk.step({ sequence, path, sha256: record.sha256, previous: record.chain.previous });
    const text = Buffer.from(file.bytes).toString("utf8");
    if (parsed?.success) log.take(parsed.data, { sequence, path, sha256: record.sha256, text });
    else findings.add("altered", path, `it is no ${what} that this version of the program knows`);
  }
  walk.end();
  const last = numbers.at(-1) ?? 0;
  tellTruncation(findings, log, last);
  return { count: numbers.length, last, walk };
}

/** What signed heads knew of beyond the last record. */
export function tellTruncation(
  findings: Findings,
  { name, claims }: { readonly name: string; readonly claims: ReadonlyMap<number, Claim> },
  last: number,
): void {
  const beyond = [...claims].filter(([sequence]) => sequence > last).sort(([a], [b]) => a - b);
  const [most, claim] = beyond.at(-1) ?? [];
  if (most === undefined || !claim) return;
  const range = most === last + 1 ? `number ${most}` : `numbers ${last + 1} to ${most}`;
  findings.add(
    "truncated",
    name,
    `${claim.by} knew of ${range}, not there any more: the chain ends with number ${last}`,
  );
}
