import { createHash } from "node:crypto";
import { existsSync, readFileSync } from "node:fs";
import { approvalPath, type TrustedKey, verifyApproval } from "../limits/approval.ts";
import type { ModelLimits } from "../limits/model.ts";
import type { ModelInForce } from "./cycle/refusals.ts";

/** Whether each of a station's limit files is approved by somebody the station trusts. */
export function modelsInForce(all: readonly ModelLimits[], approvers: readonly TrustedKey[]): ModelInForce[] {
  return all.map((limits) => inForce(limits, approvers));
}

function inForce(limits: ModelLimits, approvers: readonly TrustedKey[]): ModelInForce {
  const { path, sha256 } = limits.source;
  const bytes = readFileSync(path);
  if (createHash("sha256").update(bytes).digest("hex") !== sha256) {
    return { limits, approvedBy: null, notApproved: `${path} changed while it was being read. Start again.` };
  }
  const approvalFile = approvalPath(path);
  const approval = existsSync(approvalFile) ? readFileSync(approvalFile, "utf8") : undefined;
  const state = verifyApproval(bytes, limits, approval, approvers);
  return state.ok
    ? { limits, approvedBy: state.approver, notApproved: null }
    : { limits, approvedBy: null, notApproved: state.sentence };
}
