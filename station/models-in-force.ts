import { createHash } from "node:crypto";
import { readFileSync } from "node:fs";
import { approvalPath, type TrustedKey, verifyApproval } from "../limits/approval.ts";
import type { ModelLimits } from "../limits/model.ts";
import { byModel } from "../limits/revisions.ts";
import type { ModelInForce } from "./cycle/refusals.ts";

/** A limit file of a station, of which there may be several revisions of one model. */
export interface LimitRevision extends ModelInForce {
  /** Nobody has signed it; one with a signature that does not hold is no draft. */
  readonly isDraft: boolean;
}

/** Whether each of a station's limit files is approved by somebody the station trusts. */
export function limitRevisions(
  all: readonly ModelLimits[],
  approvers: readonly TrustedKey[],
): LimitRevision[] {
  return all.map((limits) => inForce(limits, approvers));
}

function inForce(limits: ModelLimits, approvers: readonly TrustedKey[]): LimitRevision {
  const { path, sha256 } = limits.source;
  const bytes = bytesOf(path);
  if (bytes === null || createHash("sha256").update(bytes).digest("hex") !== sha256) {
    const notApproved = `${path} changed while it was being read. Start again.`;
    return { limits, approvedBy: null, notApproved, isDraft: false };
  }
  const approval = bytesOf(approvalPath(path), UNREADABLE)?.toString("utf8");
  const state = verifyApproval(bytes, limits, approval, approvers);
  return state.ok
    ? { limits, approvedBy: state.approver, notApproved: null, isDraft: false }
    : { limits, approvedBy: null, notApproved: state.sentence, isDraft: approval === undefined };
}

/** What is there and can't be read is no approval, and no draft either. */
const UNREADABLE = Buffer.of();

/** @returns null where there is no such file */
function bytesOf(path: string, unreadable: Buffer | null = null): Buffer | null {
  try {
    return readFileSync(path);
  } catch (error) {
    const isThere = !(error instanceof Error && "code" in error && error.code === "ENOENT");
    return isThere ? unreadable : null;
  }
}

export interface ModelsOnDay {
  /** One revision of each model. */
  readonly models: readonly LimitRevision[];
  /** Sentences about newer revisions that lie beside these, and why they do not judge. */
  readonly notes: readonly string[];
}

/**
 * Which revision of each model judges on a day: the highest whose day has come, drafts only where they are allowed. A newer one
 * with an approval that does not hold is chosen all the same and stops its model: whoever put it there meant it to count.
 * @param today ISO 8601 calendar date
 */
export function modelsOn(
  revisions: readonly LimitRevision[],
  today: string,
  allowDrafts: boolean,
): ModelsOnDay {
  const ofModels = [...byModel(revisions.map((one) => ({ model: one.limits.model, one }))).values()].map(
    (them) => them.map(({ one }) => one).sort((a, b) => b.limits.revision - a.limits.revision),
  );
  const models = ofModels.flatMap((newestFirst) => chosen(newestFirst, today, allowDrafts));
  const notes = ofModels.flatMap((newestFirst, i) =>
    newestFirst.flatMap((one) => passedOver(one, models[i], today)),
  );
  return { models, notes };
}

function chosen(newestFirst: readonly LimitRevision[], today: string, allowDrafts: boolean): LimitRevision[] {
  const effective = newestFirst.filter(({ limits }) => limits.effectiveDate <= today);
  const first =
    effective.find(({ isDraft }) => allowDrafts || !isDraft) ??
    newestFirst.filter(({ notApproved }) => notApproved === null).sort(byDay)[0] ??
    effective[0] ??
    newestFirst[0];
  return first ? [first] : [];
}

function byDay(a: LimitRevision, b: LimitRevision): number {
  return a.limits.effectiveDate.localeCompare(b.limits.effectiveDate);
}

function passedOver(one: LimitRevision, judging: LimitRevision | undefined, today: string): string[] {
  if (!judging || one.limits.revision <= judging.limits.revision) return [];
  const { model, revision, effectiveDate } = one.limits;
  const goesOn = `Revision ${judging.limits.revision} judges`;
  if (effectiveDate > today && one.notApproved === null) {
    return [
      `Revision ${revision} of the limits of ${model} lies ready and takes effect on ${effectiveDate}. ${goesOn} until then.`,
    ];
  }
  const toCome = effectiveDate > today ? ` It would take effect on ${effectiveDate}.` : "";
  return [`${one.notApproved}${toCome} ${goesOn} meanwhile.`];
}

/** The limits that judge on a day, one revision of each model. */
export function limitsOn(
  all: readonly ModelLimits[],
  approvers: readonly TrustedKey[],
  today: string,
): readonly ModelLimits[] {
  return modelsOn(limitRevisions(all, approvers), today, false).models.map(({ limits }) => limits);
}
