import type { PreparedAttempt, ReferencePiece, StudyMark } from "../cycle/attempt.ts";
import type { ReasonCode } from "../cycle/reason.ts";
import type { DueReason } from "../cycle/reference-due.ts";
import type { UnitProgress } from "../cycle/unit-progress.ts";
import type { StudyNow } from "../guided-study/study-guide.ts";
import { NOBODY, type SignedIn } from "../people/person.ts";
import type { Traveller } from "../records/traveller.ts";
import type { RetestLeft } from "../retest-left.ts";
import type { DayCount } from "../yield/day-count.ts";

/**
 * Everything the screen shows, as one plain object; nothing in it may be a secret. Only `afterNews` (after-news.ts) makes a
 * verdict, and only from a recorded attempt.
 */
export interface ScreenState {
  readonly facts: StationFacts;
  readonly page: "cautions" | "sign_in" | "work" | "summary" | "leaving";
  /** Shown over the page at work until Esc, Enter or a scan. */
  readonly overlay: null | "help" | "conversation" | "summary";
  readonly who: SignedIn;
  readonly signIn: SignInOnScreen;
  /** The line being typed or scanned, as it may be drawn: PINs and badges as dots. */
  readonly typed: string;
  /** Where the next character goes, in characters of `typed`. */
  readonly cursor: number;
  /** Tracked parts scanned before the serial they belong to, by name. */
  readonly waitingParts: Readonly<Record<string, string>>;
  /** Where these had been scanned for a unit that was armed: its serial, and no other may have them. */
  readonly waitingFor: string | null;
  /** The station machine's state: "ready", "armed", "testing", "faulted"... */
  readonly machine: string;
  /** On the fixture, armed or under test. */
  readonly unit: UnitOnFixture | null;
  readonly result: Result | null;
  /** Said beside whatever else goes on, such as the refusal of a scan during a test. */
  readonly remark: string | null;
  /** Why the station is stopped, a sentence each. */
  readonly faults: readonly string[];
  readonly faultCodes: readonly ReasonCode[];
  /** What stopped the station last, by name, until the next test: what these said before is what somebody wants to see. */
  readonly faultyInstruments: readonly string[];
  /** Units put on hold by the failed reference check just made; null otherwise. */
  readonly held: Held | null;
  /** Of the shift, each no wider than SUMMARY_WIDTH; null while it is being put together. */
  readonly summaryLines: readonly string[] | null;
  /** Turned by so many pages, from 0; beyond the last one it begins anew. */
  readonly summaryPage: number;
  readonly observed: Observed;
}

/** Columns of a line of the summary: what the smallest terminal has between its margins. */
export const SUMMARY_WIDTH = 78;

/** How somebody is asked who they are. */
export interface SignInOnScreen {
  readonly asks: "name" | "badge_or_name" | "pin";
  /** Whose PIN is asked for. */
  readonly name: string | null;
  /** Why the last try was not taken, in a sentence. */
  readonly said: string | null;
  /** Nobody may try before, wall time; null where somebody may try now. */
  readonly lockedUntil_ms: number | null;
  /** What was given is being looked at. */
  readonly isBusy: boolean;
}

/** What does not change while the station runs. */
export interface StationFacts {
  readonly name: string;
  readonly isSimulated: boolean;
  /** Units are put on and taken off by the program. */
  readonly handsAreSimulated: boolean;
  /** "off": nobody signs in. "name": believed as typed. "people": badge, or name and PIN. */
  readonly signIn: "off" | "name" | "people";
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
  /** The I/O block has confirmed safe outputs and still answers for them. */
  readonly areOutputsSafe: boolean;
  /** Newest values by channel, SI; a channel without a fresh value is absent. */
  readonly readings: Readonly<Record<string, number>>;
  /** Of the running phase; null when none runs or nothing has been read in it. */
  readonly trace: TraceSamples | null;
  /** Until the running test ends, as expected; null when none runs. */
  readonly timeLeft_s: number | null;
  /** From units that were tested; else it is the longest that the limit file allows. */
  readonly isTimeLeftLearned: boolean;
  readonly reference: ReferenceOnScreen;
  /** Sentences of those that stand, the plainest first; absent where there is none to be told. */
  readonly earlyWarnings?: readonly string[];
  /** Of the shift or day, also across restarts. */
  readonly counts: DayCount;
  /** What was last said on the gauges' cables, the faulty ones first; empty unless they are being looked at. */
  readonly conversations: readonly ConversationOnScreen[];
  /** Where the study is that is measured instead of production. */
  readonly study?: StudyNow;
  /** The body a simulated line has ready; null on a real station. */
  readonly next: NextBody | null;
}

/** What the phase's main channel has read since the phase began, SI; thinned out evenly where it would be too many. */
export interface TraceSamples {
  readonly channel: "leak_pressure" | "source_pressure" | "suction" | "power";
  /** `t_s` on the station's clock, as `phaseStart_s`. */
  readonly samples: readonly { readonly t_s: number; readonly value: number }[];
  readonly phaseStart_s: number;
}

export interface ConversationOnScreen {
  readonly instrument: string;
  /** It stopped the station: the lines are those up to that fault, and not what it has said since. */
  readonly isFaulty: boolean;
  readonly lines: readonly {
    readonly t_s: number;
    readonly direction: "sent" | "heard";
    readonly text: string;
  }[];
}

export type ReferenceOnScreen =
  | { readonly kind: "off" }
  | {
      readonly kind: "due";
      /** Still to be tested, the next one first. */
      readonly pieces: readonly PieceOnScreen[];
      /** The next piece is this one, counted from 1, of the pieces of this check. */
      readonly step: number;
      readonly of: number;
      /** Of the pieces' trends. */
      readonly warnings: readonly string[];
    }
  | {
      readonly kind: "in_force";
      /** When the oldest check in force was made. */
      readonly at_ms: number;
      readonly until_ms: number;
      /** Units that may still be tested before the next check; null where their number does not count. */
      readonly unitsLeft: number | null;
      readonly warnings: readonly string[];
    };

export interface PieceOnScreen {
  readonly serial: string;
  readonly kind: ReferencePiece["kind"];
  readonly model: string;
  readonly why: DueReason;
}

export interface Held {
  readonly units: number;
  /** Why, as it is recorded. */
  readonly sentence: string;
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
  readonly study?: StudyMark;
  /** Its last test is in doubt, and this one counts instead. */
  readonly isAfterHold?: true;
  readonly limits: PreparedAttempt["limits"];
  /** What is run of them and held against; of a reference piece its certificate. */
  readonly judgedBy: PreparedAttempt["limits"];
  /** Tracked parts scanned so far, by name. */
  readonly parts: Readonly<Record<string, string>>;
  /** No start before these are scanned. */
  readonly missingParts: readonly string[];
  /** To be chosen from by number before the start; empty where nothing is asked. */
  readonly retestReasons: readonly string[];
  readonly retestReason: string | null;
}

export type Result = Verdict | Refusal;

export interface Verdict {
  readonly kind: "verdict";
  readonly verdict: "pass" | "fail" | "void";
  readonly serial: string;
  readonly model: string;
  readonly attempt: number;
  readonly isReference: boolean;
  /** Of a reference piece. */
  readonly pieceKind: ReferencePiece["kind"] | null;
  readonly isDraft: boolean;
  readonly study?: StudyMark;
  /** Of a unit that has not passed: what the retest rule allows it now. Null where the rule does not bind, or can't be asked. */
  readonly retest: RetestLeft | null;
  /** Held or scrapped while it was tested: what to do with it, whatever the verdict. */
  readonly against: string | null;
  readonly characteristics: Traveller["characteristics"];
  /** Besides what a characteristic's own row tells. */
  readonly reasons: readonly string[];
  /** Most likely first. */
  readonly suspects: NonNullable<Traveller["suspects"]>;
}

export interface Refusal {
  readonly kind: "refusal";
  readonly serial: string;
  /** Refused at the start and not at the scan. It may be armed still: then `unit` is there. */
  readonly wasArmed: boolean;
  readonly reasons: readonly string[];
  readonly codes: readonly ReasonCode[];
}

export interface AtStart {
  /** As said on the command line; where the station asks for a name, it is then not asked again. */
  readonly who?: SignedIn;
  readonly remark?: string | null;
}

export function startState(
  facts: StationFacts,
  observed: Observed,
  { who = NOBODY, remark = null }: AtStart = {},
): ScreenState {
  return {
    facts,
    page: "cautions",
    overlay: null,
    who,
    signIn: firstQuestion(facts),
    typed: "",
    cursor: 0,
    waitingParts: {},
    waitingFor: null,
    machine: observed.machine,
    unit: null,
    result: null,
    remark,
    faults: [],
    faultCodes: [],
    faultyInstruments: [],
    held: null,
    summaryLines: null,
    summaryPage: 0,
    observed,
  };
}

/** @returns how somebody is asked who they are, to begin with */
export function firstQuestion({ signIn }: Pick<StationFacts, "signIn">): SignInOnScreen {
  const asks = signIn === "people" ? "badge_or_name" : "name";
  return { asks, name: null, said: null, lockedUntil_ms: null, isBusy: false };
}

const HAS_UNIT: ReadonlySet<string> = new Set(["armed", "checking", "testing", "finished"]);

/** @returns the state after a look at the station, its gauges and counts */
export function afterLook(state: ScreenState, observed: Observed): ScreenState {
  const { machine } = observed;
  const unit = HAS_UNIT.has(machine) ? state.unit : null;
  return { ...state, machine, unit, observed };
}
