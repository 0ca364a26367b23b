import type { Characteristic } from "../../limits/model.ts";
import type { StoredAttempt } from "../records/read-stored-values.ts";
import type { StoredCharacteristic } from "../records/stored-values.ts";
import { PartGroups } from "./part-groups.ts";
import type { CharacteristicPlan, JudgedValues, NotRejudged } from "./rejudge.ts";
import type { JudgedAttempt, JudgedUnit } from "./units.ts";

/** Units by what they were and would be; a unit is counted once. */
export interface UnitCounts {
  /** pass and fail both times, the latter with those that no limit decides. */
  passPass: number;
  failFail: number;
  /** Of failFail: found by a phase or estimated, so that no limit decides it. */
  keptFail: number;
  passFail: number;
  failPass: number;
  /** Passed or failed, and could not be judged by these limits: the uncertainty is too large. */
  toVoid: number;
  /** Of those without a verdict now, toVoid too: the ones that were a pass. */
  leftPass: number;
  /** Values that can't tell, by why. */
  notRejudged: Map<NotRejudged, number>;
}

export interface ChangedUnit {
  readonly serial: string;
  readonly attempt: number;
  readonly started_at: string;
  readonly from: "pass" | "fail" | "void";
  readonly to: "pass" | "fail" | "void";
  readonly because: string | null;
}

/** One of the limits' characteristics over all valid, trusted attempts whose value could be judged. */
export interface CharacteristicCounts {
  readonly characteristic: Characteristic;
  judged: number;
  failBefore: number;
  failAfter: number;
  passFail: number;
  failPass: number;
  toVoid: number;
  /** Within the limits, and failed because not by enough to be sure. */
  guardBefore: number;
  guardAfter: number;
  /** Passes whose expanded uncertainty (k = 2) reaches a limit. */
  marginalBefore: number;
  marginalAfter: number;
  /** Changed, after an early verdict: with these limits the station would have measured on, or less long. */
  changedEarly: number;
  notJudged: Map<NotRejudged, number>;
}

/** Changed units that are named each way, unless all are asked for. */
const NAMED_MOST = 1000;

export class WhatIfTally {
  readonly first = noCounts();
  readonly last = noCounts();
  readonly #parts = new PartGroups<UnitCounts>(noCounts);
  /** Units by shift. */
  readonly shifts = new Map<string, UnitCounts>();
  readonly characteristics: readonly CharacteristicCounts[];
  readonly changedFirst: ChangedUnit[] = [];
  readonly changedLast: ChangedUnit[] = [];
  /** Attempts whose value was too uncertain for the limits of their day, and is not for these. */
  readonly voids = { toPass: 0, toFail: 0, changed: [] as ChangedUnit[] };
  units = 0;
  /** Of which a test before the newest would have been a pass, so that no other would have followed. */
  passedSooner = 0;
  /** Inspected first before these attempts, or only after rework. */
  notFirst = 0;
  /** Without a valid attempt that can be trusted. */
  notValid = 0;
  readonly #keepAll: boolean;
  readonly #shiftOf: (started_at: string) => string | null;
  readonly #named = new Map<string, number>();

  constructor(
    limits: readonly Characteristic[],
    options: { readonly keepAll: boolean; readonly shiftOf: (started_at: string) => string | null },
  ) {
    this.characteristics = limits.map((characteristic) => ({
      characteristic,
      judged: 0,
      failBefore: 0,
      failAfter: 0,
      passFail: 0,
      failPass: 0,
      toVoid: 0,
      guardBefore: 0,
      guardAfter: 0,
      marginalBefore: 0,
      marginalAfter: 0,
      changedEarly: 0,
      notJudged: new Map(),
    }));
    this.#keepAll = options.keepAll;
    this.#shiftOf = options.shiftOf;
  }

  /** @returns units by part and number; null for a part whose numbers are serial numbers: too many, or one to a unit nearly */
  parts(): Map<string, ReadonlyMap<string, UnitCounts> | null> {
    return this.#parts.result(unitsOf(this.first));
  }

  addUnit({ serial, first, last }: JudgedUnit): void {
    this.units++;
    if (!last) {
      this.notValid++;
      return;
    }
    count(this.last, last);
    this.#name(this.changedLast, serial, last, "last");
    if (!first) {
      this.notFirst++;
      return;
    }
    count(this.first, first);
    if (first.form.verdict === "fail" && first.after.verdict === "pass" && last.after.verdict === "fail") {
      this.passedSooner++;
    }
    this.#name(this.changedFirst, serial, first, "first");
    this.#parts.add(first.parts, (counts) => count(counts, first));
    const shift = this.#shiftOf(first.started_at);
    if (shift !== null) countIn(this.shifts, shift, first);
  }

  /** @param numbers of the attempt, as its form orders them */
  addValues(plans: readonly CharacteristicPlan[], numbers: Float64Array, judged: JudgedValues): void {
    for (let i = 0; i < plans.length; i++) {
      const it = this.characteristics[i] as CharacteristicCounts;
      const { stored, at } = plans[i] as CharacteristicPlan;
      if (stored) countRecorded(it, stored, numbers[at] ?? Number.NaN, numbers[at + 1] ?? Number.NaN);
      const verdict = judged.verdicts[i];
      if (verdict === null || verdict === undefined) {
        const why = judged.whys[i] ?? "void";
        it.notJudged.set(why, (it.notJudged.get(why) ?? 0) + 1);
        continue;
      }
      it.judged++;
      countJudged(it, verdict, judged.values[i] ?? Number.NaN, judged.uncertainties[i] ?? Number.NaN);
      if (!stored) continue;
      const was = stored.verdict;
      if (was === "fail") it.failBefore++;
      if (was === verdict) continue;
      if (was === "pass" && verdict === "fail") it.passFail++;
      if (was === "fail" && verdict === "pass") it.failPass++;
      if (stored.how?.looks === "early") it.changedEarly++;
    }
  }

  /** A void attempt that would have been none; its unit counts by the tests that were valid. */
  addFormerVoid({ serial, attempt, started_at }: StoredAttempt, to: "pass" | "fail"): void {
    if (to === "pass") this.voids.toPass++;
    else this.voids.toFail++;
    const { changed } = this.voids;
    if (!this.#keepAll && changed.length >= NAMED_MOST) return;
    changed.push({ serial, attempt, started_at, from: "void", to, because: null });
  }

  /** @returns how many changed units are not named */
  unnamed(which: "first" | "last"): number {
    const counts = which === "first" ? this.first : this.last;
    const named = which === "first" ? this.changedFirst : this.changedLast;
    return counts.passFail + counts.failPass + counts.toVoid - named.length;
  }

  /** @returns whether a unit that changes so is still to be named */
  willName(from: string, to: string): boolean {
    if (from === to || from === "void") return false;
    const named = (which: string) => this.#named.get(`${which} ${from} ${to}`) ?? 0;
    return this.#keepAll || Math.min(named("first"), named("last")) < NAMED_MOST;
  }

  #name(list: ChangedUnit[], serial: string, it: JudgedAttempt, which: string): void {
    const { form, after, attempt, started_at, because } = it;
    if (after.verdict === null || after.verdict === form.verdict || form.verdict === "void") return;
    const way = `${which} ${form.verdict} ${after.verdict}`;
    const named = this.#named.get(way) ?? 0;
    if (!this.#keepAll && named >= NAMED_MOST) return;
    this.#named.set(way, named + 1);
    list.push({ serial, attempt, started_at, from: form.verdict, to: after.verdict, because });
  }
}

function noCounts(): UnitCounts {
  return {
    passPass: 0,
    failFail: 0,
    keptFail: 0,
    passFail: 0,
    failPass: 0,
    toVoid: 0,
    leftPass: 0,
    notRejudged: new Map(),
  };
}

/** Units that both judge, so that their yields can be compared. */
export function comparedUnits({ passPass, failFail, passFail, failPass }: UnitCounts): number {
  return passPass + failFail + passFail + failPass;
}

/** Units of all kinds. */
export function unitsOf(counts: UnitCounts): number {
  const left = [...counts.notRejudged.values()].reduce((sum, count) => sum + count, 0);
  return comparedUnits(counts) + counts.toVoid + left;
}

function countIn(groups: Map<string, UnitCounts>, name: string, attempt: JudgedAttempt): void {
  let counts = groups.get(name);
  if (!counts) {
    counts = noCounts();
    groups.set(name, counts);
  }
  count(counts, attempt);
}

function countJudged(
  it: CharacteristicCounts,
  verdict: "pass" | "fail" | "void",
  value: number,
  uncertainty: number,
): void {
  const { lower, upper } = it.characteristic;
  if (verdict === "fail") {
    it.failAfter++;
    if (isWithin(value, lower, upper)) it.guardAfter++;
  } else if (verdict === "void") it.toVoid++;
  else if (reaches(value, uncertainty, lower, upper)) it.marginalAfter++;
}

/** Value and limits in the record's unit. */
function countRecorded(
  it: CharacteristicCounts,
  { lower, upper, verdict }: StoredCharacteristic,
  value: number,
  uncertainty: number,
): void {
  if (Number.isNaN(value) || Number.isNaN(uncertainty)) return;
  if (verdict === "fail" && isWithin(value, lower, upper)) it.guardBefore++;
  if (verdict === "pass" && reaches(value, uncertainty, lower, upper)) it.marginalBefore++;
}

/** No number is within nothing. */
function isWithin(value: number, lower?: number, upper?: number): boolean {
  return (lower === undefined || value >= lower) && (upper === undefined || value <= upper);
}

function count(counts: UnitCounts, { form, after }: JudgedAttempt): void {
  const wasPass = form.verdict === "pass";
  if (wasPass && (after.verdict === null || after.verdict === "void")) counts.leftPass++;
  if (after.verdict === null) {
    counts.notRejudged.set(after.why, (counts.notRejudged.get(after.why) ?? 0) + 1);
  } else if (after.verdict === "void") counts.toVoid++;
  else if (after.verdict === "pass") counts[wasPass ? "passPass" : "failPass"]++;
  else {
    counts[wasPass ? "passFail" : "failFail"]++;
    if (after.isKept) counts.keptFail++;
  }
}

function reaches(value: number, uncertainty: number, lower?: number, upper?: number): boolean {
  return (
    (upper !== undefined && value + 2 * uncertainty > upper) ||
    (lower !== undefined && value - 2 * uncertainty < lower)
  );
}
