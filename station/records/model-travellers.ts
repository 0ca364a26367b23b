import { join } from "node:path";
import { AttemptEvidence } from "./attempt-evidence.ts";
import { readRecord } from "./chain.ts";
import { localDay } from "./local-time.ts";
import { readInBatches } from "./record-files.ts";
import { attemptIn, listRecords, mayBeAbout, type RecordFile, safeSerialIn } from "./record-name.ts";
import type { Traveller } from "./traveller.ts";
import { TravellerDisk } from "./traveller-reader.ts";

export interface TravellerQuery {
  readonly model: string;
  /** Only this unit. */
  readonly serial?: string;
  /** First and last day on which an attempt may have begun, ISO 8601, by the local calendar. */
  readonly from?: string;
  readonly to?: string;
  /** Only of reference pieces. */
  readonly recordKind?: "reference";
  /** Only records with greater numbers. */
  readonly after?: number;
}

export type FoundTraveller =
  | {
      readonly kind: "as recorded";
      readonly path: string;
      readonly sha256: string;
      readonly traveller: Traveller;
      /** Whether another attempt of the unit may follow in the folder. */
      readonly goesOn: boolean;
    }
  /** Not what was recorded, and perhaps of the model that is asked for. */
  | { readonly kind: "broken"; readonly path: string; readonly problem: string };

const DAY_MS = 24 * 3600 * 1000;

/**
 * Every traveller of a model, in the order in which they were recorded. Only the dated folders are read: no lock is taken,
 * no index opened or made, so that a station may be writing meanwhile; what it adds after the listing is not seen. Each file
 * is held against its name and its neighbours.
 * @throws RecordError FOLDER_MISSING, or why the folder can't be read
 */
export async function* travellersOf(
  folder: string,
  query: TravellerQuery,
): AsyncGenerator<FoundTraveller, void, void> {
  const files = await listRecords(folder);
  const readable = new TravellerDisk();
  const evidence = new AttemptEvidence(folder, files, undefined, readable.disk);
  const last = lastAttempts(files);
  const asked = files.filter((file) => mayBeIn(file, query));
  const mentions = [
    `"model":${JSON.stringify(query.model)}`,
    ...(query.recordKind === undefined ? [] : [`"kind":"${query.recordKind}"`]),
  ].map((text) => Buffer.from(text));
  for await (const batch of readInBatches(folder, asked, readable.disk)) {
    for (const content of batch) {
      const path = join(folder, content.file.path);
      if (!mentions.every((mention) => content.bytes.includes(mention))) {
        // Not asked for, unless it can't be read at all.
        const record = readRecord(content.bytes);
        const problem = readable.problemOf(folder, content.file) ?? (record.ok ? null : record.problem);
        if (problem !== null) yield { kind: "broken", path, problem };
        continue;
      }
      const { problem, sha256, traveller } = await evidence.examine(content);
      if (traveller && !isAsked(traveller, query)) continue;
      if (problem !== null) yield { kind: "broken", path, problem };
      else if (traveller) {
        const goesOn = (last.get(safeSerialIn(content.file.path)) ?? 1) > traveller.attempt.number;
        yield { kind: "as recorded", path, sha256, traveller, goesOn };
      }
    }
  }
}

/** By serials as names carry them, of those that were tested more than once. */
function lastAttempts(files: readonly RecordFile[]): ReadonlyMap<string, number> {
  const last = new Map<string, number>();
  for (const file of files) {
    const attempt = attemptIn(file);
    if (attempt === 1) continue;
    const serial = safeSerialIn(file.path);
    last.set(serial, Math.max(attempt, last.get(serial) ?? 0));
  }
  return last;
}

/** By the file's name: its folder is the UTC day of the attempt's end, within a day or two of the local day of its start. */
function mayBeIn(file: RecordFile, { serial, from, to, after }: TravellerQuery): boolean {
  if (after !== undefined && file.sequence <= after) return false;
  if (serial !== undefined && !mayBeAbout(file, serial)) return false;
  const day_ms = Date.parse(file.path.slice(0, "2026/01/05".length).replaceAll("/", "-"));
  if (from !== undefined && day_ms < Date.parse(from) - 2 * DAY_MS) return false;
  return to === undefined || !(day_ms > Date.parse(to) + 2 * DAY_MS);
}

function isAsked(traveller: Traveller, { model, serial, from, to, recordKind }: TravellerQuery): boolean {
  const day = localDay(traveller.started_at);
  return (
    traveller.model === model &&
    (recordKind === undefined || traveller.kind === recordKind) &&
    (serial === undefined || traveller.serial === serial) &&
    (from === undefined || day >= from) &&
    (to === undefined || day <= to)
  );
}
