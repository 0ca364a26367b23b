/** Why a traveller gives a study no value, in the order in which it is asked. */
const REASONS = {
  reference: "on reference pieces",
  study: "for studies",
  draft: "on draft limits (--drafts takes them, too)",
  held: "in doubt, since a hold takes the trust from them",
  void: "void",
  repeat: "repeats of units that had their first valid test (--all-attempts takes them, too)",
  failed: "of units that failed (--passed)",
  "no value": "without a value of this characteristic",
  "not judged": "not judged by this characteristic",
  "no group": "of units without the part that they are grouped by",
} as const;

export type LeftOutReason = keyof typeof REASONS;

/** What a study's values were taken from, and what was not, so that nobody takes a part for the whole. */
export class LeftOut {
  readonly #counts = new Map<LeftOutReason, number>();
  /** Failed, and yet without a value: too leaky to be measured, most of all. */
  failedWithoutValue = 0;
  simulated = 0;
  drafts = 0;
  early = 0;
  readonly broken: { readonly path: string; readonly problem: string }[] = [];

  add(reason: LeftOutReason): void {
    this.#counts.set(reason, this.count(reason) + 1);
  }

  count(reason: LeftOutReason): number {
    return this.#counts.get(reason) ?? 0;
  }

  /** @param taken how many values there are */
  notes(taken: number): string[] {
    const out = (Object.keys(REASONS) as LeftOutReason[]).flatMap((reason) => {
      const count = this.#counts.get(reason);
      return count === undefined ? [] : [`${count} ${REASONS[reason]}`];
    });
    const failed = this.failedWithoutValue;
    const [first] = this.broken;
    return [
      ...(out.length > 0 ? [`Attempts left out: ${out.join("; ")}.`] : []),
      ...(failed > 0
        ? [
            `${failed} of those without a value failed before one could be taken, as a body that can't be filled does: the values are better than the process is.`,
          ]
        : []),
      ...(first
        ? [
            `${this.broken.length} travellers are not as they were recorded and were left out; the first is ${first.path} (${first.problem}). Tell the quality engineer.`,
          ]
        : []),
      ...(this.early > 0
        ? [
            `${this.early} of ${taken} values come from early verdicts, whose uncertainty is larger than that of a whole measuring time.`,
          ]
        : []),
      ...(this.drafts > 0 ? [`${this.drafts} of ${taken} values were taken on draft limits.`] : []),
      ...(this.simulated > 0
        ? [`SIMULATED: ${this.simulated} of ${taken} values are of simulated stations.`]
        : []),
    ];
  }
}
