import { DIMENSION_OF } from "../../limits/measurand.ts";
import type { ModelLimits } from "../../limits/model.ts";
import { toUnit } from "../../limits/quantity.ts";
import { measuredText } from "../records/attempt-text.ts";
import { DecidedUnits, type KnownDecisions, knownDecisions } from "../records/known-decisions.ts";
import { localTime } from "../records/local-time.ts";
import type { TravellerQuery } from "../records/model-travellers.ts";
import { type StoredAttempt, type StoredSource, storedAttempts } from "../records/read-stored-values.ts";
import { shiftAt } from "../shift-times.ts";
import { type FormPlan, type JudgedValues, type MeasuredAgain, type Rejudged, Rejudging } from "./rejudge.ts";
import { WhatIfTally } from "./tally.ts";
import { UnitsInProgress } from "./units.ts";

export interface WhatIfOrder {
  /** Limits may be other than the file's; steps are as they stand in it. */
  readonly limits: ModelLimits;
  readonly recordsFolder: string;
  readonly query: Omit<TravellerQuery, "model">;
  /** When shifts begin, local times; empty where the station file has none. */
  readonly shifts: readonly string[];
  /** Whether every changed unit is named, however many. */
  readonly keepAll: boolean;
  /** Called from time to time with the number of records looked at. */
  readonly progress?: (done: number, of: number) => void;
}

export interface WhatIfReport extends JudgedHistory {
  readonly source: StoredSource;
  readonly broken: readonly { readonly path: string; readonly problem: string }[];
}

/** What judging a history again came to. */
export interface JudgedHistory {
  /** Attempts of the model that were asked for, of all kinds. */
  readonly attempts: number;
  /** Left out, because they are no inspection of a unit. */
  readonly drafts: number;
  readonly references: number;
  readonly held: number;
  /** Of those that count. */
  readonly voids: number;
  readonly simulated: number;
  /** Attempts by the revision of the limits that judged them, and how many by this very file. */
  readonly revisions: ReadonlyMap<number, number>;
  readonly bySameFile: number;
  readonly tally: WhatIfTally;
}

/** Records between two words of progress. */
const PROGRESS_EVERY = 5000;

/**
 * Judges the recorded attempts of a model again from their stored values, one pass, whatever their number. Nothing is written and
 * no lock taken.
 * @throws RecordError when the folder or its dispositions can't be read
 */
export async function replayValues(order: WhatIfOrder): Promise<WhatIfReport> {
  const { limits, recordsFolder, query, progress } = order;
  const decisions = await knownDecisions(recordsFolder);
  const decided = new DecidedUnits(decisions);
  const replay = new ValuesReplay(order, heldAttempts(decisions));
  const broken: { path: string; problem: string }[] = [];
  let source: StoredSource = { indexed: 0, records: 0 };
  const begun = (it: StoredSource) => {
    source = it;
  };
  for await (const found of storedAttempts(recordsFolder, { ...query, model: limits.model }, begun)) {
    if (found.kind === "broken") {
      broken.push({ path: found.path, problem: found.problem });
      continue;
    }
    decided.meet(found.attempt.serial);
    replay.add(found.attempt);
    if (progress && replay.attempts % PROGRESS_EVERY === 0) progress(found.attempt.sequence, source.records);
  }
  await decided.requireFiles();
  return { source, broken, ...replay.result() };
}

/** @returns what holds have taken the trust from, by serial and attempt */
export function heldAttempts({ held }: Pick<KnownDecisions, "held">): ReadonlySet<string> {
  return new Set([...held.untrusted.values()].map(({ serial, attempt }) => keyOf(serial, attempt)));
}

function keyOf(serial: string, attempt: number): string {
  return `${attempt} ${serial}`;
}

/** Takes attempts one by one, in the order in which they were recorded. */
export class ValuesReplay {
  readonly #rejudging: Rejudging;
  readonly #held: ReadonlySet<string>;
  readonly #units = new UnitsInProgress();
  readonly #tally: WhatIfTally;
  readonly #limits: ModelLimits;
  readonly #revisions = new Map<number, number>();
  #counts = { attempts: 0, drafts: 0, references: 0, held: 0, voids: 0, simulated: 0, bySameFile: 0 };

  constructor(order: Pick<WhatIfOrder, "limits" | "shifts" | "keepAll">, held: ReadonlySet<string>) {
    const { limits, shifts, keepAll } = order;
    this.#limits = limits;
    this.#rejudging = new Rejudging(limits);
    this.#held = held;
    this.#tally = new WhatIfTally(limits.characteristics, { keepAll, shiftOf: shiftNames(shifts) });
  }

  get attempts(): number {
    return this.#counts.attempts;
  }

  /** @param again leak rates that were measured again, in the limits' order of all characteristics; null where none is to be */
  add(it: StoredAttempt, again: readonly (MeasuredAgain | undefined)[] | null = null): void {
    const { form, serial, attempt, numbers } = it;
    const counts = this.#counts;
    counts.attempts++;
    if (form.recordKind === "reference") {
      counts.references++;
      return;
    }
    const { revision, sha256 } = form.limitFile;
    this.#revisions.set(revision, (this.#revisions.get(revision) ?? 0) + 1);
    if (sha256 === this.#limits.source.sha256) counts.bySameFile++;
    if (form.simulated) counts.simulated++;
    if (form.draft) counts.drafts++;
    const isHeld = this.#held.size > 0 && this.#held.has(keyOf(serial, attempt));
    if (isHeld) counts.held++;
    // No part of any yield; but a unit may still wait for its last attempt, and this may be it.
    if (form.draft) {
      this.#passBy(it);
      return;
    }
    if (form.verdict === "void") counts.voids++;
    const plan = this.#rejudging.planOf(form);
    const after = isHeld ? UNTRUSTED : this.#judge(plan, numbers, again);
    const to = after.verdict;
    if (form.verdict === "void" && (to === "pass" || to === "fail")) this.#tally.addFormerVoid(it, to);
    const because =
      to !== null && this.#tally.willName(form.verdict, to)
        ? changeText(plan, this.#rejudging.judged, to)
        : null;
    const { started_at, parts } = it;
    const unit = this.#units.add(
      serial,
      { form, attempt, started_at, parts, isHeld, after, because },
      it.goesOn,
    );
    if (unit) this.#tally.addUnit(unit);
  }

  #passBy({ serial, goesOn }: StoredAttempt): void {
    if (goesOn) return;
    const unit = this.#units.end(serial);
    if (unit) this.#tally.addUnit(unit);
  }

  #judge(plan: FormPlan, numbers: Float64Array, again: readonly (MeasuredAgain | undefined)[] | null) {
    const after = this.#rejudging.rejudge(plan, numbers, again);
    const isValid = plan.form.verdict !== "void" || after.verdict === "pass" || after.verdict === "fail";
    if (isValid) this.#tally.addValues(plan.characteristics, numbers, this.#rejudging.judged);
    return after;
  }

  /** Once everything was added. */
  result(): JudgedHistory {
    for (const unit of this.#units.rest()) this.#tally.addUnit(unit);
    return { ...this.#counts, revisions: this.#revisions, tally: this.#tally };
  }
}

const UNTRUSTED: Rejudged = { verdict: null, why: "void" };

/** @returns what makes a verdict another one, with values: of a fail what fails now, of a pass what had failed */
function changeText(
  { characteristics }: FormPlan,
  { verdicts, values, uncertainties }: JudgedValues,
  verdict: "pass" | "fail" | "void",
): string {
  const texts = characteristics.flatMap(({ characteristic, stored }, i) => {
    const now = verdicts[i];
    if (now === null || now === undefined) return [];
    const isWhy = verdict === "pass" ? stored?.verdict !== "pass" : now === verdict;
    if (!isWhy) return [];
    const [value, uncertainty] = [values[i] ?? Number.NaN, uncertainties[i] ?? Number.NaN];
    if (Number.isNaN(value) || Number.isNaN(uncertainty)) return [`${characteristic.name} without a value`];
    const { name, unit, measurand, lower, upper } = characteristic;
    const shown = (value_SI: number) => toUnit(value_SI, DIMENSION_OF[measurand], unit);
    const limits = [lower, upper].flatMap((limit) => (limit === undefined ? [] : [shown(limit)]));
    return [`${name} ${measuredText(shown(value), 2 * shown(uncertainty), unit, limits)}`];
  });
  return texts.length > 0 ? texts.join(", ") : "what it had failed by is not judged any more";
}

/** @returns gives an attempt's shift, like "06:00 to 14:00"; null where the station has none */
function shiftNames(begins: readonly string[]): (started_at: string) => string | null {
  // UTC texts of one form compare as the times they say do.
  let shift = { from: "", to: "", name: "" };
  return (started_at) => {
    if (begins.length === 0) return null;
    if (started_at < shift.from || started_at >= shift.to) {
      const { from_ms, to_ms } = shiftAt(begins, Date.parse(started_at));
      const [from, to] = [new Date(from_ms).toISOString(), new Date(to_ms).toISOString()];
      shift = { from, to, name: `${minutes(from)} to ${minutes(to)}` };
    }
    return shift.name;
  };
}

function minutes(at: string): string {
  return localTime(at).slice("2026-01-05 ".length, "2026-01-05 06:00".length);
}
