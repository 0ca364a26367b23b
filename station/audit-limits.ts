import { existsSync } from "node:fs";
import { join } from "node:path";
import { approvalPath } from "../limits/approval.ts";
import { describeProblem } from "../limits/checked-yaml.ts";
import { readLimitFolder } from "../limits/limit-file.ts";
import type { ModelLimits } from "../limits/model.ts";
import { limitRevisions } from "./models-in-force.ts";
import type { Finding } from "./records/audit-finding.ts";
import type { JudgingLimits } from "./records/audit-kept.ts";
import type { StationFile } from "./station-file.ts";

export interface LimitsAudited {
  readonly findings: readonly Finding[];
  readonly notes: readonly string[];
}

/**
 * Holds the limit files a station would use now against their approvals, and against those that have judged units.
 * @param judging the limit files that travellers name, by SHA-256
 */
export function auditLimits(
  { limitsFolder, approvers }: Pick<StationFile, "limitsFolder" | "approvers">,
  judging: ReadonlyMap<string, JudgingLimits>,
): LimitsAudited {
  const read = readLimitFolder(limitsFolder);
  if (read.kind === "missing") {
    return { findings: [finding("unreadable", limitsFolder, describeProblem(read.problem))], notes: [] };
  }
  const findings = read.problems.map((problem) => finding("limits", problem.file, describeProblem(problem)));
  const notes: string[] = [];
  for (const { limits, notApproved } of limitRevisions(read.models, approvers)) {
    const { path, sha256 } = limits.source;
    if (notApproved !== null) {
      const wasApproved = judging.get(sha256)?.isDraft === false;
      if (existsSync(approvalPath(path)) || wasApproved) findings.push(finding("limits", path, notApproved));
      else notes.push(`${path}: ${notApproved}`);
    }
    const newest = newestOf(limits.model, judging);
    const isNewestHere = !read.models.some(
      ({ model, revision }) => model === limits.model && revision > limits.revision,
    );
    if (isNewestHere && newest && newest.revision > limits.revision) {
      findings.push(
        finding(
          "limits",
          path,
          `it is ${limits.model} revision ${limits.revision}, and revision ${newest.revision} judged ${newest.path} already: whoever goes back to older limits raises the revision`,
        ),
      );
    }
    const other = otherOfRevision(limits, judging);
    if (other) {
      findings.push(
        finding(
          "limits",
          path,
          `${limits.model} revision ${limits.revision} was another file when it judged ${other.path}: whoever changes limits raises the revision`,
        ),
      );
    }
  }
  const there = new Set(read.models.map(({ model }) => model));
  for (const model of new Set([...judging.values()].map((it) => it.model))) {
    const newest = newestOf(model, judging);
    if (!newest || there.has(model)) continue;
    const path = join(limitsFolder, newest.name);
    // One that is there with mistakes in it has been told.
    if (read.problems.some(({ file }) => file === path)) continue;
    const judged = `the limits of ${model}, revision ${newest.revision} when they judged ${newest.path}`;
    if (existsSync(approvalPath(path)))
      findings.push(finding("limits", path, `${judged}, are not there any more, and their approval is`));
    else notes.push(`${path}: ${judged}, are not there any more: withdrawn, or removed.`);
  }
  return { findings, notes };
}

/** @returns the limits of the highest revision that judged units of a model, drafts left out */
function newestOf(model: string, judging: ReadonlyMap<string, JudgingLimits>): JudgingLimits | undefined {
  return [...judging.values()]
    .filter((it) => it.model === model && !it.isDraft)
    .sort((a, b) => b.revision - a.revision)[0];
}

function otherOfRevision(
  { model, revision, source }: ModelLimits,
  judging: ReadonlyMap<string, JudgingLimits>,
): JudgingLimits | undefined {
  return [...judging].find(
    ([sha256, it]) =>
      sha256 !== source.sha256 && it.model === model && it.revision === revision && !it.isDraft,
  )?.[1];
}

function finding(kind: Finding["kind"], path: string, what: string): Finding {
  return { kind, path, what };
}
