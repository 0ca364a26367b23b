import { readLimitFile } from "../limits/limit-file.ts";
import type { ModelLimits } from "../limits/model.ts";
import type { JudgedRevision } from "./judged-revisions.ts";
import { historiesBeside, revisionNotRaised } from "./limit-history-file.ts";

export interface RevisionWarning {
  readonly characteristic: null;
  readonly rule: "revision" | "reason" | "effective date" | "history";
  readonly sentence: string;
}

/** Says nothing of why limits were changed; common practice, no source. */
const NO_REASON =
  /^(?:n\/?a|none|tbd|todo|test|misc|various|update[ds]?|change[ds]?|new|see above|[-.?x]+)[.!]?$/i;
const SHORTEST_REASON = 12;

/**
 * What a colleague would ask of a new revision: whether its number was raised, and whether it says why it was made.
 * @param inForce the station's limits of this model, where a station was named
 * @param judged which limit files judged units of this model, where records were named
 */
export function revisionWarnings(
  limits: ModelLimits,
  inForce: ModelLimits | null,
  judged: readonly JudgedRevision[] = [],
): readonly RevisionWarning[] {
  const { revision, reason, model, source } = limits;
  const warnings: RevisionWarning[] = [];
  const warn = (rule: RevisionWarning["rule"], sentence: string) =>
    warnings.push({ characteristic: null, rule, sentence });
  const histories = historiesBeside(limits);
  const entries = histories.flatMap((history) => history.entries);
  for (const { path, problem } of histories) {
    if (problem !== null)
      warn("history", `The history of its approvals, ${path}, is not as it was written: ${problem}.`);
  }
  const notRaised = revisionNotRaised(limits);
  const isOther = inForce !== null && inForce.source.sha256 !== source.sha256;
  if (notRaised !== null) warn("revision", notRaised);
  else if (isOther && inForce.revision >= revision) {
    warn(
      "revision",
      `The station has revision ${inForce.revision} of ${model}, which says something else: give this one revision ${inForce.revision + 1} or higher.`,
    );
  }
  const used = judged
    .filter((one) => one.sha256 !== source.sha256 && one.revision >= revision)
    .sort((a, b) => b.revision - a.revision)[0];
  if (used) {
    warn(
      "revision",
      `Revision ${used.revision} of ${model} judged ${used.attempts} ${used.attempts === 1 ? "attempt" : "attempts"}, ${used.serial} on ${used.started_at.slice(0, 10)} first, and says something else: give this one revision ${used.revision + 1} or higher.`,
    );
  }
  const before = [...entries.flatMap(({ text }) => readOrNone(text)), ...(isOther ? [inForce] : [])];
  const same = before.find(
    (other) => other.source.sha256 !== source.sha256 && samePlain(other.reason, reason),
  );
  if (reason.trim().length < SHORTEST_REASON || NO_REASON.test(reason.trim())) {
    warn(
      "reason",
      `"${reason}" does not say why this revision was made: write what was wrong before, and how that is known.`,
    );
  } else if (same) {
    warn("reason", `The reason is that of revision ${same.revision}: write why this revision was made.`);
  }
  if (isOther && inForce.revision < revision && inForce.effectiveDate > limits.effectiveDate) {
    warn(
      "effective date",
      `It takes effect on ${limits.effectiveDate}, before revision ${inForce.revision} did (${inForce.effectiveDate}): write the day it is to judge from.`,
    );
  }
  return warnings;
}

function samePlain(a: string, b: string): boolean {
  const plain = (text: string) => text.toLowerCase().replace(/\W+/g, " ").trim();
  return plain(a) === plain(b);
}

function readOrNone(text: string): ModelLimits[] {
  try {
    return [readLimitFile("history", text)];
  } catch {
    // Written for another version of the program.
    return [];
  }
}
