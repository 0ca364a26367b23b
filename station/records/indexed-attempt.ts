import { failureNames } from "./failure-names.ts";
import type { AttemptSummary, IndexedAttempt, ReferenceReading } from "./index-db.ts";
import { type FormTexts, storedValuesOf } from "./stored-values.ts";
import type { Traveller } from "./traveller.ts";

/** @returns what the index keeps of a traveller in the file `path` */
export function summaryOf(traveller: Traveller, sha256: string, path: string): AttemptSummary {
  return {
    sequence: traveller.chain.sequence,
    sha256,
    path,
    id: traveller.id,
    recordKind: traveller.kind,
    serial: traveller.serial,
    model: traveller.model,
    attempt: traveller.attempt.number,
    kind: traveller.attempt.kind,
    draft: traveller.draft,
    verdict: traveller.verdict,
    started_at: traveller.started_at,
    ended_at: traveller.ended_at,
    codes: traveller.reasons.map(({ code }) => code),
    causes: traveller.verdict === "fail" ? failureNames(traveller) : [],
    suspect: traveller.suspects?.[0]?.cause ?? null,
    reference: referenceReading(traveller),
  };
}

/**
 * @param forms kept by whoever reads many
 * @returns what the index is given of a traveller in the file `path`
 */
export function indexedAttempt(
  traveller: Traveller,
  sha256: string,
  path: string,
  forms?: FormTexts,
): IndexedAttempt {
  // A summary spread into another object takes ten times as long to copy as to make.
  return Object.assign(summaryOf(traveller, sha256, path), {
    duration_s: traveller.duration_s,
    stored: storedValuesOf(traveller, forms),
  });
}

function referenceReading({ reference }: Traveller): ReferenceReading | null {
  if (!reference) return null;
  const { measured, certified_value, tolerance, unit } = reference;
  return { measured, certified: certified_value, tolerance, unit };
}
