import { existsSync } from "node:fs";
import { join } from "node:path";
import { setTimeout as pause } from "node:timers/promises";
import { DecidedComparison } from "./audit-decided-index.ts";
import { Findings } from "./audit-finding.ts";
import { AuditIndex, INDEX_FILE } from "./audit-index.ts";
import { loggedNumbers, requireFolder, TravellerListing } from "./audit-listing.ts";
import { AuditReader } from "./audit-read.ts";
import { readRecord } from "./chain.ts";
import { Disposition } from "./disposition.ts";
import { askedUndisturbed } from "./index-file.ts";
import { DISPOSITIONS, logFile } from "./numbered-log.ts";
import { nameProblem } from "./record-name.ts";
import { Traveller } from "./traveller.ts";

export interface IndexChecked {
  /** Whether there is an index that can be read; nothing else was looked at where there is none. */
  readonly isThere: boolean;
  /** Travellers that were compared. */
  readonly travellers: number;
  /** Sentences' ends by what they are about: a traveller's file, or the index's own. The first thousand. */
  readonly differences: readonly { readonly path: string; readonly what: string }[];
  readonly differenceCount: number;
}

/** Told up to a thousand. */
const TOLD_MOST = 1000;
/** What a station has just recorded comes into the index a moment later. */
const MOMENTS = 10;
const MOMENT_MS = 100;

/**
 * Holds a folder's index against its travellers and dispositions: every column of every row, the stored values and their forms, the table of units,
 * that it has nothing else, and that SQLite's own indices have every row. Nothing is changed, and the station may be running: files are looked at before the index, and what
 * it lacks of the newest ones once more.
 * @param onProgress told now and then how many of how many travellers have been compared
 * @throws RecordError FOLDER_MISSING, or why the folder can't be listed
 */
export function checkIndex(
  folder: string,
  onProgress?: (done: number, of: number) => void,
): Promise<IndexChecked> {
  return askedUndisturbed(folder, () => checkOnce(folder, onProgress));
}

async function checkOnce(
  folder: string,
  onProgress: Parameters<typeof checkIndex>[1],
): Promise<IndexChecked> {
  requireFolder(folder);
  const listing = new TravellerListing(folder, new Findings());
  const index = new AuditIndex(folder);
  try {
    return await new IndexCheck(folder, listing, index).run(onProgress);
  } finally {
    index.close();
  }
}

type Read =
  | { readonly traveller: Traveller; readonly sha256: string; readonly path: string }
  | { readonly path: string; readonly problem: string };

class IndexCheck {
  readonly #folder: string;
  readonly #listing: TravellerListing;
  readonly #index: AuditIndex;
  readonly #reader = new AuditReader();
  readonly #told: { path: string; what: string }[] = [];
  readonly #lacked: number[] = [];
  #count = 0;
  #compared = 0;

  constructor(folder: string, listing: TravellerListing, index: AuditIndex) {
    this.#folder = folder;
    this.#listing = listing;
    this.#index = index;
  }

  async run(onProgress: Parameters<typeof checkIndex>[1]): Promise<IndexChecked> {
    let last = 0;
    if (!this.#index.isMissing) {
      this.#compareDecided();
      for (const sequence of this.#listing.numbers()) {
        this.#compareNumber(sequence);
        last = sequence;
        if (this.#compared % 500 === 0) {
          onProgress?.(this.#compared, this.#listing.count);
          await pause(0);
        }
      }
      await this.#lookAgain();
      this.#compareRest(last);
      for (const differences of this.#index.unitDifferences()) {
        for (const { serial, columns } of differences) {
          this.#tell(
            INDEX_FILE,
            `of unit ${serial}, the table units differs: ${columns?.join(", ") ?? "the row"}`,
          );
        }
        await pause(0);
      }
    }
    return {
      isThere: !this.#index.isMissing,
      travellers: this.#compared,
      differences: this.#told,
      differenceCount: this.#count,
    };
  }

  /** What was decided. Files that can't be read are told; what the station has not looked at yet is not missing. */
  #compareDecided(): void {
    const comparison = new DecidedComparison(this.#index);
    const unreadable = new Set<number>();
    for (const sequence of loggedNumbers(this.#folder, DISPOSITIONS, new Findings())) {
      const path = logFile(DISPOSITIONS, sequence);
      const file = this.#reader.read(join(this.#folder, path));
      const record = file.ok ? readRecord(file.bytes) : file;
      const content = record.ok ? Disposition.safeParse(record.content).data : undefined;
      if (file.ok && record.ok && content?.chain.sequence === sequence) {
        comparison.compare(content, record.sha256, Buffer.from(file.bytes).toString("utf8"));
        continue;
      }
      unreadable.add(sequence);
      this.#tell(path, `can't be compared: ${record.ok ? "it is not what its name says" : record.problem}`);
    }
    for (const { sequence, path, what } of comparison.differences())
      if (!unreadable.has(sequence)) this.#tell(path, what);
  }

  #compareNumber(sequence: number): void {
    for (const path of this.#listing.at(sequence)) {
      this.#compared++;
      const read = this.#read(path);
      if ("problem" in read) this.#tell(path, `can't be compared: ${read.problem}`);
      else this.#compare(read);
    }
  }

  #read(path: string): Read {
    const file = this.#reader.read(join(this.#folder, path));
    if (!file.ok) return { path, problem: file.problem };
    const record = readRecord(file.bytes);
    if (!record.ok) return { path, problem: record.problem };
    const parsed = Traveller.safeParse(record.content);
    if (!parsed.success)
      return { path, problem: "it is no traveller that this version of the program knows" };
    const { chain, serial, attempt, started_at, ended_at } = parsed.data;
    const named = { sequence: chain.sequence, serial, attempt: attempt.number, started_at, ended_at };
    const misnamed = nameProblem(named, path);
    if (misnamed !== null) return { path, problem: misnamed };
    return { path, traveller: parsed.data, sha256: record.sha256 };
  }

  #compare({ traveller, sha256, path }: Exclude<Read, { problem: string }>): void {
    const differences = this.#index.differences(traveller, sha256, path);
    if (differences === null) this.#lacked.push(traveller.chain.sequence);
    else if (differences.length > 0) this.#tell(path, otherwise(differences));
  }

  /** The newest may not have been in the index yet when they were looked for. */
  async #lookAgain(): Promise<void> {
    let lacked = this.#lacked.splice(0);
    for (let moment = 0; lacked.length > 0 && moment < MOMENTS; moment++) {
      if (moment > 0) await pause(MOMENT_MS);
      const again = new AuditIndex(this.#folder);
      try {
        lacked = lacked.filter((sequence) => this.#isLackedBy(again, sequence));
        const end = again.end();
        // What lies before its end does not come any more.
        if (lacked.every((sequence) => sequence <= end)) break;
      } finally {
        again.close();
      }
    }
    for (const sequence of lacked)
      this.#tell(this.#listing.at(sequence)[0] ?? "", "the index does not have it");
  }

  #isLackedBy(index: AuditIndex, sequence: number): boolean {
    const [path = ""] = this.#listing.at(sequence);
    const read = this.#read(path);
    if ("problem" in read) return true;
    const differences = index.differences(read.traveller, read.sha256, path);
    if (differences !== null && differences.length > 0) this.#tell(path, otherwise(differences));
    return differences === null;
  }

  /** What the index has and the folder has not: recorded since the folder was listed, or not there any more. */
  #compareRest(last: number): void {
    for (const { sequence, path } of this.#index.all()) {
      if (sequence <= last && this.#listing.at(sequence).includes(path)) continue;
      if (!existsSync(join(this.#folder, path))) this.#tell(path, "the index has it, and it is not there");
    }
    for (const what of [...this.#index.loose(), ...this.#index.damage()]) this.#tell(INDEX_FILE, what);
  }

  #tell(path: string, what: string): void {
    this.#count++;
    if (this.#told.length < TOLD_MOST) this.#told.push({ path, what });
  }
}

function otherwise(columns: readonly string[]): string {
  return `the index has it otherwise: ${columns.join(", ")}`;
}
