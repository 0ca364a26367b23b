import { isIdle, mayAbort } from "./press.ts";
import type { Result, ScreenState, UnitOnFixture, Verdict } from "./screen-state.ts";

/** @returns what the person at the station does now, in one sentence as far as one sentence holds it */
export function whatToDo(state: ScreenState): string {
  const { page, machine, unit, result } = state;
  if (page === "cautions") return "Read the cautions, then press Enter.";
  if (page === "sign_in") return "Type your name, then press Enter.";
  if (page === "leaving") return leavingSentence(state);
  switch (machine) {
    case "faulted":
      return "STOPPED: keep clear, do what is said below, then press Tab.";
    case "recovering":
      return "Wait: the instruments are being connected and the outputs made safe.";
    case "identifying":
      return "Wait: the serial is being looked up.";
    case "armed":
      return `Close the guard, hands clear, then press Enter or the start button: ${named(unit)} is tested.`;
    case "checking":
      return "Keep clear: the test is about to start.";
    case "testing":
      return testingSentence(state);
    default:
      return idleSentence(state, result);
  }
}

/** @returns the keys that do something now, as [key, what it does] */
export function keysNow(state: ScreenState): readonly (readonly [key: string, does: string])[] {
  const ctrlC = ["Ctrl-C", "leave"] as const;
  if (state.page === "cautions") return [["Enter", "go on"], ctrlC];
  if (state.page === "sign_in") return [["Enter", "sign in"], ctrlC];
  if (state.page === "leaving") return [["Ctrl-C", "leave at once, without waiting"]];
  const leave = ["q Enter", "leave"] as const;
  const phase = state.observed.progress?.phase;
  if (phase === "safing" || phase === "recording") return [ctrlC];
  if (mayAbort(state))
    return [
      ["Esc", "abort the test"],
      ["Ctrl-C", "abort and leave"],
    ];
  if (state.machine === "faulted") return [["Tab", "acknowledge"], leave];
  if (!isIdle(state)) return [ctrlC];
  if (state.typed !== "") return [["Enter", "take the scan"], ["Esc", "clear the line"], ctrlC];
  if (state.machine === "armed") return [["Enter", "start"], ["scan", "another unit"], leave];
  const scan = ["scan", state.facts.handsAreSimulated ? "a serial" : "the next unit"] as const;
  if (state.observed.next) return [["Enter", "put the next one on"], scan, leave];
  return [scan, leave];
}

/** A serial as people compare it; of one longer than any label the beginning and the end. */
export function shownSerial(serial: string): string {
  return serial.length <= 32 ? serial : `${serial.slice(0, 20)}…${serial.slice(-8)}`;
}

function leavingSentence({ machine }: ScreenState): string {
  if (machine === "testing" || machine === "checking") {
    return "Leaving: the test is being aborted, the fixture made safe and the attempt recorded.";
  }
  return "Leaving: the outputs are being made safe and the records closed.";
}

function testingSentence({ unit, observed }: ScreenState): string {
  const phase = observed.progress?.phase;
  if (phase === "safing") return "Keep clear: the fixture is being made safe.";
  if (phase === "recording") return "Wait for the verdict: the attempt is being recorded.";
  return `Keep clear and wait: ${named(unit)} is being tested.`;
}

function idleSentence(state: ScreenState, result: Result | null): string {
  const next = nextSentence(state);
  if (!result) return next;
  if (result.kind === "refusal") {
    const [why = "", ...more] = result.reasons;
    const below = more.length > 0 ? ` And ${more.length} more, below.` : "";
    const again = result.wasArmed ? " It must be scanned again first." : "";
    return `${shownSerial(result.serial) || "The scan"} was not started. ${why}${below}${again}`;
  }
  const said = verdictSentence(result, state.facts.handsAreSimulated);
  // A unit that must be scanned again is what is next, unless simulated hands have another one ready.
  return result.verdict === "void" && !state.observed.next ? said : `${said} ${next}`;
}

function verdictSentence(verdict: Verdict, handsAreSimulated: boolean): string {
  const body = `${verdict.isReference ? "Reference piece " : ""}${shownSerial(verdict.serial)}`;
  if (verdict.verdict === "void") return `${body} has no valid verdict: see why below, then scan it again.`;
  if (verdict.isReference) {
    return verdict.verdict === "pass"
      ? `${body} reads as certified.`
      : `${body} does not read as certified: look for a leak at the fixture, then test it again.`;
  }
  if (verdict.verdict === "pass") return `${body} is good${handsAreSimulated ? "." : ": take it off."}`;
  return `${body} failed${handsAreSimulated ? "." : ": take it off and set it aside for rework. Unplug it before it is opened."}`;
}

function nextSentence({ observed, facts }: ScreenState): string {
  const { next, reference } = observed;
  const due = reference.kind === "due" ? reference.pieces : [];
  if (next?.isReference) {
    return `Press Enter: the reference check is due, ${next.serial} is put on and scanned.`;
  }
  if (next) return `Press Enter: the next simulated unit, ${next.serial}, is put on and scanned.`;
  const first = due[0]?.serial;
  if (first !== undefined) return `The reference check is due: put on ${first} and scan it.`;
  return facts.handsAreSimulated ? "Scan a serial." : "Put the next unit on and scan it.";
}

function named(unit: UnitOnFixture | null): string {
  if (!unit) return "the unit";
  const serial = shownSerial(unit.serial);
  return unit.isReference ? `reference piece ${serial}` : serial;
}
