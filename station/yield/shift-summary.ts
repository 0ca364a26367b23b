import type { EarlyWarning } from "../quality/early-warning/early-warning.ts";
import type { Doubts } from "../records/doubts.ts";
import type { AttemptSummary } from "../records/index-db.ts";
import type { StationEvent } from "../records/station-event.ts";
import { type DayCount, dayCount } from "./day-count.ts";

export interface ShiftRecords {
  /** Of the time, references included; others do no harm. */
  readonly attempts: readonly AttemptSummary[];
  /** In the order of recording; from before the shift on, so that who was signed in already is told. */
  readonly events: readonly StationEvent[];
  readonly inDoubt: Doubts;
  readonly from_ms: number;
  readonly to_ms: number;
  /** The station's reference pieces, so that one that was never checked is told. */
  readonly references: readonly { readonly serial: string; readonly model: string }[];
}

/** What a shift hands over. */
export interface ShiftSummary {
  readonly from_ms: number;
  readonly to_ms: number;
  readonly count: DayCount;
  /** The most frequent first. */
  readonly faults: readonly FaultCount[];
  readonly references: readonly PieceChecks[];
  /** In the order of signing in. */
  readonly people: readonly Presence[];
  /** Early warnings that stand at its end; absent where nobody looked for any. */
  readonly warnings?: readonly EarlyWarning[];
}

/** Faults of one code, with the newest one's words. */
export interface FaultCount {
  readonly code: string;
  readonly sentence: string;
  readonly count: number;
  readonly last: string;
}

/** A reference piece in a shift; voids are no checks. */
export interface PieceChecks {
  readonly serial: string;
  readonly model: string;
  readonly passed: number;
  readonly failed: number;
  readonly newest: AttemptSummary | null;
}

export interface Presence {
  readonly name: string;
  /** Null: before the first event that was given. */
  readonly from: string | null;
  /** Null: still there at the end. */
  readonly to: string | null;
}

/**
 * What happened from one time to another: `from_ms` is part of it, `to_ms` is not. A test belongs to the shift in which it
 * ended.
 */
export function shiftSummary(records: ShiftRecords): ShiftSummary {
  const { from_ms, to_ms, inDoubt } = records;
  const isInside = (instant: string) => {
    const at_ms = Date.parse(instant);
    return at_ms >= from_ms && at_ms < to_ms;
  };
  const attempts = records.attempts.filter((it) => isInside(it.ended_at ?? it.started_at));
  return {
    from_ms,
    to_ms,
    count: dayCount(attempts, inDoubt),
    faults: faultCounts(records.events.filter((it) => it.event === "fault" && isInside(it.at))),
    references: pieceChecks(attempts, records.references),
    people: presences(records.events, from_ms, to_ms),
  };
}

/** An event counts once, by its first reason: the others are consequences. */
function faultCounts(faults: readonly StationEvent[]): FaultCount[] {
  const byCode = new Map<string, FaultCount>();
  for (const { at, reasons } of faults) {
    const { code, sentence } = reasons?.[0] ?? { code: "FAULT", sentence: "The station stopped." };
    byCode.set(code, { code, sentence, count: (byCode.get(code)?.count ?? 0) + 1, last: at });
  }
  return [...byCode.values()].sort((a, b) => b.count - a.count);
}

function pieceChecks(
  attempts: readonly AttemptSummary[],
  references: ShiftRecords["references"],
): PieceChecks[] {
  const checks = attempts
    .filter((it) => it.recordKind === "reference" && !it.draft && it.verdict !== "void")
    .sort((a, b) => a.sequence - b.sequence);
  const pieces = new Map(references.map(({ serial, model }) => [serial, model] as const));
  // One that has left the station file was a check all the same.
  for (const { serial, model } of checks) pieces.set(serial, pieces.get(serial) ?? model);
  return [...pieces].map(([serial, model]) => {
    const own = checks.filter((check) => check.serial === serial);
    const passed = own.filter(({ verdict }) => verdict === "pass").length;
    return { serial, model, passed, failed: own.length - passed, newest: own.at(-1) ?? null };
  });
}

/** Who was there at some time of the shift. Who was signed in when the program was killed had left by its next start. */
function presences(events: readonly StationEvent[], from_ms: number, to_ms: number): Presence[] {
  const all: Presence[] = [];
  let now: { readonly name: string; readonly from: string } | null = null;
  for (const { event, at, who } of events) {
    if (!["signed_in", "signed_out", "opened", "closed"].includes(event) || Date.parse(at) >= to_ms) continue;
    if (now) all.push({ ...now, to: at });
    else if (event === "signed_out" && who?.name != null && all.length === 0)
      all.push({ name: who.name, from: null, to: at });
    now = event === "signed_in" && who?.name != null ? { name: who.name, from: at } : null;
  }
  if (now) all.push({ ...now, to: null });
  return all.filter(({ to }) => to === null || Date.parse(to) >= from_ms);
}
