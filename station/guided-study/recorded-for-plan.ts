import { readFile } from "node:fs/promises";
import { join } from "node:path";
import { readRecord } from "../records/chain.ts";
import type { AttemptSummary } from "../records/index-db.ts";
import { notAsRecorded, readError } from "../records/record-error.ts";
import { Traveller } from "../records/traveller.ts";
import type { StudyPlan } from "./study-plan.ts";

/**
 * What is recorded of a plan's pieces and counts for nothing, so that a study's attempts are among it: read from the travellers,
 * which are the truth.
 * @throws RecordError where one can't be read or is not as recorded
 */
export async function recordedForPlan(
  { parts }: StudyPlan,
  folder: string,
  history: (serial: string) => Promise<readonly AttemptSummary[]>,
): Promise<Traveller[]> {
  const found: Traveller[] = [];
  for (const { serial } of parts) {
    for (const { draft, path, sha256 } of await history(serial)) {
      if (draft) found.push(await travellerIn(join(folder, path), sha256));
    }
  }
  return found;
}

async function travellerIn(path: string, sha256: string): Promise<Traveller> {
  let bytes: Uint8Array;
  try {
    bytes = await readFile(path);
  } catch (error) {
    throw readError(error, path, `The traveller ${path} can't be read`);
  }
  const record = readRecord(bytes);
  if (!record.ok) throw notAsRecorded(path, record.problem);
  if (record.sha256 !== sha256) throw notAsRecorded(path, "its content has been changed");
  const parsed = Traveller.safeParse(record.content);
  if (parsed.success) return parsed.data;
  throw notAsRecorded(path, "it is not a traveller that this version of the program knows", parsed.error);
}
