import { createHash, type KeyObject } from "node:crypto";
import canonicalize from "canonicalize";
import { z } from "zod";
import { type Approval, approvalSchema, signatureHolds, signatureOf } from "./approval.ts";

const FORMAT = "drumtight/limit-history/1";

const entrySchema = z.strictObject({
  format: z.literal(FORMAT),
  sequence: z.int().positive(),
  /** SHA-256 of the line before; null in the first. */
  previous: z
    .string()
    .regex(/^[0-9a-f]{64}$/)
    .nullable(),
  approval: approvalSchema,
  /** The whole limit file that was approved. */
  text: z.string(),
  /** By the approver, over all the rest. */
  signature: z.base64(),
});
export type HistoryEntry = z.output<typeof entrySchema>;

export interface LimitHistory {
  /** Every approval in order, up to the first that is not as it was written. */
  readonly entries: readonly HistoryEntry[];
  /** What is wrong from there on; null where the history is whole. */
  readonly problem: string | null;
}

/** @returns where the history of a limit file lies: one line for each approval, each signed and pointing to the one before */
export function historyPath(limitFilePath: string): string {
  return `${limitFilePath}.history.jsonl`;
}

/**
 * Reads a history, and holds each line against the one before, its text against its approval, and both against their signatures.
 * Whose keys count is asked apart; lines missing at the end are seen by the approval beside the limit file only.
 */
export function readHistory(text: string): LimitHistory {
  const lines = text.split("\n");
  const rest = lines.pop();
  const entries: HistoryEntry[] = [];
  let previous: string | null = null;
  for (const [i, line] of lines.entries()) {
    const read = readLine(line, i + 1, previous);
    if (typeof read === "string") return { entries, problem: `line ${i + 1} ${read}` };
    entries.push(read);
    previous = sha256(line);
  }
  return { entries, problem: rest === "" ? null : `line ${lines.length + 1} has no end` };
}

/**
 * @param history text of the history so far, "" where there is none
 * @returns the history with one more approval at its end
 */
export function withApproval(
  history: string,
  approved: { readonly approval: Approval; readonly text: string; readonly privateKey: KeyObject },
): string {
  const before = history.split("\n").slice(0, -1);
  const last = before.at(-1);
  const signed: Omit<HistoryEntry, "signature"> = {
    format: FORMAT,
    sequence: before.length + 1,
    previous: last === undefined ? null : sha256(last),
    approval: approved.approval,
    text: approved.text,
  };
  const entry: HistoryEntry = { ...signed, signature: signatureOf(signed, approved.privateKey) };
  return `${history}${canonicalize(entry)}\n`;
}

/** @returns why an approval of these limits must not follow; null where it may */
export function notRaised(
  history: readonly Pick<Approval, "model" | "revision" | "sha256" | "approver" | "approved_at">[],
  limits: { readonly model: string; readonly revision: number; readonly sha256: string },
): string | null {
  const others = history.filter(({ model, sha256 }) => model === limits.model && sha256 !== limits.sha256);
  const newest = others.reduce<(typeof others)[number] | null>(
    (high, one) => (high && high.revision > one.revision ? high : one),
    null,
  );
  if (!newest || newest.revision < limits.revision) return null;
  return `${limits.model} revision ${newest.revision} was approved by ${newest.approver} on ${newest.approved_at.slice(0, 10)} and says something else: give this one revision ${newest.revision + 1} or higher.`;
}

function readLine(line: string, sequence: number, previous: string | null): HistoryEntry | string {
  let content: unknown;
  try {
    content = JSON.parse(line);
  } catch {
    return "can't be read";
  }
  const entry = entrySchema.safeParse(content).data;
  if (!entry) return "is no approval";
  if (entry.sequence !== sequence || entry.previous !== previous) return "does not follow the one before";
  const { signature, ...signed } = entry;
  const { signature: approvalSignature, ...approval } = entry.approval;
  const key = entry.approval.public_key;
  if (!signatureHolds(signed, signature, key) || !signatureHolds(approval, approvalSignature, key)) {
    return "was changed after it was signed";
  }
  return entry.approval.sha256 === sha256(entry.text) ? entry : "holds another text than was approved";
}

function sha256(text: string): string {
  return createHash("sha256").update(text, "utf8").digest("hex");
}
