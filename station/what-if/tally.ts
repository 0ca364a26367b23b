import type { Characteristic } from "../../limits/model.ts";
import type { CharacteristicPlan, NotRejudged, RejudgedCharacteristic } from "./rejudge.ts";
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
  /** Values that can't tell, by why. */
  notRejudged: Map<NotRejudged, number>;
}

export interface ChangedUnit {
  readonly serial: string;
  readonly attempt: number;
  readonly started_at: string;
  readonly from: "pass" | "fail";
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

/** More different numbers of a part than this are serial numbers, and no groups. */
const GROUPS_MOST = 200;
/** Units to a number on average; with fewer it groups nothing. */
const UNITS_LEAST = 2;
/** Changed units that are named each way, unless all are asked for. */
const NAMED_MOST = 1000;

export class WhatIfTally {
  readonly first = noCounts();
  readonly last = noCounts();
  readonly #parts = new Map<string, Map<string, UnitCounts> | null>();
  /** Units by shift. */
  readonly shifts = new Map<string, UnitCounts>();
  readonly characteristics: readonly CharacteristicCounts[];
  readonly changedFirst: ChangedUnit[] = [];
  readonly changedLast: ChangedUnit[] = [];
  units = 0;
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
    const inspected = unitsOf(this.first);
    return new Map(
      [...this.#parts].map(([part, groups]) => {
        const isSerial = groups === null || (groups.size > 1 && groups.size > inspected / UNITS_LEAST);
        return [part, isSerial ? null : groups];
      }),
    );
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
    this.#name(this.changedFirst, serial, first, "first");
    for (const [part, number] of Object.entries(JSON.parse(first.parts) as Record<string, string>)) {
      const groups = this.#parts.get(part);
      if (groups === null) continue;
      if (groups === undefined) this.#parts.set(part, new Map([[number, counted(noCounts(), first)]]));
      else if (groups.has(number) || groups.size < GROUPS_MOST) {
        groups.set(number, counted(groups.get(number) ?? noCounts(), first));
      } else this.#parts.set(part, null);
    }
    const shift = this.#shiftOf(first.started_at);
    if (shift !== null) this.shifts.set(shift, counted(this.shifts.get(shift) ?? noCounts(), first));
  }

  /** @param at place of the characteristic among the limits' */
  addCharacteristic(at: number, { stored }: CharacteristicPlan, result: RejudgedCharacteristic): void {
    const it = this.characteristics[at];
    if (!it) return;
    if (result.kind === "not judged") {
      it.notJudged.set(result.why, (it.notJudged.get(result.why) ?? 0) + 1);
      return;
    }
    const { decision, value, uncertainty } = result;
    const { lower, upper } = it.characteristic;
    it.judged++;
    if (decision.verdict === "fail") {
      it.failAfter++;
      if (decision.why === "IN_UPPER_GUARD_BAND" || decision.why === "IN_LOWER_GUARD_BAND") it.guardAfter++;
    } else if (decision.verdict === "void") it.toVoid++;
    else if (reaches(value, uncertainty, lower, upper)) it.marginalAfter++;
    const was = stored?.verdict;
    if (was === "fail") it.failBefore++;
    if (was === "pass" && decision.verdict === "fail") it.passFail++;
    if (was === "fail" && decision.verdict === "pass") it.failPass++;
    if (was !== undefined && was !== decision.verdict && stored?.how?.looks === "early") it.changedEarly++;
  }

  /** @param value in the record's unit, as its limits */
  addRecorded(at: number, { stored }: CharacteristicPlan, value: number, uncertainty: number): void {
    const it = this.characteristics[at];
    if (!it || !stored || Number.isNaN(value) || Number.isNaN(uncertainty)) return;
    const { lower, upper, verdict } = stored;
    const isWithin = !(lower !== undefined && value < lower) && !(upper !== undefined && value > upper);
    if (verdict === "fail" && isWithin) it.guardBefore++;
    if (verdict === "pass" && reaches(value, uncertainty, lower, upper)) it.marginalBefore++;
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

function counted(counts: UnitCounts, attempt: JudgedAttempt): UnitCounts {
  count(counts, attempt);
  return counts;
}

function count(counts: UnitCounts, { form, after }: JudgedAttempt): void {
  const wasPass = form.verdict === "pass";
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
