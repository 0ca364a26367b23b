import { readdirSync } from "node:fs";
import { join } from "node:path";
import { Findings } from "./audit-finding.ts";
import { loggedNumbers } from "./audit-listing.ts";
import { AuditReader } from "./audit-read.ts";
import { ChainWalk, type Claim } from "./audit-walk.ts";
import { readRecord } from "./chain.ts";
import { DAILY_HEADS, DailyHead, HEAD_CHAINS, type HeadChain, isSigned } from "./daily-head.ts";
import { headText } from "./daily-head-log.ts";
import { logFile } from "./numbered-log.ts";

/** A head that is the station's. */
export interface TrustedHead {
  readonly sequence: number;
  readonly sha256: string;
  readonly content: DailyHead;
}

/** What the heads say of the records. */
export interface HeadsFound {
  readonly count: number;
  /** Signed by the station's key, from the records folder or its copies, in order. */
  readonly heads: readonly TrustedHead[];
  /** Numbers and hashes that must be there, by chain. */
  readonly claims: Readonly<Record<HeadChain, ReadonlyMap<number, Claim>>>;
  /** Records with these numbers came while the station was closed by its heads. */
  readonly quiet: readonly QuietTime[];
  /** Ends of the chains when somebody last answered for a loss; what lies before is not asked for what came after. */
  readonly accepted: DailyHead | null;
  /** What somebody has answered for, a sentence each. */
  readonly losses: readonly string[];
  /** Whether a head was written since: the station has started or goes on, and what is new is no finding. */
  readonly hasGrown: () => boolean;
  /** The keys that signed, where none was given to hold them against. */
  readonly unknownKeys: readonly string[];
}

export interface QuietTime {
  readonly chain: "travellers" | "events";
  readonly after: number;
  /** The last number that came in it; infinite after the newest head. */
  readonly to: number;
  readonly closed: string;
}

export interface HeadsAsked {
  readonly folder: string;
  /** The station's public keys; null where nobody gave any: heads are then only held against themselves. */
  readonly keys: readonly string[] | null;
  /** The folder of the copies that are about these records. */
  readonly copies: string | null;
  readonly findings: Findings;
}

/** Reads the heads of a records folder and their copies, and holds them against one another. */
export function auditHeads(asked: HeadsAsked): HeadsFound {
  const { folder, findings } = asked;
  const reader = new AuditReader();
  const unknownKeys = new Set<string>();
  const own = new Map<number, TrustedHead>();
  const isOurs = (head: DailyHead) => {
    if (asked.keys === null) unknownKeys.add(head.public_key);
    return asked.keys === null || asked.keys.includes(head.public_key);
  };
  const copied = asked.copies === null ? null : copiedHeads(asked.copies, findings, isOurs);
  const walk = new ChainWalk({
    claims: new Map(
      [...(copied ?? [])].map(([sequence, { sha256, content }]) => [
        sequence,
        { sha256, by: `the copy of ${headText(content)}` },
      ]),
    ),
    found: (kind, path, what) => findings.add(kind, path, what),
  });
  const numbers = loggedNumbers(folder, DAILY_HEADS, findings);
  let expected = 1;
  for (const sequence of numbers) {
    if (sequence > expected) missingHeads(findings, walk, expected, sequence - 1);
    expected = sequence + 1;
    const path = logFile(DAILY_HEADS, sequence);
    const head = readHead(reader, join(folder, path), sequence);
    if ("problem" in head) {
      findings.add(head.kind, path, head.problem);
      walk.bad(sequence);
      continue;
    }
    if (!isSigned(head.content)) {
      findings.add("signature", path, "its signature does not hold");
      walk.bad(sequence);
      continue;
    }
    if (!isOurs(head.content)) {
      findings.add("signature", path, "it is signed with a key that is not the station's");
      walk.bad(sequence);
      continue;
    }
    walk.step({ sequence, path, sha256: head.sha256, previous: head.content.chain.previous });
    own.set(sequence, head);
  }
  walk.end();
  const last = numbers.at(-1) ?? 0;
  compareCopies(findings, copied, last);
  const all = new Map([...(copied ?? []), ...own]);
  const heads = [...all.values()].sort((a, b) => a.sequence - b.sequence);
  const hasGrown = () => (loggedNumbers(folder, DAILY_HEADS, new Findings()).at(-1) ?? 0) > last;
  return { count: numbers.length, heads, ...claimsOf(heads), hasGrown, unknownKeys: [...unknownKeys] };
}

/** @returns the id that the heads of these records carry; null where none can be read */
export function recordsIdOf(folder: string): string | null {
  const reader = new AuditReader();
  for (const sequence of loggedNumbers(folder, DAILY_HEADS, new Findings())) {
    const head = readHead(reader, join(folder, logFile(DAILY_HEADS, sequence)), sequence);
    if (!("problem" in head) && isSigned(head.content)) return head.content.records_id;
  }
  return null;
}

function missingHeads(findings: Findings, walk: ChainWalk, from: number, to: number): void {
  const files = from === to ? logFile(DAILY_HEADS, from) : `${logFile(DAILY_HEADS, from)} to ${to}`;
  findings.add(
    "missing",
    files,
    "it was signed, since the head after it is there, and it is not there any more",
  );
  walk.missing(from);
}

type HeadRead =
  | TrustedHead
  | { readonly kind: "altered" | "unreadable" | "misplaced"; readonly problem: string };

function readHead(reader: AuditReader, path: string, sequence: number): HeadRead {
  const file = reader.read(path);
  if (!file.ok) return { kind: "unreadable", problem: file.problem };
  const record = readRecord(file.bytes);
  if (!record.ok) return { kind: "altered", problem: record.problem };
  const parsed = DailyHead.safeParse(record.content);
  if (!parsed.success) return { kind: "altered", problem: "it is no daily head that this version knows" };
  if (record.chain.sequence !== sequence) {
    return { kind: "misplaced", problem: `by its content it is head ${record.chain.sequence}` };
  }
  return { sequence, sha256: record.sha256, content: parsed.data };
}

/** @returns what the copies say, by number */
function copiedHeads(
  copies: string,
  findings: Findings,
  isOurs: (head: DailyHead) => boolean,
): ReadonlyMap<number, TrustedHead> {
  const reader = new AuditReader();
  const found = new Map<number, TrustedHead>();
  for (const name of readdirSync(copies).sort()) {
    const sequence = Number(/^(\d{8,15})\.json$/.exec(name)?.[1] ?? Number.NaN);
    if (!(sequence > 0)) continue;
    const head = readHead(reader, join(copies, name), sequence);
    if ("problem" in head || !isSigned(head.content) || !isOurs(head.content)) {
      findings.note(`The copy ${join(copies, name)} is damaged or not the station's, and proves nothing.`);
    } else found.set(sequence, head);
  }
  return found;
}

function compareCopies(
  findings: Findings,
  copied: ReadonlyMap<number, TrustedHead> | null,
  last: number,
): void {
  if (copied === null || copied.size === 0) return;
  const lastCopy = Math.max(...copied.keys());
  if (lastCopy > last) {
    const { content } = copied.get(lastCopy) ?? {};
    findings.add(
      "truncated",
      logFile(DAILY_HEADS, last + 1),
      `the copies know of heads up to ${content ? headText(content) : lastCopy}, and here they end with number ${last}`,
    );
  }
  let lacking = 0;
  for (let sequence = 1; sequence <= last; sequence++) if (!copied.has(sequence)) lacking++;
  if (lacking > 0) findings.note(`${lacking} of ${last} heads have no copy that can be relied on.`);
}

function claimsOf(heads: readonly TrustedHead[]) {
  const claims: Record<HeadChain, Map<number, Claim>> = {
    travellers: new Map(),
    dispositions: new Map(),
    events: new Map(),
  };
  const quiet: QuietTime[] = [];
  const losses: string[] = [];
  let accepted: DailyHead | null = null;
  const acceptances = heads.filter(({ content }) => content.accepted);
  for (const [at, { content, sequence }] of heads.entries()) {
    if (content.accepted) {
      accepted = content;
      losses.push(lossText(content, heads));
    }
    const isVoid = acceptances.some(
      ({ sequence: later, content: { accepted: it } }) =>
        it !== undefined && it.since_head <= sequence && sequence < later,
    );
    if (isVoid) continue;
    for (const chain of HEAD_CHAINS) {
      const end = content[chain];
      if (end) claims[chain].set(end.sequence, { sha256: end.sha256, by: headText(content) });
    }
    quiet.push(...quietAfter(content, heads[at + 1]?.content));
  }
  return { claims, quiet, accepted, losses };
}

/** @returns what came between a head with which the station closed and the next one; nothing after any other head */
export function quietAfter(closed: DailyHead, next: DailyHead | undefined): QuietTime[] {
  if (closed.moment !== "closed") return [];
  return (["travellers", "events"] as const)
    .map((chain) => ({
      chain,
      after: closed[chain]?.sequence ?? 0,
      to: next ? (next[chain]?.sequence ?? 0) : Number.POSITIVE_INFINITY,
      closed: headText(closed),
    }))
    .filter(({ after, to }) => to > after);
}

function lossText(head: DailyHead, heads: readonly TrustedHead[]): string {
  const { accepted } = head;
  const before = heads.filter(
    ({ sequence }) => sequence >= (accepted?.since_head ?? 0) && sequence < head.chain.sequence,
  );
  const newest = before.at(-1)?.content;
  const count = (it: DailyHead | undefined) =>
    HEAD_CHAINS.map((chain) => counted(it?.[chain]?.sequence ?? 0, chain)).join(", ");
  return `Known loss: ${newest ? `${headText(newest)} knew of ${count(newest)}` : "heads before were lost"}; ${count(head)} were there when ${accepted?.by.name ?? "somebody"} answered for it on ${head.at.slice(0, 16).replace("T", " ")} UTC: ${accepted?.reason ?? ""}`;
}

function counted(count: number, chain: HeadChain): string {
  return `${count} ${count === 1 ? chain.slice(0, -1) : chain}`;
}
