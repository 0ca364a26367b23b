import type { FinishedAttempt } from "../controller.ts";
import type { PreparedAttempt } from "../cycle/attempt.ts";
import type { Reason } from "../cycle/reason.ts";
import type { UnitProgress } from "../cycle/unit-progress.ts";
import type { Traveller } from "../records/traveller.ts";

/** Everything the screen shows, as one plain object. Only `afterNews` makes a verdict, and only from a recorded attempt. */
export interface ScreenState {
  readonly facts: StationFacts;
  readonly page: "cautions" | "sign_in" | "work" | "leaving";
  readonly inspector: string | null;
  /** The line being typed or scanned. */
  readonly typed: string;
  /** The station machine's state: "ready", "armed", "testing", "faulted"... */
  readonly machine: string;
  /** On the fixture, armed or under test. */
  readonly unit: UnitOnFixture | null;
  readonly result: Result | null;
  /** Said beside whatever else goes on, such as the refusal of a scan during a test. */
  readonly remark: string | null;
  readonly faults: readonly string[];
  readonly observed: Observed;
}

/** What does not change while the station runs. */
export interface StationFacts {
  readonly name: string;
  readonly isSimulated: boolean;
  /** Units are put on and taken off by the program. */
  readonly handsAreSimulated: boolean;
  readonly asksName: boolean;
  /** A flow gauge is there; elsewhere the flow is calculated after the test. */
  readonly readsFlow: boolean;
  /** Models whose limits nobody has approved and which run all the same, because somebody asked for it. */
  readonly draftModels: readonly string[];
}

/** What is looked up again and again, a few times a second. */
export interface Observed {
  readonly machine: string;
  readonly now_ms: number;
  readonly progress: UnitProgress | null;
  /** Newest values by channel, SI; a channel without a fresh value is absent. */
  readonly readings: Readonly<Record<string, number>>;
  readonly reference: ReferenceOnScreen;
  readonly counts: Counts;
  /** The body a simulated line has ready; null on a real station. */
  readonly next: NextBody | null;
}

export type ReferenceOnScreen =
  | { readonly kind: "off" }
  | { readonly kind: "due"; readonly pieces: readonly string[] }
  | { readonly kind: "in_force"; readonly at_ms: number; readonly until_ms: number };

export interface Counts {
  readonly tested: number;
  readonly pass: number;
  readonly fail: number;
  readonly void: number;
  readonly inspected: number;
  readonly firstPassed: number;
  /** Null when nothing was inspected. */
  readonly firstPassYield: number | null;
}

export interface NextBody {
  readonly serial: string;
  readonly isReference: boolean;
}

export interface UnitOnFixture {
  readonly serial: string;
  readonly model: string;
  readonly attempt: number;
  readonly isReference: boolean;
  readonly isDraft: boolean;
  readonly limits: PreparedAttempt["limits"];
}

export type Result = Verdict | Refusal;

export interface Verdict {
  readonly kind: "verdict";
  readonly verdict: "pass" | "fail" | "void";
  readonly serial: string;
  readonly model: string;
  readonly attempt: number;
  readonly isReference: boolean;
  readonly isDraft: boolean;
  readonly characteristics: Traveller["characteristics"];
  /** Besides what a characteristic's own row tells. */
  readonly reasons: readonly string[];
  /** Most likely first. */
  readonly suspects: NonNullable<Traveller["suspects"]>;
}

export interface Refusal {
  readonly kind: "refusal";
  readonly serial: string;
  /** Refused at the start and not at the scan: it is armed no more. */
  readonly wasArmed: boolean;
  readonly reasons: readonly string[];
}

export type News =
  | { readonly type: "armed" | "started"; readonly attempt: PreparedAttempt }
  | { readonly type: "refused"; readonly serial: string; readonly reasons: readonly Reason[] }
  | { readonly type: "finished"; readonly finished: Pick<FinishedAttempt, "attempt" | "traveller"> }
  | { readonly type: "faulted"; readonly reasons: readonly Reason[] }
  | { readonly type: "recovered" };

export const NO_COUNTS: Counts = {
  tested: 0,
  pass: 0,
  fail: 0,
  void: 0,
  inspected: 0,
  firstPassed: 0,
  firstPassYield: null,
};

/** @param inspector as said on the command line; where the station asks for a name, it is then not asked again */
export function startState(
  facts: StationFacts,
  observed: Observed,
  { inspector = null, remark = null }: { inspector?: string | null; remark?: string | null } = {},
): ScreenState {
  return {
    facts,
    page: "cautions",
    inspector,
    typed: "",
    machine: observed.machine,
    unit: null,
    result: null,
    remark,
    faults: [],
    observed,
  };
}

/** @returns the state after the station has told something */
export function afterNews(state: ScreenState, news: News): ScreenState {
  switch (news.type) {
    case "armed":
      return {
        ...state,
        machine: "armed",
        unit: onFixture(news.attempt),
        result: null,
        remark: null,
        faults: [],
      };
    case "started":
      return {
        ...state,
        machine: "testing",
        unit: onFixture(news.attempt),
        result: null,
        remark: null,
        faults: [],
      };
    case "refused":
      return afterRefusal(state, news.serial, sentences(news.reasons));
    case "finished":
      return {
        ...state,
        machine: "waiting",
        unit: null,
        result: verdictOf(news.finished),
        remark: null,
        faults: [],
      };
    case "faulted":
      return { ...state, machine: "faulted", unit: null, faults: sentences(news.reasons) };
    case "recovered":
      return { ...state, machine: "waiting", faults: [], remark: null };
  }
}

/** @returns the state after a look at the station, its gauges and counts */
export function afterLook(state: ScreenState, observed: Observed): ScreenState {
  return { ...state, machine: observed.machine, observed };
}

/** A scan refused while something else is under way does not touch what is shown of that. */
function afterRefusal(state: ScreenState, serial: string, reasons: readonly string[]): ScreenState {
  const { machine, unit } = state;
  const isUnderWay =
    ["testing", "faulted", "recovering"].includes(machine) ||
    (machine === "checking" && serial !== unit?.serial);
  if (isUnderWay) return { ...state, remark: `${serial} was not taken. ${reasons.join(" ")}` };
  const wasArmed = (machine === "armed" || machine === "checking") && serial === unit?.serial;
  return { ...state, unit: null, result: { kind: "refusal", serial, wasArmed, reasons }, remark: null };
}

function onFixture({ serial, limits, number, reference, isDraft }: PreparedAttempt): UnitOnFixture {
  return {
    serial,
    model: limits.model,
    attempt: number,
    isReference: reference !== null,
    isDraft,
    limits,
  };
}

function verdictOf({ traveller }: Pick<FinishedAttempt, "traveller">): Verdict {
  return {
    kind: "verdict",
    verdict: traveller.verdict,
    serial: traveller.serial,
    model: traveller.model,
    attempt: traveller.attempt.number,
    isReference: traveller.kind === "reference",
    isDraft: traveller.draft,
    characteristics: traveller.characteristics,
    reasons: sentences(traveller.reasons.filter(({ code }) => code !== "OUT_OF_LIMITS")),
    suspects: traveller.suspects ?? [],
  };
}

function sentences(reasons: readonly { readonly sentence: string }[]): string[] {
  return reasons.map(({ sentence }) => sentence);
}
