import type { FindingKind } from "./audit-finding.ts";

/** A record that is well formed by itself and in its place. */
export interface WalkedRecord {
  readonly sequence: number;
  readonly path: string;
  readonly sha256: string;
  /** The hash it carries of the record before. */
  readonly previous: string | null;
}

/** What somebody signed about one record of the chain. */
export interface Claim {
  readonly sha256: string;
  /** Who says so, as a sentence's start: "head 12 of 2026-11-25 14:03 UTC". */
  readonly by: string;
}

export interface WalkParts {
  /** What a signed head says, by the record's number. */
  readonly claims: ReadonlyMap<number, Claim>;
  /** What the index says: never believed alone, but it may decide which of two records that don't fit is the changed one. */
  readonly indexed?: (sequence: number) => string | undefined;
  readonly found: (kind: FindingKind, path: string, what: string) => void;
}

interface Step extends WalkedRecord {
  isBlamed: boolean;
  /** A signed head, or the record after it, carries its hash. */
  isVouched: boolean;
}

/**
 * Follows a chain record by record, and where two neighbours don't fit, finds out which of them was changed: the one that
 * nothing vouches for. A record is vouched for by a signed head or by an intact record after it.
 */
export class ChainWalk {
  readonly #parts: WalkParts;
  /** The record before, where it can be compared with. */
  #before: Step | null = null;
  #isFirst = true;
  /** Neighbours that don't fit, one after the other: the second of each is the first of the next. */
  #unfit: [Step, Step][] = [];
  #firstBad: number | null = null;
  readonly #bad = new Set<number>();
  readonly #claimsHeld: number[] = [];

  constructor(parts: WalkParts) {
    this.#parts = parts;
  }

  /** The smallest number that something is wrong with; null for none. */
  get firstBad(): number | null {
    return this.#firstBad;
  }

  /** Whether something is wrong with the record of this number. */
  isBad(sequence: number): boolean {
    return this.#bad.has(sequence);
  }

  /** Numbers of the records that a signed head vouches for, ascending. */
  get claimsHeld(): readonly number[] {
    return this.#claimsHeld;
  }

  /** The next record. */
  step(record: WalkedRecord): void {
    const claim = this.#parts.claims.get(record.sequence);
    const now: Step = { ...record, isBlamed: false, isVouched: claim?.sha256 === record.sha256 };
    if (claim && !now.isVouched) {
      this.#blame(now, `it is not what ${claim.by} has signed`);
      this.#break(null);
      return;
    }
    if (claim) this.#claimsHeld.push(record.sequence);
    const before = this.#before;
    if (before) this.#link(before, now);
    else if (this.#isFirst && now.previous !== null) {
      this.#blame(now, "it is the first of its chain, and carries the hash of a record before it");
    }
    if (now.isVouched) this.#settle(now);
    this.#before = now;
    this.#isFirst = false;
  }

  /** The next record is not what was recorded; that has been told. */
  bad(sequence: number): void {
    this.mark(sequence);
    this.#break(null);
  }

  /** The next records are not there. */
  missing(from: number): void {
    this.bad(from);
  }

  /** After the last record. */
  end(): void {
    const last = this.#before;
    this.#decideLeft();
    const indexed = last && this.#parts.indexed?.(last.sequence);
    if (last && !last.isVouched && !last.isBlamed && indexed !== undefined && indexed !== last.sha256) {
      this.#blame(last, "the index knows it with other content, and nothing that came later vouches for it");
    }
  }

  #link(before: Step, now: Step): void {
    if (now.previous === before.sha256) {
      before.isVouched = true;
      this.#settle(before);
      return;
    }
    if (before.isVouched) {
      this.#blame(
        now,
        `it does not carry the hash of the record before it, ${before.path}, which a head vouches for`,
      );
      return;
    }
    this.#unfit.push([before, now]);
  }

  /** This record is as it was recorded: of those before it that don't fit, the last is not. */
  #settle({ sequence }: Step): void {
    const pair = this.#unfit.at(-1);
    if (pair && pair[1].sequence === sequence) {
      this.#unfit.pop();
      this.#blame(pair[0], `the record after it, ${pair[1].path}, carries the hash of other content`);
    }
    this.#decideLeft();
  }

  #break(before: Step | null): void {
    this.#decideLeft();
    this.#before = before;
    this.#isFirst = false;
  }

  /** From the last on: a pair that has a changed record already is explained by it. */
  #decideLeft(): void {
    for (const [first, second] of this.#unfit.reverse()) {
      if (first.isBlamed || second.isBlamed) continue;
      const [one, other] = [this.#fitsIndex(first), this.#fitsIndex(second)];
      if (one === false && other === true) this.#blame(first, `it fits neither ${second.path} nor the index`);
      else if (one === true && other === false)
        this.#blame(second, `it fits neither ${first.path} nor the index`);
      else {
        this.#blame(
          first,
          `it and the record after it, ${second.path}, don't fit: one of the two was changed`,
        );
        this.#blame(
          second,
          `it and the record before it, ${first.path}, don't fit: one of the two was changed`,
        );
      }
    }
    this.#unfit = [];
  }

  #fitsIndex({ sequence, sha256 }: Step): boolean | undefined {
    const indexed = this.#parts.indexed?.(sequence);
    return indexed === undefined ? undefined : indexed === sha256;
  }

  #blame(step: Step, what: string): void {
    if (!step.isBlamed) this.#parts.found("altered", step.path, what);
    step.isBlamed = true;
    this.mark(step.sequence);
  }

  /** Something about this record is wrong that leaves its content as it was; that has been told. */
  mark(sequence: number): void {
    this.#bad.add(sequence);
    this.#firstBad = Math.min(this.#firstBad ?? sequence, sequence);
  }
}
