import type { ReasonCode } from "../cycle/reason.ts";
import { doneSentence, type StudyNow } from "../guided-study/study-guide.ts";
import { nameKey } from "../people/person-name.ts";
import type { RetestLeft } from "../retest-left.ts";
import { partName } from "../shown-text.ts";
import { stopWords } from "../stop-words.ts";
import { failedPieceAdvice, referenceStep } from "./reference-guide.ts";
import type { Refusal, ScreenState, UnitOnFixture, Verdict } from "./screen-state.ts";
import { isIdle, mayAbort } from "./station-states.ts";

/** @returns what the person at the station does now, in one sentence as far as one sentence holds it */
export function whatToDo(state: ScreenState): string {
  const { page, machine } = state;
  if (page === "cautions") return "Read the cautions, then press Enter.";
  if (page === "leaving") return leavingSentence(state);
  if (page === "sign_in") return signInSentence(state);
  if (page === "summary") return "Signed out. Whoever is next: scan your badge or press Enter.";
  switch (machine) {
    case "signedOut":
      return "Nobody is signed in: press F4, or o and Enter, to sign in.";
    case "faulted":
      return faultedSentence(state);
    case "recovering":
      return "Wait: the instruments are being connected and the outputs made safe.";
    case "identifying":
      return "Wait: the serial is being looked up.";
    case "armed":
      return armedSentence(state);
    case "checking":
      return "Keep clear: the test is about to start.";
    case "testing":
      return testingSentence(state);
    default:
      return idleSentence(state);
  }
}

/** A key, or what else is done, and what that does. */
type KeyHelp = readonly [key: string, does: string];

/** @returns the keys that do something now, the most needed first */
export function keysNow(state: ScreenState): readonly KeyHelp[] {
  const ctrlC = ["Ctrl-C", "leave"] as const;
  const { page, overlay, facts, machine, observed, unit } = state;
  if (page === "cautions") return [["Enter", "go on"], ctrlC];
  if (page === "leaving") return [["Ctrl-C", "leave at once, without waiting"]];
  const leave = ["q Enter", "leave"] as const;
  const help = ["F1", "help"] as const;
  const phase = observed.progress?.phase;
  if (phase === "safing" || phase === "recording") return [ctrlC];
  if (mayAbort(state)) {
    // Esc aborts whatever is shown over the test.
    const close = overlay === null ? help : ([OPENED_BY[overlay], "close this"] as const);
    return [
      ["Esc", machine === "checking" ? "call it off" : "abort the test"],
      close,
      ["Ctrl-C", "abort and leave"],
    ];
  }
  if (overlay !== null)
    return [["Esc", "close this"], ...(machine === "faulted" ? [["Tab", "acknowledge"] as const] : [])];
  if (page === "sign_in") return signInKeys(state);
  if (page === "summary") return [["Enter", "sign in"], help, ctrlC];
  if (machine === "faulted") {
    const takeOver = facts.signIn === "off" ? [] : [["F4", "sign in"] as const];
    return [["Tab", "acknowledge"], ["F3", "what the gauges said"], ...takeOver, help, leave];
  }
  if (!isIdle(state)) return [ctrlC];
  if (state.typed !== "") return [["Enter", "take the line"], ["Esc", "clear it"], help];
  const more = [["F2", "shift"] as const, ...signOutKey(state), help, leave];
  if (machine === "armed") {
    const isAsked = unit !== null && unit.missingParts.length === 0 && unit.retestReasons.length > 0;
    const first: KeyHelp = isAsked ? [`1-${unit.retestReasons.length} Enter`, "say why"] : ["Enter", "start"];
    return [first, ["scan", "another unit"], ["Esc", "put it aside"], ...more];
  }
  const scan = ["scan", facts.handsAreSimulated ? "a serial" : "the next unit"] as const;
  const drop = Object.keys(state.waitingParts).length > 0 ? [["Esc", "drop the parts"] as const] : [];
  if (observed.next) return [["Enter", "put the next one on"], scan, ...drop, ...more];
  return [scan, ...drop, ...more];
}

const OPENED_BY: Readonly<Record<NonNullable<ScreenState["overlay"]>, string>> = {
  help: "F1",
  summary: "F2",
  conversation: "F3",
};

function signInKeys({ signIn, who }: ScreenState): readonly KeyHelp[] {
  const back = signIn.asks === "pin" ? [["Esc", "another name"] as const] : [];
  const stay = who.name !== null && signIn.asks !== "pin" ? [["Esc", "back"] as const] : [];
  return [["Enter", "sign in"], ...back, ...stay, ["F1", "help"], ["Ctrl-C", "leave"]];
}

function signOutKey({ facts }: ScreenState): readonly KeyHelp[] {
  return facts.signIn === "off" ? [] : [["F4", "sign out"]];
}

/** A serial as people compare it; of one longer than any label the beginning and the end. */
export function shownSerial(serial: string): string {
  return serial.length <= 32 ? serial : `${serial.slice(0, 20)}…${serial.slice(-8)}`;
}

function leavingSentence({ machine }: ScreenState): string {
  if (mayAbort({ machine })) {
    return "Leaving: the test is being aborted, the fixture made safe and the attempt recorded.";
  }
  return "Leaving: the outputs are being made safe and the records closed.";
}

function signInSentence({ signIn, machine, faults }: ScreenState): string {
  const stopped = machine === "faulted" ? `STOPPED: ${faults.join(" ")} ` : "";
  if (signIn.isBusy) return `${stopped}Wait: it is being looked up who you are.`;
  switch (signIn.asks) {
    case "name":
      return `${stopped}Type your name, then press Enter.`;
    case "badge_or_name":
      return `${stopped}Scan your badge; or type your name, then press Enter.`;
    case "pin":
      return `${stopped}${signIn.name ?? ""}: type your PIN, then press Enter.`;
  }
}

function faultedSentence({ faultCodes, facts, who, observed }: ScreenState): string {
  const { what, beware } = stopWords(faultCodes, observed.areOutputsSafe);
  const stopped = `STOPPED, ${what}: ${beware.map((clause) => `${clause}, `).join("")}`;
  const isForEngineer = facts.signIn === "people" && faultCodes.includes("SAME_FAIL_IN_A_ROW");
  if (isForEngineer && who.role !== "engineer" && who.role !== "supervisor") {
    return `${stopped}call the engineer, who scans their badge (or F4: name and PIN), looks, and presses Tab.`;
  }
  if (facts.signIn !== "off" && who.name === null) {
    return `${stopped}keep clear, do what is said below, sign in (F4), then press Tab.`;
  }
  return `${stopped}keep clear, do what is said below, then press Tab.`;
}

function armedSentence({ unit, result }: ScreenState): string {
  const refused = result?.kind === "refusal" ? `${notStarted(result)}${result.reasons.join(" ")}` : "";
  if (!unit) return refused || "Press Enter or the start button.";
  const [missing] = unit.missingParts;
  // What is said of a unit that lacks something says already what to do; a start would be refused.
  if (refused !== "" && (missing !== undefined || unit.retestReasons.length > 0)) return refused;
  if (missing !== undefined) {
    const more = unit.missingParts.length - 1;
    const others = more > 0 ? `, and ${more} more` : "";
    return `Scan the ${missing.replaceAll("_", " ")} of ${named(unit)}${others}: it can't start before.`;
  }
  if (unit.retestReasons.length > 0) {
    return `Why is ${named(unit)} tested again? Type the number of the reason, then press Enter.`;
  }
  if (refused !== "") return `${refused} ${named(unit)} is armed still: Enter or the start button starts it.`;
  return `Close the guard, hands clear, then press Enter or the start button: ${named(unit)} is tested.`;
}

function testingSentence({ unit, observed }: ScreenState): string {
  const phase = observed.progress?.phase;
  if (phase === "safing") return "Keep clear: the fixture is being made safe.";
  if (phase === "recording") return "Wait for the verdict: the attempt is being recorded.";
  return `Keep clear and wait: ${named(unit)} is being tested.`;
}

function idleSentence(state: ScreenState): string {
  const { result, observed } = state;
  if (!result) return nextSentence(state);
  if (result.kind === "refusal") return [refusalSentence(result), waitingSentence(state)].join(" ").trimEnd();
  const said = verdictSentence(result, state);
  const next = nextSentence(state);
  if (result.verdict !== "void" || result.study) return `${said} ${next}`;
  // A unit that must be scanned again is what is next, unless simulated hands have another one ready.
  return observed.next ? `${said} ${next.replace(/^Press/, "Or press")}` : said;
}

/** A label that is not taken has not been meant as a start. */
function notStarted({ codes }: Refusal): string {
  return codes.every((code) => OF_LABELS.has(code)) ? "" : "Not started. ";
}

function refusalSentence(refusal: Refusal): string {
  const { serial, reasons, codes, wasArmed } = refusal;
  const [why = "", ...more] = reasons;
  const below = more.length > 0 ? ` And ${more.length} more, below.` : "";
  const again = wasArmed && !codes.includes("ABORTED") ? " It must be scanned again first." : "";
  const isNoUnit = codes.every((code) => OF_NO_UNIT.has(code));
  const what = isNoUnit ? "Not taken." : `${shownSerial(serial) || "The scan"} was not started.`;
  return `${what} ${why}${below}${again}`;
}

/** What was scanned is no unit's serial. */
const OF_NO_UNIT: ReadonlySet<ReasonCode> = new Set(["UNKNOWN_SCAN", "AMBIGUOUS_SCAN", "SCAN_TOO_LONG"]);
/** Said of a label or a number given to a unit that is armed. */
const OF_LABELS: ReadonlySet<ReasonCode> = new Set([
  "BAD_PART",
  "CHECK_CHARACTER_WRONG",
  "RETEST_REASON_MISSING",
]);

function verdictSentence(verdict: Verdict, { facts, held, observed }: ScreenState): string {
  const serial = shownSerial(verdict.serial);
  if (verdict.study) {
    const { run, of } = verdict.study;
    // It would not be asked for again if there were a value.
    if (observed.study?.next?.run === run) return `${serial} gave no value for the study: see why below.`;
    return `${serial} is measured, ${run} of ${of}${facts.handsAreSimulated ? "." : ": take it off."}`;
  }
  if (verdict.verdict === "void") {
    const { retest } = verdict;
    if (retest?.refusal) return `${serial} has no valid verdict. ${retest.refusal.sentence}`;
    const what = verdict.isReference ? `Reference piece ${serial}` : serial;
    return `${what} has no valid verdict: see why below, then scan it again.`;
  }
  if (verdict.isReference) {
    return verdict.verdict === "pass"
      ? `Reference piece ${serial} reads as certified.`
      : `Reference piece ${serial} ${failedPieceAdvice(verdict.pieceKind, held)}`;
  }
  if (verdict.against !== null) return `Do not send it on. ${verdict.against}`;
  const simulated = facts.handsAreSimulated;
  if (verdict.verdict === "pass") return `${serial} is good${simulated ? "." : ": take it off."}`;
  const { retest } = verdict;
  if (retest) {
    const takeOff = simulated ? "" : ": take it off, and unplug it before it is opened";
    return `${serial} failed${takeOff}. ${retestSentence(serial, retest, observed.now_ms)}`;
  }
  return `${serial} failed${simulated ? "." : ": take it off and set it aside for rework. Unplug it before it is opened."}`;
}

/** How often a unit that failed may be tested again, when and for what; or where it goes. */
function retestSentence(
  serial: string,
  { tests, refusal, reasons, from_ms }: RetestLeft,
  now_ms: number,
): string {
  if (refusal?.code === "ATTEMPTS_USED_UP") {
    return `It may not be tested again: rework it, then record that (drumtight rework ${serial}), or scrap it.`;
  }
  if (refusal) return refusal.sentence;
  const more = tests === 1 ? "once more" : tests === 2 ? "twice more" : `${tests} times more`;
  const left_s = Math.ceil((from_ms - now_ms) / 1000);
  const when = left_s > 0 ? `in ${left_s} s` : "now";
  const why =
    reasons.length === 0
      ? ""
      : reasons.length === 1
        ? `, if ${reasons[0]}`
        : `, for one of ${reasons.length} reasons that its scan asks for`;
  return `It may be tested ${more}, ${when}${why}; else it goes to rework.`;
}

/** @returns which serial the parts wait for that have been scanned; "" where none wait */
function waitingSentence({ waitingParts, waitingFor }: ScreenState): string {
  const parts = Object.entries(waitingParts).map(([name, value]) => `${partName(name)} ${value}`);
  const listed = parts.join(", ");
  if (waitingFor === null) return listed === "" ? "" : `Now scan the serial that the ${listed} belongs to.`;
  const kept = listed === "" ? "" : `, its ${listed} is kept`;
  return `${shownSerial(waitingFor)} is armed no more${kept}: scan ${shownSerial(waitingFor)} again.`;
}

function nextSentence(state: ScreenState): string {
  const { observed, facts } = state;
  const { next, reference, study } = observed;
  if (study) return studySentence(study, state);
  if (reference.kind === "due" && (!next || next.isReference)) {
    return referenceStep(reference, facts.handsAreSimulated);
  }
  const waiting = waitingSentence(state);
  if (waiting !== "") return waiting;
  if (next) return `Press Enter: the next simulated unit, ${next.serial}, is put on and scanned.`;
  return facts.handsAreSimulated ? "Scan a serial." : "Put the next unit on and scan it.";
}

/** @returns which piece the study asks for now, and of whom */
function studySentence(study: StudyNow, { who, facts }: ScreenState): string {
  const { name, of, next } = study;
  if (!next) return doneSentence(study);
  const { run, part, appraiser, trial } = next;
  const where = `Study ${name}, ${run} of ${of}`;
  const serial = shownSerial(part);
  if (who.name !== null && nameKey(who.name) !== nameKey(appraiser)) {
    return `${where}: ${appraiser} measures now. Sign in as ${appraiser} (F4), then put ${serial} on and scan it.`;
  }
  const what = facts.handsAreSimulated
    ? `press Enter, and ${serial} is put on and scanned`
    : `put ${serial} on and scan it`;
  return `${where}: ${what}. Appraiser ${appraiser}, trial ${trial}.`;
}

function named(unit: UnitOnFixture | null): string {
  if (!unit) return "the unit";
  const serial = shownSerial(unit.serial);
  return unit.isReference ? `reference piece ${serial}` : serial;
}
