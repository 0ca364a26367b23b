import { existsSync } from "node:fs";
import { join } from "node:path";
import { setImmediate as nextTurn } from "node:timers/promises";
import type { Findings } from "./audit-finding.ts";
import { AuditIndex } from "./audit-index.ts";
import { TravellerListing } from "./audit-listing.ts";
import { type ChainAudited, tellTruncation } from "./audit-log.ts";
import { AuditReader } from "./audit-read.ts";
import { ChainWalk, type Claim } from "./audit-walk.ts";
import { readRecord } from "./chain.ts";
import { nameProblem } from "./record-name.ts";
import { Traveller } from "./traveller.ts";

export interface TravellersAsked {
  readonly folder: string;
  readonly findings: Findings;
  readonly claims: ReadonlyMap<number, Claim>;
  /** Each traveller that is what it says it is, in order. */
  readonly take: (traveller: Traveller, at: { readonly sha256: string; readonly path: string }) => void;
}

export interface TravellersAudited extends ChainAudited {
  /** What the index has to do with it, in a sentence; null where it says the same as the files. */
  readonly index: string | null;
  /** Where the traveller with a number lies, relative to the records folder. */
  readonly pathOf: (sequence: number) => string | undefined;
}

type Examined =
  | {
      readonly kind: "sound";
      readonly traveller: Traveller;
      readonly sha256: string;
      readonly path: string;
      readonly isMisplaced: boolean;
    }
  | { readonly kind: "gone" }
  | { readonly kind: "bad" };

/** Other programs may have the processor after so many records. */
const TURN_AFTER = 500;
/** So many rows of the index are looked at once more before they are called wrong. */
const INDEX_LOOKED_AT_AGAIN = 200;

const UNREADABLE = "There is no index that can be read; the station makes it anew.";
const MADE_ANEW = "(stop the station and delete the index: it is made anew from the files)";

/** Follows the travellers' chain from its first record to its last; memory holds four bytes of each. */
export async function auditTravellers(asked: TravellersAsked): Promise<TravellersAudited> {
  const listing = new TravellerListing(asked.folder, asked.findings);
  const index = new AuditIndex(asked.folder);
  try {
    return await new TravellersPass(asked, listing, index).run();
  } finally {
    index.close();
  }
}

class TravellersPass {
  readonly #asked: TravellersAsked;
  readonly #listing: TravellerListing;
  readonly #index: AuditIndex;
  readonly #reader = new AuditReader();
  readonly #walk: ChainWalk;
  readonly #indexDiffers: Extract<Examined, { kind: "sound" }>[] = [];
  #count = 0;
  #last = 0;
  #lackedByIndex = 0;

  constructor(asked: TravellersAsked, listing: TravellerListing, index: AuditIndex) {
    this.#asked = asked;
    this.#listing = listing;
    this.#index = index;
    this.#walk = new ChainWalk({
      claims: asked.claims,
      indexed: (sequence) => index.sha256(sequence),
      found: (kind, path, what) => asked.findings.add(kind, path, what),
    });
  }

  async run(): Promise<TravellersAudited> {
    let sinceTurn = 0;
    for (const sequence of this.#listing.numbers()) {
      if (sequence === 0) this.#examineAll(0);
      else this.#follow(sequence);
      if (++sinceTurn < TURN_AFTER) continue;
      sinceTurn = 0;
      await nextTurn();
    }
    this.#walk.end();
    tellTruncation(this.#asked.findings, { name: "travellers", claims: this.#asked.claims }, this.#last);
    const index = await this.#indexText();
    const pathOf = (sequence: number) => this.#listing.at(sequence)[0];
    return { count: this.#count, last: this.#last, walk: this.#walk, index, pathOf };
  }

  #follow(sequence: number): void {
    if (sequence > this.#last + 1) this.#tellMissing(this.#last + 1, sequence);
    const examined = this.#examineAll(sequence);
    this.#last = sequence;
    if (examined.kind !== "sound") {
      if (examined.kind === "gone") this.#tellMissing(sequence, sequence + 1);
      else this.#walk.bad(sequence);
      return;
    }
    const { traveller, sha256, path, isMisplaced } = examined;
    this.#count++;
    const differences = this.#index.differences(traveller, sha256, path);
    if (differences === null) this.#lackedByIndex++;
    else if (!isMisplaced && differences.length > 0 && this.#indexDiffers.length < INDEX_LOOKED_AT_AGAIN) {
      this.#indexDiffers.push(examined);
    }
    this.#walk.step({ sequence, path, sha256, previous: traveller.chain.previous });
    this.#asked.take(traveller, { sha256, path });
  }

  /** Of files with one number, the one that is what its name says; the others are told. */
  #examineAll(sequence: number): Examined {
    const paths = this.#listing.at(sequence);
    if (paths.length === 0) return { kind: "gone" };
    const [only] = paths;
    if (paths.length === 1 && only !== undefined) return this.#examine(sequence, only);
    const own = paths.findIndex((path) => this.#isItself(path));
    for (const [at, path] of paths.entries()) {
      if (at === own) continue;
      const genuine = paths[own];
      this.#asked.findings.add(
        "added",
        path,
        genuine === undefined
          ? `it is one of ${paths.length} files with number ${sequence}, and none of them is what its name says`
          : `it has the number of ${genuine}, which is what its name says`,
      );
    }
    return own < 0 ? { kind: "bad" } : this.#examine(sequence, paths[own] ?? "");
  }

  #isItself(path: string): boolean {
    const file = this.#reader.read(join(this.#asked.folder, path));
    const record = file.ok ? readRecord(file.bytes) : undefined;
    const parsed = record?.ok ? Traveller.safeParse(record.content) : undefined;
    return parsed?.success === true && misplacedText(parsed.data, path) === null;
  }

  #examine(sequence: number, path: string): Examined {
    const { folder, findings } = this.#asked;
    const file = this.#reader.read(join(folder, path));
    if (!file.ok) {
      if (file.isGone) return { kind: "gone" };
      findings.add("unreadable", path, file.problem);
      return { kind: "bad" };
    }
    const record = readRecord(file.bytes);
    if (!record.ok) {
      findings.add("altered", path, record.problem);
      return { kind: "bad" };
    }
    const parsed = Traveller.safeParse(record.content);
    if (!parsed.success) {
      findings.add("altered", path, "it is no traveller that this version of the program knows");
      return { kind: "bad" };
    }
    const misplaced = misplacedText(parsed.data, path);
    if (misplaced !== null) findings.add("misplaced", path, misplaced);
    if (record.chain.sequence !== sequence) return { kind: "bad" };
    if (misplaced !== null) this.#walk.mark(sequence);
    return {
      kind: "sound",
      traveller: parsed.data,
      sha256: record.sha256,
      path,
      isMisplaced: misplaced !== null,
    };
  }

  #tellMissing(from: number, next: number): void {
    for (let sequence = from; sequence < next; ) {
      const known = this.#index.after(sequence - 1).filter((row) => row.sequence < next);
      const [first] = known;
      if (first?.sequence !== sequence) {
        const to = (first?.sequence ?? next) - 1;
        const range = sequence === to ? `number ${sequence}` : `numbers ${sequence} to ${to}`;
        this.#asked.findings.add(
          "missing",
          "travellers",
          `${range} were recorded, since number ${next} is there, and are not there any more; no index says what they were about`,
        );
        sequence = to + 1;
        continue;
      }
      for (const { path, sequence: at } of known) {
        if (at !== sequence) break;
        this.#asked.findings.add("missing", path, "it was recorded and is not there any more");
        sequence++;
      }
    }
    this.#walk.missing(from);
  }

  async #indexText(): Promise<string | null> {
    const { folder, findings } = this.#asked;
    if (this.#index.isMissing) return UNREADABLE;
    // What the index has beyond the files: recorded since they were listed, or cut off.
    const beyond = this.#index.after(this.#last).filter(({ path }) => !existsSync(join(folder, path)));
    for (const { path, sequence } of beyond) {
      findings.add("truncated", path, `the index has it as number ${sequence}, and it is not there any more`);
    }
    for (const differences of this.#index.unitDifferences()) {
      for (const { serial, columns } of differences)
        findings.add("index", ".index.db", unitText(serial, columns));
      await nextTurn();
    }
    const again = this.#indexDiffers.length === 0 ? this.#index : new AuditIndex(folder);
    try {
      for (const { traveller, sha256, path } of this.#indexDiffers) {
        // Where it is the file that was changed, the index is right.
        if (this.#walk.isBad(traveller.chain.sequence)) continue;
        const differences = again.differences(traveller, sha256, path) ?? [];
        if (differences.length === 0) continue;
        findings.add(
          "index",
          ".index.db",
          `of ${path} it says something else: ${differences.join(", ")} ${MADE_ANEW}`,
        );
      }
    } finally {
      again.close();
    }
    if (this.#index.isMissing) return UNREADABLE;
    if (this.#lackedByIndex === 0) return null;
    return `The index lacks ${this.#lackedByIndex} of the travellers; the station adds them when it starts.`;
  }
}

function unitText(serial: string, columns: readonly string[] | null): string {
  if (columns === null) return `its tables disagree whether there is a unit ${serial} ${MADE_ANEW}`;
  return `of unit ${serial} its tables say different things: ${columns.join(", ")} ${MADE_ANEW}`;
}

function misplacedText(traveller: Traveller, path: string): string | null {
  const { chain, serial, attempt, started_at, ended_at } = traveller;
  return nameProblem(
    { sequence: chain.sequence, serial, attempt: attempt.number, started_at, ended_at },
    path,
  );
}
