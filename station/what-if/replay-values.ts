import { DIMENSION_OF } from "../../limits/measurand.ts";
import type { ModelLimits } from "../../limits/model.ts";
import { toUnit } from "../../limits/quantity.ts";
import { measuredText } from "../records/attempt-text.ts";
import { DispositionLog } from "../records/disposition-log.ts";
import { localTime } from "../records/local-time.ts";
import type { TravellerQuery } from "../records/model-travellers.ts";
import { type StoredAttempt, type StoredSource, storedAttempts } from "../records/read-stored-values.ts";
import { shiftAt } from "../shift-times.ts";
import {
  type CharacteristicPlan,
  type FormPlan,
  type Rejudged,
  type RejudgedCharacteristic,
  Rejudging,
} from "./rejudge.ts";
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

export interface WhatIfReport {
  readonly source: StoredSource;
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
  readonly broken: readonly { readonly path: string; readonly problem: string }[];
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
  const replay = new ValuesReplay(order, await heldAttempts(recordsFolder));
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
    replay.add(found.attempt);
    if (progress && replay.attempts % PROGRESS_EVERY === 0) progress(found.attempt.sequence, source.records);
  }
  return { source, broken, ...replay.result() };
}

/** @returns what holds have taken the trust from, by serial and attempt */
async function heldAttempts(folder: string): Promise<ReadonlySet<string>> {
  const log = new DispositionLog(folder);
  await log.refreshBesideStation();
  return new Set([...log.held.values()].map(({ serial, attempt }) => keyOf(serial, attempt)));
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
  /** Of the attempt that is being judged. */
  readonly #results: RejudgedCharacteristic[] = [];
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

  add(it: StoredAttempt): void {
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
    const after = isHeld ? UNTRUSTED : this.#judge(plan, numbers);
    const because =
      after.verdict !== null && this.#tally.willName(form.verdict, after.verdict)
        ? changeText(plan, this.#results, after.verdict)
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

  #judge(plan: FormPlan, numbers: Float64Array): Rejudged {
    let at = 0;
    return this.#rejudging.rejudge(plan, numbers, (one: CharacteristicPlan, result) => {
      this.#results[at] = result;
      this.#tally.addRecorded(at, one, numbers[one.at] ?? Number.NaN, numbers[one.at + 1] ?? Number.NaN);
      this.#tally.addCharacteristic(at++, one, result);
    });
  }

  /** Once everything was added. */
  result() {
    for (const unit of this.#units.rest()) this.#tally.addUnit(unit);
    return { ...this.#counts, revisions: this.#revisions, tally: this.#tally };
  }
}

const UNTRUSTED: Rejudged = { verdict: null, why: "void", of: null };

/** @returns what makes a verdict another one, with values: of a fail what fails now, of a pass what had failed */
function changeText(
  { characteristics }: FormPlan,
  results: readonly RejudgedCharacteristic[],
  verdict: "pass" | "fail" | "void",
): string {
  const texts = characteristics.flatMap(({ characteristic, stored }, i) => {
    const result = results[i];
    if (result?.kind !== "judged") return [];
    const { decision, value, uncertainty } = result;
    const isWhy = verdict === "pass" ? stored?.verdict !== "pass" : decision.verdict === verdict;
    if (!isWhy) return [];
    const { name, unit, measurand, lower, upper } = characteristic;
    const shown = (value_SI: number) => toUnit(value_SI, DIMENSION_OF[measurand], unit);
    const limits = [lower, upper].flatMap((limit) => (limit === undefined ? [] : [shown(limit)]));
    return [`${name} ${measuredText(shown(value), 2 * shown(uncertainty), unit, limits)}`];
  });
  return texts.length > 0 ? texts.join(", ") : "what it had failed by is not judged any more";
}

/** @returns gives an attempt's shift, like "06:00 to 14:00"; null where the station has none */
function shiftNames(begins: readonly string[]): (started_at: string) => string | null {
  let shift = { from_ms: Number.POSITIVE_INFINITY, to_ms: Number.NEGATIVE_INFINITY, name: "" };
  return (started_at) => {
    if (begins.length === 0) return null;
    const at_ms = Date.parse(started_at);
    if (at_ms < shift.from_ms || at_ms >= shift.to_ms) {
      const times = shiftAt(begins, at_ms);
      shift = { ...times, name: `${minutes(times.from_ms)} to ${minutes(times.to_ms)}` };
    }
    return shift.name;
  };
}

function minutes(at_ms: number): string {
  return localTime(new Date(at_ms).toISOString()).slice("2026-01-05 ".length, "2026-01-05 06:00".length);
}
