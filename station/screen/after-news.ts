import type { PreparedAttempt } from "../cycle/attempt.ts";
import type { Reason } from "../cycle/reason.ts";
import { NOBODY, type SignedIn } from "../people/person.ts";
import type { FinishedAttempt } from "../recording.ts";
import { judgedBy } from "./judged-by.ts";
import {
  firstQuestion,
  type Held,
  type Refusal,
  type ScreenState,
  type UnitOnFixture,
  type Verdict,
} from "./screen-state.ts";

/** What a verdict is made from. */
type Told = Pick<FinishedAttempt, "attempt" | "traveller" | "retest" | "against">;

/** What the station tells the desk. */
export type News =
  | { readonly type: "signed_in"; readonly who: SignedIn }
  | { readonly type: "signed_out" }
  | {
      readonly type: "sign_in_refused";
      readonly sentence: string;
      readonly lockedUntil_ms: number | null;
    }
  | { readonly type: "armed" | "started"; readonly attempt: PreparedAttempt }
  | { readonly type: "refused"; readonly serial: string; readonly reasons: readonly Reason[] }
  | { readonly type: "finished"; readonly finished: Told }
  | { readonly type: "held"; readonly held: Held }
  | { readonly type: "warned"; readonly sentence: string }
  | { readonly type: "faulted"; readonly reasons: readonly Reason[] }
  | { readonly type: "recovered" }
  | { readonly type: "summed_up"; readonly lines: readonly string[] };

/** @returns the state after the station has told something */
export function afterNews(state: ScreenState, news: News): ScreenState {
  switch (news.type) {
    case "signed_in":
      return afterSignIn(state, news.who);
    case "signed_out":
      return afterSignOut(state);
    case "sign_in_refused":
      return afterRefusedSignIn(state, news.sentence, news.lockedUntil_ms);
    case "armed":
      return { ...cleared(state), machine: "armed", unit: onFixture(news.attempt) };
    case "started":
      return {
        ...cleared(state),
        machine: "testing",
        unit: onFixture(news.attempt),
        overlay: null,
        held: null,
        faultyInstruments: [],
      };
    case "refused":
      return afterRefusal(state, news.serial, news.reasons);
    case "finished":
      // Nothing may hide a verdict.
      return {
        ...cleared(state),
        machine: "waiting",
        unit: null,
        result: verdictOf(news.finished),
        overlay: null,
      };
    case "held":
      return { ...state, held: news.held };
    case "warned":
      return { ...state, remark: news.sentence };
    case "faulted":
      return {
        ...state,
        machine: "faulted",
        unit: null,
        result: stoppedBefore(state) ?? state.result,
        overlay: null,
        faults: sentences(news.reasons),
        faultCodes: news.reasons.map(({ code }) => code),
        faultyInstruments: [...new Set(news.reasons.flatMap(({ instrument }) => instrument ?? []))],
      };
    case "recovered":
      return afterRecovery(state);
    case "summed_up":
      return { ...state, summaryLines: news.lines, summaryPage: 0 };
  }
}

/** A unit whose test had not begun has no verdict that would name it once the stop is acknowledged. */
function stoppedBefore({ unit, machine }: ScreenState): Refusal | null {
  if (!unit || (machine !== "armed" && machine !== "checking")) return null;
  const reasons = ["The station stopped before its test began."];
  return { kind: "refusal", serial: unit.serial, wasArmed: true, reasons, codes: ["STATION_FAULTED"] };
}

function cleared(state: ScreenState): ScreenState {
  return { ...state, result: null, remark: null, faults: [], faultCodes: [] };
}

function afterSignIn(state: ScreenState, who: SignedIn): ScreenState {
  const signIn = firstQuestion(state.facts);
  if (state.page === "leaving") return { ...state, who, signIn };
  return { ...state, who, signIn, page: "work", remark: null };
}

/** Whoever was asked who takes over the stopped station need not say so any more. */
function afterRecovery(state: ScreenState): ScreenState {
  const { page, who } = state;
  const isWorking = page === "sign_in" && who.name !== null;
  return {
    ...state,
    page: isWorking ? "work" : page,
    machine: "waiting",
    faults: [],
    faultCodes: [],
    remark: null,
  };
}

/**
 * The next person finds nothing of this one's on the screen but the shift's summary; of a stopped station why it is
 * stopped, which no summary may hide.
 */
function afterSignOut(state: ScreenState): ScreenState {
  const { facts } = state;
  const page = state.machine === "faulted" ? "work" : "summary";
  return {
    ...state,
    who: NOBODY,
    signIn: firstQuestion(facts),
    page: state.page === "leaving" ? state.page : page,
    overlay: null,
    waitingParts: {},
    waitingFor: null,
    unit: null,
    result: null,
    remark: null,
    held: null,
  };
}

/** Said where it was tried: at work a badge is scanned without leaving the page. */
function afterRefusedSignIn(
  state: ScreenState,
  sentence: string,
  lockedUntil_ms: number | null,
): ScreenState {
  const signIn = { ...state.signIn, isBusy: false };
  if (state.page === "work") return { ...state, signIn, remark: sentence };
  return { ...state, signIn: { ...signIn, said: sentence, lockedUntil_ms } };
}

/** Refused for now, whatever was asked for: what is under way goes on as it was. */
const FOR_NOW: ReadonlySet<string> = new Set([
  "BUSY",
  "STATION_FAULTED",
  "NOT_SIGNED_IN",
  "NOT_ALLOWED",
  "NO_UNIT",
]);

/** A scan refused while something else is under way does not touch what is shown of that. */
function afterRefusal(state: ScreenState, serial: string, reasons: readonly Reason[]): ScreenState {
  const { machine, unit } = state;
  const said = sentences(reasons);
  const isOfUnit = unit !== null && serial === unit.serial;
  const isUnderWay =
    ["testing", "faulted", "recovering"].includes(machine) || (machine === "checking" && !isOfUnit);
  if (isUnderWay || reasons.some(({ code }) => FOR_NOW.has(code))) {
    const what = serial === "" || isOfUnit ? "" : `${serial} was not taken. `;
    return { ...state, remark: `${what}${said.join(" ")}` };
  }
  const wasArmed = isOfUnit && (machine === "armed" || machine === "checking");
  const codes = reasons.map(({ code }) => code);
  const result: Refusal = { kind: "refusal", serial, wasArmed, reasons: said, codes };
  // Whether the unit is armed still, the next look at the station tells.
  return { ...state, unit: wasArmed ? unit : null, result, remark: null };
}

function onFixture(attempt: PreparedAttempt): UnitOnFixture {
  const { serial, limits, number, reference, isDraft, study, parts } = attempt;
  const { missingParts, retestReasons, retestReason } = attempt;
  return {
    serial,
    model: limits.model,
    attempt: number,
    isReference: reference !== null,
    isDraft,
    ...(study ? { study } : {}),
    ...(attempt.isAfterHold ? { isAfterHold: true as const } : {}),
    limits,
    judgedBy: judgedBy(attempt),
    parts,
    missingParts,
    retestReasons,
    retestReason,
  };
}

function verdictOf({ attempt, traveller, retest, against }: Told): Verdict {
  return {
    kind: "verdict",
    verdict: traveller.verdict,
    serial: traveller.serial,
    model: traveller.model,
    attempt: traveller.attempt.number,
    isReference: traveller.kind === "reference",
    pieceKind: attempt.reference?.kind ?? null,
    isDraft: traveller.draft,
    ...(attempt.study ? { study: attempt.study } : {}),
    retest: retest ?? null,
    against: against ?? null,
    characteristics: traveller.characteristics,
    reasons: sentences(traveller.reasons.filter(({ code }) => code !== "OUT_OF_LIMITS")),
    // A piece of a study is opened by nobody: it would be another one at its next measurement.
    suspects: attempt.study ? [] : (traveller.suspects ?? []),
  };
}

function sentences(reasons: readonly { readonly sentence: string }[]): string[] {
  return reasons.map(({ sentence }) => sentence);
}
