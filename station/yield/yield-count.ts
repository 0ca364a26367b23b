import type { StoredForm } from "../records/stored-values.ts";
import { heldUnits, type UnitStandingNow } from "./held-units.ts";
import { addTo, paretoOf } from "./pareto.ts";
import { followedUnit, plainFate, type UnitSoFar } from "./unit-fate.ts";
import { type FoldQuery, YieldFold } from "./yield-fold.ts";
import type { YieldReport, YieldSource } from "./yield-report.ts";

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
  /** Units that were given one by one. */
  readonly #standing: UnitStandingNow[] = [];
  readonly #stations = new Set<string>();
  readonly #models = new Set<string>();
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

  /** Of units, reference pieces and drafts alike. */
  addTests({ form, tests, segment, parts, first_at, last_at }: AlikeTests): void {
    if (!this.#isAsked(form)) return;
    if (form.draft) this.#drafts += tests;
    else if (form.recordKind === "reference") this.#references += tests;
    else {
      this.fold.addTests(form, tests, segment, parts);
      this.#meet(form, first_at, last_at);
    }
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
    const first = inspected?.first ?? unit.tests.find(({ form }) => form.verdict !== "void");
    if (!first || !this.#isAsked(first.form)) return;
    const segment = this.fold.segmentAt(Date.parse(first.at));
    if (segment === null) return;
    this.#standing.push({ serial: unit.serial, model: first.form.model, ...state });
    if (!inspected) {
      this.#notInspected++;
      return;
    }
    this.fold.addUnits(inspected.fate, 1, segment, first.parts);
    if (first.form.verdict === "fail") this.fold.addSuspect(first.suspect, 1);
    if (inspected.fate.rework !== "none") this.#reworked++;
    for (const cause of causes) addTo(this.#confirmed, cause, 1);
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
  > {
    return {
      total: this.fold.total(),
      breakdowns: this.fold.breakdowns(),
      ...this.fold.paretos(),
      confirmedCauses: paretoOf(this.#confirmed, this.#reworked),
      heldUnits: heldUnits(this.#standing),
    };
  }

  #isAsked({ model, station }: StoredForm): boolean {
    const { model: only, station: at } = this.#query;
    return (only === null || model === only) && (at === null || station === at);
  }

  #meet({ station, model, simulated }: StoredForm, first_at: string, last_at: string): void {
    if (this.#first_at === null || first_at < this.#first_at) this.#first_at = first_at;
    if (this.#last_at === null || last_at > this.#last_at) this.#last_at = last_at;
    this.#stations.add(station);
    this.#models.add(model);
    this.#simulated ||= simulated;
  }
}
