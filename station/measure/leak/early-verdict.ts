import { SequentialBoundary, type Spending } from "./sequential-boundary.ts";

/** Probabilities that a unit exactly at its limit is decided early, at any look at all; 0 forbids that early verdict. */
export interface EarlyRisks {
  /** Of an early "conforms". */
  readonly falseAccept: number;
  /** Of an early "fails". */
  readonly falseReject: number;
}

export interface Look {
  /** Estimate at this look, in the unit of the limits. */
  readonly value: number;
  readonly standardUncertainty: number;
  /** Elapsed part of the time from the shortest to the longest measuring time, 0..1. */
  readonly clock: number;
}

export type LookDecision =
  | { readonly kind: "go-on" }
  | {
      readonly kind: "conforms" | "fails";
      /** Standard uncertainties that the value had to be on its side of the limit. */
      readonly boundary: number;
      /** Standard uncertainties that it was. */
      readonly distance: number;
      /** Of the risk of this kind of verdict, the part spent by now. */
      readonly riskSpent: number;
    };

/**
 * Decides at repeated looks at a growing measurement whether its verdict is certain already, with the risk of being wrong
 * kept over all looks together. Each boundary is computed as if the other were not there: a stop at the other
 * only takes paths away, so that the true risks are a little below those asked for. Between two limits "conforms" must be
 * certain on both sides, and "fails", which either side can be wrong about, has half its risk on each.
 * @see SequentialBoundary for what is asked of the looks
 */
export class EarlyVerdict {
  readonly #lower: number;
  readonly #upper: number;
  readonly #sides: number;
  readonly #accept: SequentialBoundary;
  readonly #reject: SequentialBoundary;

  /** @throws RangeError without a limit, with a lower limit that is not below the upper, or on a risk outside 0..0.5 */
  constructor(
    limits: { readonly lower?: number | undefined; readonly upper?: number | undefined },
    risks: EarlyRisks,
    spending?: Spending,
  ) {
    this.#lower = limits.lower ?? Number.NEGATIVE_INFINITY;
    this.#upper = limits.upper ?? Number.POSITIVE_INFINITY;
    if (!(this.#lower < this.#upper))
      throw new RangeError(`A lower limit of ${this.#lower} is not below an upper limit of ${this.#upper}.`);
    this.#sides = Number(Number.isFinite(this.#lower)) + Number(Number.isFinite(this.#upper));
    if (this.#sides === 0) throw new RangeError("An early verdict needs a limit.");
    this.#accept = new SequentialBoundary(risks.falseAccept, spending);
    this.#reject = new SequentialBoundary(risks.falseReject / this.#sides, spending);
  }

  /** A look in turn; one without a finite value or a positive uncertainty is skipped. */
  take({ value, standardUncertainty, clock }: Look): LookDecision {
    if (!(Number.isFinite(value) && standardUncertainty > 0)) {
      this.skip(clock);
      return { kind: "go-on" };
    }
    const toAccept = this.#accept.next(standardUncertainty, clock);
    const toReject = this.#reject.next(standardUncertainty, clock);
    const inside = Math.min(this.#upper - value, value - this.#lower) / standardUncertainty;
    if (inside >= toAccept)
      return { kind: "conforms", boundary: toAccept, distance: inside, riskSpent: this.#accept.spent };
    if (-inside >= toReject)
      return {
        kind: "fails",
        boundary: toReject,
        distance: -inside,
        riskSpent: this.rejectSpent,
      };
    return { kind: "go-on" };
  }

  /** Of the risk of a wrong "fails", the part spent so far. */
  get rejectSpent(): number {
    return this.#reject.spent * this.#sides;
  }

  /** A look that could not be used, because the model does not fit: it spends nothing, and its share lapses. */
  skip(clock: number): void {
    this.#accept.skip(clock);
    this.#reject.skip(clock);
  }
}
