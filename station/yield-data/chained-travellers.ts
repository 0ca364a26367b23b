import { join } from "node:path";
import { AttemptEvidence } from "../records/attempt-evidence.ts";
import { readRecord } from "../records/chain.ts";
import { summaryOf } from "../records/indexed-attempt.ts";
import { type RecordContent, readInBatches } from "../records/record-files.ts";
import { nameProblem, type RecordFile } from "../records/record-name.ts";
import { Traveller } from "../records/traveller.ts";
import { TravellerDisk } from "../records/traveller-reader.ts";

export type ChainedTraveller =
  | { readonly kind: "as recorded"; readonly sha256: string; readonly traveller: Traveller }
  /** Not what was recorded. */
  | { readonly kind: "broken"; readonly path: string; readonly problem: string };

interface Read {
  readonly content: RecordContent;
  /** Null where the file by itself is not a record of its name. */
  readonly found: {
    readonly sha256: string;
    readonly previous: string | null;
    readonly traveller: Traveller;
  } | null;
}

/**
 * Travellers in the order of recording, each held against its name and its neighbours. Where one does not fit the other, both
 * are examined more closely.
 * @param all the records of the folder as far as they were listed, in order of their numbers
 * @param from where to begin in them
 * @throws RecordError NOT_READABLE for a file that the user who asks may not read
 */
export async function* chainedTravellers(
  folder: string,
  all: readonly RecordFile[],
  from = 0,
): AsyncGenerator<ChainedTraveller, void, void> {
  const readable = new TravellerDisk();
  const evidence = new AttemptEvidence(folder, all, undefined, readable.disk);
  const decided = (read: Read, doubted: boolean) => decide(folder, read, doubted, evidence, readable);
  let before: Read | null = null;
  let isDoubted = false;
  for await (const batch of readInBatches(folder, all.slice(Math.max(0, from - 1)), readable.disk)) {
    for (const content of batch) {
      const read = readAlone(content);
      if (before) {
        const isLinked = read.found !== null && read.found.previous === before.found?.sha256;
        if (isAsked(before, all, from)) yield await decided(before, isDoubted || !isLinked);
        isDoubted = !isLinked;
      } else isDoubted = content.file.sequence > 1 && from === 0;
      before = read;
    }
  }
  if (before && isAsked(before, all, from)) yield await decided(before, isDoubted);
}

function isAsked({ content }: Read, all: readonly RecordFile[], from: number): boolean {
  return content.file.sequence >= (all[from]?.sequence ?? Number.POSITIVE_INFINITY);
}

async function decide(
  folder: string,
  { content, found }: Read,
  isDoubted: boolean,
  evidence: AttemptEvidence,
  readable: TravellerDisk,
): Promise<ChainedTraveller> {
  if (found && !isDoubted) return { kind: "as recorded", ...found };
  const unread = readable.problemOf(folder, content.file);
  if (unread !== undefined) return { kind: "broken", path: join(folder, content.file.path), problem: unread };
  const { problem, sha256, traveller } = await evidence.examine(content);
  if (problem === null && traveller) return { kind: "as recorded", sha256, traveller };
  return { kind: "broken", path: join(folder, content.file.path), problem: problem ?? "it can't be read" };
}

function readAlone(content: RecordContent): Read {
  const record = readRecord(content.bytes);
  const traveller = record.ok ? Traveller.safeParse(record.content) : undefined;
  if (!record.ok || !traveller?.success) return { content, found: null };
  const { sha256, chain } = record;
  const { path } = content.file;
  const isNamedSo = nameProblem(summaryOf(traveller.data, sha256, path), path) === null;
  return {
    content,
    found: isNamedSo ? { sha256, previous: chain.previous, traveller: traveller.data } : null,
  };
}
