import { createHash } from "node:crypto";
import { existsSync, readFileSync } from "node:fs";
import { approvalPath, verifyApproval } from "../limits/approval.ts";
import { loadLimitFolder } from "../limits/limit-file.ts";
import type { ModelLimits } from "../limits/model.ts";
import type { ModelInForce } from "./cycle/refusals.ts";
import { UsageError } from "./explain.ts";
import type { StationFile } from "./station-file.ts";

/**
 * Reads the station's limit files and whether each is approved.
 * @throws FileProblems with every mistake in every file; UsageError when what they need of the station is not there
 */
export function loadModels(file: StationFile): ModelInForce[] {
  const all = loadLimitFolder(file.limitsFolder);
  if (all.length === 0) throw new UsageError(`There is no limit file (*.yaml) in ${file.limitsFolder}.`);
  for (const limits of all) requireOrifices(limits, file);
  if (file.referenceCheck) {
    requireReferenceModels(all, file);
    for (const limits of all) requireReferencePieces(limits, file);
  }
  return all.map((limits) => inForce(limits, file));
}

function inForce(limits: ModelLimits, file: StationFile): ModelInForce {
  const { path, sha256 } = limits.source;
  const bytes = readFileSync(path);
  if (createHash("sha256").update(bytes).digest("hex") !== sha256) {
    return { limits, approvedBy: null, notApproved: `${path} changed while it was being read. Start again.` };
  }
  const approvalFile = approvalPath(path);
  const approval = existsSync(approvalFile) ? readFileSync(approvalFile, "utf8") : undefined;
  const state = verifyApproval(bytes, limits, approval, file.approvers);
  return state.ok
    ? { limits, approvedBy: state.approver, notApproved: null }
    : { limits, approvedBy: null, notApproved: state.sentence };
}

function requireOrifices(limits: ModelLimits, file: StationFile): void {
  for (const step of limits.steps) {
    for (const point of step.kind === "airflow" ? step.points : []) {
      if (file.orificeOutputs.has(point.orifice)) continue;
      const known = [...file.orificeOutputs.keys()].join(", ");
      throw new UsageError(
        `${limits.source.path} asks for the orifice ${point.orifice}; the station file has: ${known || "none"}.`,
      );
    }
  }
}

function requireReferencePieces({ model }: ModelLimits, file: StationFile): void {
  if (file.referenceCheck?.pieces.some((piece) => piece.model === model)) return;
  throw new UsageError(
    `${model} has a limit file but no reference piece in the station file, so the station can't be proven for it. Add one, or take the limit file away.`,
  );
}

function requireReferenceModels(all: readonly ModelLimits[], file: StationFile): void {
  for (const piece of file.referenceCheck?.pieces ?? []) {
    const limits = all.find((candidate) => candidate.model === piece.model);
    if (limits?.characteristics.some((characteristic) => characteristic.measurand === "leak_rate")) continue;
    throw new UsageError(
      `Reference piece ${piece.serial} needs a limit file of ${piece.model} with a leak rate; there is none in ${file.limitsFolder}.`,
    );
  }
}
