import { counts } from "../records/doubts.ts";
import type { StoredForm } from "../records/stored-values.ts";
import type { UnitState } from "../records/unit-state.ts";
import { findingsOf } from "./form-findings.ts";
import { heldUnits, isHeld, type UnitStandingNow } from "./held-units.ts";
import { addTo, paretoOf } from "./pareto.ts";
import { followedUnit, plainFate, type UnitSoFar } from "./unit-fate.ts";
import { type FoldQuery, YieldFold } from "./yield-fold.ts";
import type { UnitLine, YieldReport, YieldSource } from "./yield-report.ts";

export interface CountQuery extends FoldQuery {
  /** Only of this model, only tested at this station; null: whatever there is. */
  readonly model: string | null;
  readonly station: string | null;
  /** Whether every unit is listed. */
  readonly listsUnits: boolean;
}

/** A unit about which nothing was decided. */
export interface PlainUnit {
  readonly serial: string;
  /** End of its first valid test. */
  readonly first_at: string;
  /** Of its first and its newest valid test. */
  readonly first: StoredForm;
  readonly last: StoredForm;
  /** Of its first valid test, JSON. */
  readonly parts: string;
  readonly tests: number;
}

/** Tests of one form that ended in one segment. */
export interface AlikeTests {
  readonly form: StoredForm;
  readonly tests: number;
  readonly segment: number;
  readonly parts: string;
}

/** When tests of one form, or of several alike but for what they came to, first and last ended; ISO 8601 UTC. */
export interface TestsEnds {
  readonly form: Pick<StoredForm, "model" | "station" | "recordKind" | "draft">;
  readonly first_at: string;
  readonly last_at: string;
}

interface ListedUnit {
  readonly serial: string;
  readonly first: { readonly at: string; readonly form: StoredForm; readonly parts: string };
  /** Of its first inspection; null where there was none. */
  readonly verdict: StoredForm["verdict"] | null;
  readonly state: Pick<UnitState, "state" | "reason">;
  readonly tests: number;
}

/** Everything of a yield that is counted from units and their tests. */
export class YieldCount {
  readonly fold: YieldFold;
  readonly #query: CountQuery;
  readonly #confirmed = new Map<string, number>();
  readonly #held: UnitStandingNow[] = [];
  readonly #stations = new Set<string>();
  readonly #models = new Set<string>();
  #first_at: string | null = null;
  #last_at: string | null = null;
  #simulated = false;
  #drafts = 0;
  #references = 0;
  #reworked = 0;
  #notInspected = 0;
  #heldElsewhere = 0;
  readonly #lines: UnitLine[] = [];

  constructor(query: CountQuery) {
    this.#query = query;
    this.fold = new YieldFold(query);
  }

  /** Of units, reference pieces and drafts alike. */
  addTests({ form, tests, segment, parts }: AlikeTests): void {
    if (!this.#isAsked(form)) return;
    if (form.draft) this.#drafts += tests;
    else if (form.recordKind === "reference") this.#references += tests;
    else {
      this.fold.addTests(form, tests, segment, parts);
      this.#meet(form);
    }
  }

  /** Of the tests that were given to `addTests`. */
  addEnds({ form, first_at, last_at }: TestsEnds): void {
    if (!this.#isAsked(form) || !counts(form)) return;
    if (this.#first_at === null || first_at < this.#first_at) this.#first_at = first_at;
    if (this.#last_at === null || last_at > this.#last_at) this.#last_at = last_at;
  }

  /** Units about which nothing was decided. @param first their first valid tests' form @param last their newest ones' */
  addPlain(first: StoredForm, last: StoredForm, units: number, segment: number, parts: string): void {
    if (this.#isAsked(first)) this.fold.addUnits(plainFate(first, last), units, segment, parts);
  }

  addSuspect(form: StoredForm, suspect: string | null, units: number): void {
    if (this.#isAsked(form)) this.fold.addSuspect(suspect, units);
  }

  /** One unit by all that is known of it. */
  addUnit(unit: UnitSoFar): void {
    const { inspected, state, causes } = followedUnit(unit);
    const valid = inspected?.first ?? unit.tests.find(({ form }) => form.verdict !== "void");
    // What is held is told also of a unit whose tests are all void, or are not as they were recorded.
    const first = valid ?? (isHeld(state) ? unit.tests[0] : undefined);
    if (first && !this.#isAsked(first.form)) return;
    const segment = first ? this.fold.segmentAt(Date.parse(first.at)) : null;
    if (!first || segment === null) {
      if (isHeld(state)) this.#heldElsewhere++;
      return;
    }
    if (isHeld(state)) this.#held.push({ serial: unit.serial, model: first.form.model, ...state });
    const { serial, tests } = unit;
    this.#list({ serial, first, verdict: inspected && first.form.verdict, state, tests: tests.length });
    if (!inspected) {
      if (valid) this.#notInspected++;
      return;
    }
    this.fold.addUnits(inspected.fate, 1, segment, first.parts);
    if (first.form.verdict === "fail") this.fold.addSuspect(first.suspect, 1);
    if (inspected.fate.rework !== "none") this.#reworked++;
    for (const cause of causes) addTo(this.#confirmed, cause, 1);
  }

  /** For the list of units only, which no figure is made of. */
  listPlain({ serial, first_at: at, first, last, parts, tests }: PlainUnit): void {
    const state = { state: plainFate(first, last).now, reason: null };
    this.#list({ serial, first: { at, form: first, parts }, verdict: first.verdict, state, tests });
  }

  /** How many units are listed so far. */
  get listed(): number {
    return this.#lines.length;
  }

  /** What a reader must know of the figures. */
  notes(): string[] {
    const [untrusted, held] = [this.#notInspected, this.#heldElsewhere];
    const [they, them] = untrusted === 1 ? ["1 unit was", "it"] : [`${untrusted} units were`, "them"];
    return [
      ...(held === 0
        ? []
        : [
            `ON HOLD besides, first tested in other days or by tests that count for nothing: ${held} ${held === 1 ? "unit" : "units"} that must not ship.`,
          ]),
      ...(untrusted === 0
        ? []
        : [
            `${they} tested in these days, and no test of ${them} can be trusted: not counted as inspected until tested again or released.`,
          ]),
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
    | "units"
  > {
    return {
      total: this.fold.total(),
      breakdowns: this.fold.breakdowns(),
      ...this.fold.paretos(),
      confirmedCauses: paretoOf(this.#confirmed, this.#reworked),
      heldUnits: heldUnits(this.#held),
      ...(this.#query.listsUnits ? { units: this.#lines.sort(byFirst) } : {}),
    };
  }

  #list({ serial, first, verdict, state: { state, reason }, tests }: ListedUnit): void {
    const { model, station } = first.form;
    if (!this.#query.listsUnits || !this.#isAsked(first.form)) return;
    this.#lines.push({
      ...{ serial, model, station, first_at: first.at, tests, state },
      first: verdict === "void" ? null : verdict,
      failedBy: verdict === "fail" ? findingsOf(first.form).causes : [],
      reason: state === "failed" ? null : reason,
      parts: JSON.parse(first.parts) as Record<string, string>,
    });
  }

  #isAsked({ model, station }: Pick<StoredForm, "model" | "station">): boolean {
    const { model: only, station: at } = this.#query;
    return (only === null || model === only) && (at === null || station === at);
  }

  #meet({ station, model, simulated }: StoredForm): void {
    this.#stations.add(station);
    this.#models.add(model);
    this.#simulated ||= simulated;
  }
}

function byFirst(a: UnitLine, b: UnitLine): number {
  if (a.first_at !== b.first_at) return a.first_at < b.first_at ? -1 : 1;
  return a.serial < b.serial ? -1 : 1;
}
