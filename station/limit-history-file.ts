import type { KeyObject } from "node:crypto";
import { readdirSync, readFileSync } from "node:fs";
import { dirname, join } from "node:path";
import {
  type Approval,
  approvalPath,
  readApproval,
  signatureHolds,
  type TrustedKey,
} from "../limits/approval.ts";
import { readLimitFile } from "../limits/limit-file.ts";
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

export interface HistoryBeside extends LimitHistory {
  readonly path: string;
}

/**
 * The history of a limit file, and every other one in its folder that tells of its model: revisions may
 * lie side by side under names of their own.
 */
export function historiesBeside({ model, source }: Pick<ModelLimits, "model" | "source">): HistoryBeside[] {
  const own = historyPath(source.path);
  const others = namesBeside(source.path, historyPath("")).filter((path) => path !== own);
  return [own, ...others].flatMap((path) => {
    const history = historyAt(path);
    const entries = history.entries.filter(({ approval }) => approval.model === model);
    const isOfModel = path === own || entries.length > 0;
    return isOfModel ? [{ path, entries, problem: history.problem }] : [];
  });
}

function historyAt(path: string): LimitHistory {
  try {
    return readHistory(textIfThere(path) ?? "");
  } catch (error) {
    return { entries: [], problem: `it can't be read (${codeOf(error)})` };
  }
}

function codeOf(error: unknown): string {
  return error instanceof Error && "code" in error ? String(error.code) : String(error);
}

/** Files in the folder of a limit file whose names end so. */
function namesBeside(limitFilePath: string, ending: string): string[] {
  const folder = dirname(limitFilePath);
  try {
    return readdirSync(folder)
      .filter((name) => name.endsWith(ending))
      .sort()
      .map((name) => join(folder, name));
  } catch {
    // Whoever reads the limit file itself says why.
    return [];
  }
}

/** @returns the approval beside a limit file, whatever it approves; null where there is none that is as it was signed */
export function approvalBeside(limitFilePath: string): Approval | null {
  const approval = approvalAt(approvalPath(limitFilePath));
  if (!approval) return null;
  const { signature, ...signed } = approval;
  return signatureHolds(signed, signature, approval.public_key) ? approval : null;
}

function approvalAt(path: string): Approval | undefined {
  try {
    return readApproval(textIfThere(path) ?? "");
  } catch {
    return undefined;
  }
}

/** Every approval of a model that is known of in the folder of a limit file. */
function approvalsKnown(limits: ModelLimits): readonly Approval[] {
  const inHistories = historiesBeside(limits).flatMap(({ entries }) =>
    entries.map(({ approval }) => approval),
  );
  const suffix = approvalPath("");
  const beside = namesBeside(limits.source.path, suffix).flatMap(
    (path) => approvalBeside(path.slice(0, -suffix.length)) ?? [],
  );
  return [...new Map([...inHistories, ...beside].map((it) => [it.signature, it])).values()];
}

/** @returns why these limits need a higher revision; null where nothing known of is against them */
export function revisionNotRaised(limits: ModelLimits): string | null {
  const { model, revision, source } = limits;
  return notRaised(approvalsKnown(limits), { model, revision, sha256: source.sha256 });
}

/**
 * Writes an approval into the history beside its limit file, durably and whole or not at all.
 * @throws UsageError where the history is not as it was written
 */
export async function appendToHistory(
  limitFilePath: string,
  approved: { readonly approval: Approval; readonly text: string; readonly privateKey: KeyObject },
): Promise<void> {
  const path = historyPath(limitFilePath);
  const { problem } = historyAt(path);
  if (problem !== null) {
    throw new UsageError(
      `${path} is not as it was written: ${problem}. Put the right one back, or begin a new one by moving this one away. Nothing was approved.`,
    );
  }
  await replaceFile(withApproval(textIfThere(path) ?? "", approved), `${path}.part`, path);
}

/**
 * What the histories beside a limit file know that people the station trusts have approved of its model.
 * @param today ISO 8601 calendar date
 * @returns the highest revision whose day has come, 0 where there is none, and another text's approval under the same number
 */
export function knownOfHistory(
  limits: ModelLimits,
  approvers: readonly TrustedKey[],
  today: string,
): { readonly newest: number; readonly other: Approval | null } {
  const keys = new Set(approvers.map(({ publicKey }) => publicKey));
  const trusted = historiesBeside(limits)
    .flatMap(({ entries }) => entries)
    .filter(({ approval }) => keys.has(approval.public_key));
  const { revision, source } = limits;
  const other = trusted.find(
    ({ approval }) => approval.revision === revision && approval.sha256 !== source.sha256,
  );
  const revisions = trusted.flatMap(({ approval, text }) => {
    try {
      return readLimitFile("history", text).effectiveDate <= today ? [approval.revision] : [];
    } catch {
      // Written for another version of the program.
      return [];
    }
  });
  return { newest: Math.max(0, ...revisions), other: other?.approval ?? null };
}

function textIfThere(path: string): string | null {
  try {
    return readFileSync(path, "utf8");
  } catch (error) {
    if (codeOf(error) === "ENOENT") return null;
    throw error;
  }
}
