import type { Disposition } from "../records/disposition.ts";
import type { StoredForm } from "../records/stored-values.ts";
import { decidedOf } from "./decided.ts";
import { addTo, paretoOf } from "./pareto.ts";
import { plainFate, type UnitTest, unitFate } from "./unit-fate.ts";
import { type FoldQuery, YieldFold } from "./yield-fold.ts";
import type { HeldUnitLine, RevisionInForce, YieldReport, YieldSource } from "./yield-report.ts";

export interface CountQuery extends FoldQuery {
  /** Only of this model, only tested at this station; null: whatever there is. */
  readonly model: string | null;
  readonly station: string | null;
}

/** Tests of one form that ended in one segment. */
export interface AlikeTests {
  readonly form: StoredForm;
  readonly tests: number;
  readonly segment: number;
  readonly parts: string;
  readonly first_at: string;
  readonly last_at: string;
}

/** Everything of a yield that is counted from units and their tests. */
export class YieldCount {
  readonly fold: YieldFold;
  readonly #query: CountQuery;
  readonly #confirmed = new Map<string, number>();
  readonly #held: HeldUnitLine[] = [];
  readonly #stations = new Set<string>();
  readonly #models = new Set<string>();
  readonly #revisions = new Map<string, { -readonly [key in keyof RevisionInForce]: RevisionInForce[key] }>();
  #first_at: string | null = null;
  #last_at: string | null = null;
  #simulated = false;
  #drafts = 0;
  #references = 0;
  #reworked = 0;
  #notInspected = 0;

  constructor(query: CountQuery) {
    this.#query = query;
    this.fold = new YieldFold(query);
  }

  /** Of units, reference pieces and drafts alike; fewer than none takes back what was added before. */
  addTests({ form, tests, segment, parts, first_at, last_at }: AlikeTests): void {
    if (!this.#isAsked(form)) return;
    if (form.draft) this.#drafts += tests;
    else if (form.recordKind === "reference") this.#references += tests;
    else {
      this.fold.addTests(form, tests, segment, parts);
      if (tests > 0) this.#meet(form, tests, first_at, last_at);
      else this.#revision(form, tests, null, null);
    }
  }

  /** Units about which nothing was decided. @param first their first valid tests' form @param last their newest ones' */
  addPlain(first: StoredForm, last: StoredForm, units: number, segment: number, parts: string): void {
    if (this.#isAsked(first)) this.fold.addUnits(plainFate(first, last), units, segment, parts);
  }

  addSuspect(form: StoredForm, suspect: string | null, units: number): void {
    if (this.#isAsked(form)) this.fold.addSuspect(suspect, units);
  }

  /**
   * One unit by all that is known of it.
   * @param tests all that count, by attempt
   * @param dispositions those that name it, in the order of recording
   */
  addUnit(serial: string, tests: readonly UnitTest[], dispositions: readonly Disposition[]): void {
    const decided = decidedOf(serial, dispositions);
    const unit = unitFate(tests, decided);
    const first = unit?.first ?? tests.find(({ form }) => form.verdict !== "void");
    if (!first || !this.#isAsked(first.form)) return;
    const segment = this.fold.segmentAt(Date.parse(first.at));
    if (segment === null) return;
    if (unit) {
      this.fold.addUnits(unit, 1, segment, first.parts);
      if (first.form.verdict === "fail") this.fold.addSuspect(first.suspect, 1);
      if (unit.rework !== "none") this.#reworked++;
      for (const cause of decided.causes) addTo(this.#confirmed, cause, 1);
    } else this.#notInspected++;
    const hold = decided.holds.findLast(({ reference }) => reference === undefined) ?? decided.holds.at(-1);
    if (!hold || decided.isScrapped || (unit && unit.now !== "held")) return;
    const { at: since, by, reason } = hold;
    this.#held.push({ serial, model: first.form.model, since, by: by.name, reason: reason.sentence });
  }

  /** What a reader must know of the figures. */
  notes(): string[] {
    const units = this.#notInspected;
    if (units === 0) return [];
    const [they, them] = units === 1 ? ["1 unit was", "it"] : [`${units} units were`, "them"];
    return [
      `${they} tested in these days, and no test of ${them} can be trusted: not counted as inspected until tested again or released.`,
    ];
  }

  source(): Pick<
    YieldSource,
    "firstTest_at" | "lastTest_at" | "stations" | "models" | "simulated" | "drafts" | "references"
  > {
    return {
      firstTest_at: this.#first_at,
      lastTest_at: this.#last_at,
      stations: [...this.#stations].sort(),
      models: [...this.#models].sort(),
      simulated: this.#simulated,
      drafts: this.#drafts,
      references: this.#references,
    };
  }

  figures(): Pick<
    YieldReport,
    | "total"
    | "breakdowns"
    | "failingCharacteristics"
    | "suspectedCauses"
    | "voidsByCause"
    | "confirmedCauses"
    | "heldUnits"
    | "limitRevisions"
  > {
    return {
      total: this.fold.total(),
      breakdowns: this.fold.breakdowns(),
      ...this.fold.paretos(),
      confirmedCauses: paretoOf(this.#confirmed, this.#reworked),
      heldUnits: [...this.#held].sort((a, b) =>
        a.since < b.since ? 1 : a.since > b.since ? -1 : a.serial < b.serial ? -1 : 1,
      ),
      limitRevisions: [...this.#revisions.values()]
        .filter(({ tests }) => tests > 0)
        .sort((a, b) => (a.model === b.model ? a.revision - b.revision : a.model < b.model ? -1 : 1)),
    };
  }

  #isAsked({ model, station }: StoredForm): boolean {
    const { model: only, station: at } = this.#query;
    return (only === null || model === only) && (at === null || station === at);
  }

  #meet(form: StoredForm, tests: number, first_at: string, last_at: string): void {
    if (this.#first_at === null || first_at < this.#first_at) this.#first_at = first_at;
    if (this.#last_at === null || last_at > this.#last_at) this.#last_at = last_at;
    this.#stations.add(form.station);
    this.#models.add(form.model);
    this.#simulated ||= form.simulated;
    this.#revision(form, tests, first_at, last_at);
  }

  #revision(
    { model, limitFile }: StoredForm,
    tests: number,
    first_at: string | null,
    last_at: string | null,
  ): void {
    const key = JSON.stringify([model, limitFile.revision, limitFile.sha256]);
    const known = this.#revisions.get(key);
    if (!known) {
      if (first_at === null || last_at === null) return;
      this.#revisions.set(key, { model, ...limitFile, first_at, last_at, tests });
      return;
    }
    known.tests += tests;
    if (first_at !== null && first_at < known.first_at) known.first_at = first_at;
    if (last_at !== null && last_at > known.last_at) known.last_at = last_at;
  }
}
