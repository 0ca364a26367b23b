import { readdir, readFile } from "node:fs/promises";
import { join } from "node:path";
import { readIntent } from "./attempt-intent.ts";
import { readRecord, sha256Hex } from "./chain.ts";
import { indexedSha256 } from "./index-db.ts";
import { fileError } from "./record-error.ts";
import { listRecords, mayBeAbout, OPEN_FOLDER, type RecordFile } from "./record-name.ts";
import { type AttemptFacts, Traveller } from "./traveller.ts";

/** A traveller as found on disk: what it says, and whether it still is what was recorded. */
export interface FoundAttempt {
  readonly path: string;
  readonly sha256: string;
  /** Null where nothing is wrong with the file. */
  readonly problem: string | null;
  /** Null where it can't be read at all. */
  readonly traveller: Traveller | null;
}

export interface FoundUnit {
  /** In the order in which they were recorded. */
  readonly attempts: readonly FoundAttempt[];
  /** Begun, and neither recorded nor void yet: under test now, or the station was stopped. */
  readonly open: readonly AttemptFacts[];
}

/**
 * Everything a records folder holds about a serial, read from the files without taking the folder: the station may
 * be running. Each traveller is held against the hash the next record carries, and the one in the index if it can
 * be read.
 * @throws RecordError FOLDER_MISSING, or why it can't be read
 */
export async function readAttempts(folder: string, serial: string): Promise<FoundUnit> {
  // First the open ones: an attempt that is recorded in between is then seen twice, and dropped here, not missed.
  const open = await openAttempts(folder, serial);
  const files = await listRecords(folder);
  const attempts: FoundAttempt[] = [];
  for (const [at, file] of files.entries()) {
    if (!mayBeAbout(file, serial)) continue;
    const found = await readAttempt(folder, file, files[at + 1]);
    // Another serial with the same safe name is not meant, unless the file was changed and may be lying.
    if (found.problem !== null || found.traveller?.serial === serial) attempts.push(found);
  }
  const recorded = new Set(attempts.map(({ traveller }) => traveller?.attempt.number));
  return { attempts, open: open.filter(({ attempt }) => !recorded.has(attempt.number)) };
}

async function readAttempt(
  folder: string,
  file: RecordFile,
  next: RecordFile | undefined,
): Promise<FoundAttempt> {
  const path = join(folder, file.path);
  const bytes = await read(path);
  const sha256 = sha256Hex(bytes);
  const record = readRecord(bytes);
  const traveller = record.ok ? Traveller.safeParse(record.content) : undefined;
  const recorded = [indexedSha256(folder, file.sequence), await nextSays(folder, file, next)];
  return { path, sha256, traveller: traveller?.data ?? null, problem: problem() };

  function problem(): string | null {
    if (!record.ok) return record.problem;
    if (record.chain.sequence !== file.sequence) return "it carries another number than its name";
    if (recorded.some((hash) => hash !== undefined && hash !== sha256)) {
      return "it was changed after it was recorded: its SHA-256 is not the recorded one";
    }
    return traveller?.success ? null : "it is not a traveller that this version of the program knows";
  }
}

/** @returns the hash of `file` that the record after it carries, undefined where there is none to be read */
async function nextSays(
  folder: string,
  file: RecordFile,
  next: RecordFile | undefined,
): Promise<string | undefined> {
  if (next?.sequence !== file.sequence + 1) return undefined;
  const record = readRecord(await read(join(folder, next.path)));
  return record.ok ? (record.chain.previous ?? undefined) : undefined;
}

async function openAttempts(folder: string, serial: string): Promise<AttemptFacts[]> {
  const open: AttemptFacts[] = [];
  const names = await readdir(join(folder, OPEN_FOLDER)).catch(() => []);
  for (const name of names.filter((one) => one.endsWith(".json")).sort()) {
    // One that vanishes meanwhile has been recorded; one that can't be read stops the station's next start.
    const intent = await readIntent(join(folder, OPEN_FOLDER, name)).catch(() => undefined);
    if (intent?.facts.serial === serial) open.push(intent.facts);
  }
  return open;
}

async function read(path: string): Promise<Uint8Array> {
  try {
    return await readFile(path);
  } catch (error) {
    throw fileError(error, path, `The record ${path} can't be read`);
  }
}
