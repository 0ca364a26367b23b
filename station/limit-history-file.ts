import type { KeyObject } from "node:crypto";
import { readFileSync } from "node:fs";
import {
  type Approval,
  approvalPath,
  readApproval,
  signatureHolds,
  type TrustedKey,
} from "../limits/approval.ts";
import { limitFileText, readLimitFile } from "../limits/limit-file.ts";
import {
  historyPath,
  type LimitHistory,
  notRaised,
  readHistory,
  withApproval,
} from "../limits/limit-history.ts";
import type { ModelLimits } from "../limits/model.ts";
import { UsageError } from "./explain.ts";
import { replaceFile } from "./records/durable-file.ts";

/** @returns the history beside a limit file; empty where there is none */
export function historyBeside(limitFilePath: string): LimitHistory {
  return readHistory(textIfThere(historyPath(limitFilePath)) ?? "");
}

/** @returns the approval beside a limit file, whatever it approves; null where there is none that is as it was signed */
export function approvalBeside(limitFilePath: string): Approval | null {
  const approval = readApproval(textIfThere(approvalPath(limitFilePath)) ?? "");
  if (!approval) return null;
  const { signature, ...signed } = approval;
  return signatureHolds(signed, signature, approval.public_key) ? approval : null;
}

/** Every approval that is known of beside a limit file, oldest first. */
function approvalsKnown(limitFilePath: string): readonly Approval[] {
  const approvals = historyBeside(limitFilePath).entries.map(({ approval }) => approval);
  const now = approvalBeside(limitFilePath);
  const isKnown = !now || approvals.some(({ signature }) => signature === now.signature);
  return isKnown ? approvals : [...approvals, now];
}

/** @returns why these limits need a higher revision; null where nothing known of is against them */
export function revisionNotRaised({ model, revision, source }: ModelLimits): string | null {
  return notRaised(approvalsKnown(source.path), { model, revision, sha256: source.sha256 });
}

/**
 * Writes an approval into the history beside its limit file, durably and whole or not at all.
 * @throws UsageError where the history is not as it was written
 */
export async function appendToHistory(
  limitFilePath: string,
  approval: Approval,
  privateKey: KeyObject,
): Promise<void> {
  const path = historyPath(limitFilePath);
  const before = textIfThere(path) ?? "";
  const { problem } = readHistory(before);
  if (problem !== null) {
    throw new UsageError(
      `${path} is not as it was written: ${problem}. Put the right one back, or begin a new one by moving this one away. Nothing was approved.`,
    );
  }
  const text = withApproval(before, { approval, text: limitFileText(limitFilePath), privateKey });
  await replaceFile(text, `${path}.part`, path);
}

/**
 * The highest revision that somebody the station trusts has approved and whose day has come, by the history beside the limit
 * file; 0 where there is none.
 * @param today ISO 8601 calendar date
 */
export function newestInHistory(
  limits: ModelLimits,
  approvers: readonly TrustedKey[],
  today: string,
): number {
  const keys = new Set(approvers.map(({ publicKey }) => publicKey));
  const revisions = historyBeside(limits.source.path).entries.flatMap(({ approval, text }) => {
    if (approval.model !== limits.model || !keys.has(approval.public_key)) return [];
    try {
      return readLimitFile("history", text).effectiveDate <= today ? [approval.revision] : [];
    } catch {
      // Written for another version of the program.
      return [];
    }
  });
  return Math.max(0, ...revisions);
}

function textIfThere(path: string): string | null {
  try {
    return readFileSync(path, "utf8");
  } catch (error) {
    if (error instanceof Error && "code" in error && error.code === "ENOENT") return null;
    throw error;
  }
}
