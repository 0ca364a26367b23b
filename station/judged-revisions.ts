import { storedAttempts } from "./records/read-stored-values.ts";

/** A limit file that judged units of a model, drafts left out. */
export interface JudgedRevision {
  readonly revision: number;
  readonly sha256: string;
  readonly attempts: number;
  /** The attempt it judged first: its unit and when it began, ISO 8601. */
  readonly serial: string;
  readonly started_at: string;
}

/**
 * The limit files by which a model's attempts were judged, by the records' index where there is one.
 * @throws RecordError when the records can't be read
 */
export async function judgedRevisions(recordsFolder: string, model: string): Promise<JudgedRevision[]> {
  const judged = new Map<string, JudgedRevision>();
  for await (const found of storedAttempts(recordsFolder, { model })) {
    if (found.kind === "broken" || found.attempt.form.draft) continue;
    const { form, serial, started_at } = found.attempt;
    const { revision, sha256 } = form.limitFile;
    const known = judged.get(sha256);
    judged.set(
      sha256,
      known
        ? { ...known, attempts: known.attempts + 1 }
        : { revision, sha256, attempts: 1, serial, started_at },
    );
  }
  return [...judged.values()];
}
