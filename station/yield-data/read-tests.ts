import { basename, join, relative } from "node:path";
import { summaryOf } from "../records/indexed-attempt.ts";
import { StoredFromTravellers } from "../records/read-stored-values.ts";
import { type RecordFile, sequenceIn } from "../records/record-name.ts";
import type { Traveller } from "../records/traveller.ts";
import type { CheckedPiece } from "../yield/reference-checks.ts";
import type { UnitTest } from "../yield/unit-fate.ts";
import { chainedTravellers } from "./chained-travellers.ts";

/** One test as its traveller has it, of whatever piece. */
export interface ReadTest extends UnitTest {
  readonly serial: string;
  readonly duration_s: number | null;
  readonly reference: CheckedPiece["reference"];
}

export interface BrokenRecord {
  readonly path: string;
  readonly problem: string;
}

export interface ReadTests {
  readonly tests: readonly ReadTest[];
  readonly broken: readonly BrokenRecord[];
  /** Files that are not as they were recorded. */
  readonly unread: readonly RecordFile[];
}

/**
 * Tests from their travellers alone.
 * @param all records of the folder, in order of their numbers
 * @param after the number of the last one that is not read; 0 for all of them
 * @throws RecordError why a file can't be read
 */
export async function testsIn(folder: string, all: readonly RecordFile[], after: number): Promise<ReadTests> {
  const stored = new StoredFromTravellers();
  const tests: ReadTest[] = [];
  const unread: RecordFile[] = [];
  const from = all.findIndex(({ sequence }) => sequence > after);
  const broken: BrokenRecord[] = from < 0 ? [] : gapsIn(folder, all.slice(from), after);
  if (from >= 0) {
    for await (const found of chainedTravellers(folder, all, from)) {
      if (found.kind === "broken") {
        const { path, problem } = found;
        broken.push({ path, problem });
        unread.push({ path: relative(folder, path), sequence: sequenceIn(basename(path)) });
      } else tests.push(testOf(found.traveller, found.sha256, stored));
    }
  }
  return { tests, broken, unread };
}

function testOf(traveller: Traveller, sha256: string, stored: StoredFromTravellers): ReadTest {
  const { form, parts } = stored.attemptOf(traveller, false);
  return {
    serial: traveller.serial,
    sequence: traveller.chain.sequence,
    sha256,
    attempt: traveller.attempt.number,
    at: traveller.ended_at ?? traveller.started_at,
    form,
    parts,
    suspect: traveller.suspects?.[0]?.cause ?? null,
    duration_s: traveller.duration_s,
    reference: summaryOf(traveller, sha256, "").reference,
  };
}

/** Numbers that no file has. */
function gapsIn(folder: string, files: readonly RecordFile[], after: number): BrokenRecord[] {
  let last = after;
  return files.flatMap(({ path, sequence }) => {
    const missing = sequence - last - 1;
    last = sequence;
    if (missing <= 0) return [];
    const which =
      missing === 1
        ? `record number ${sequence - 1}, which should come before it, is not there`
        : `records number ${sequence - missing} to ${sequence - 1}, which should come before it, are not there`;
    return [{ path: join(folder, path), problem: which }];
  });
}
