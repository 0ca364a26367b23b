import type { Reason } from "../cycle/reason.ts";
import type { Scan } from "../cycle/scan.ts";
import { hidden } from "../scan-sentences.ts";
import { partName, quoted } from "../shown-text.ts";
import { answered, type Pressed, taken } from "./deed.ts";
import type { LineReader } from "./line-reader.ts";
import { firstQuestion, type ScreenState } from "./screen-state.ts";
import { isIdle } from "./station-states.ts";

/** A whole line at work: a command, a scan, or Enter alone. */
export function enterAtWork(
  state: ScreenState,
  text: string,
  reader: LineReader,
  leave: (state: ScreenState) => Pressed,
): Pressed {
  switch (text) {
    case "":
      return enterAlone(state);
    case "?":
      return taken({ ...state, overlay: "help" });
    case "s":
      return taken({ ...state, overlay: "summary" }, { do: "sum_up" });
    case "g":
      return taken({ ...state, overlay: "conversation" });
    case "o":
      return signOut(state);
    case "q":
      return leave(state);
    default:
      return line(state, text, reader);
  }
}

/** Signs out, or asks who is there, or who takes over a stopped station. */
export function signOut(state: ScreenState): Pressed {
  const { facts, machine } = state;
  if (facts.signIn === "off") return answered(state, "Nobody signs in at this station.");
  if (machine === "faulted" || machine === "signedOut")
    return taken({ ...state, page: "sign_in", signIn: firstQuestion(facts) });
  if (isIdle(state)) return taken(state, { do: "sign_out" });
  return answered(state, "Wait until the station is done with this unit, then sign out.");
}

function enterAlone(state: ScreenState): Pressed {
  if (state.machine === "armed") return taken(state, { do: "start" });
  if (!isIdle(state) || !state.observed.next) return taken(state);
  // The simulated unit brings its own.
  return taken({ ...state, waitingParts: {}, waitingFor: null }, { do: "put_on_next" });
}

function line(state: ScreenState, text: string, reader: LineReader): Pressed {
  const { unit, machine, facts } = state;
  const armed = machine === "armed" && unit ? unit.limits : null;
  const meaning = reader.meaning(text, armed);
  if (meaning.kind === "badge") return badge(state, text);
  if (meaning.kind === "part_of_badge") return unreadable(state, "", hidden);
  const simulated = facts.handsAreSimulated ? /^sim\s+(.+)$/u.exec(text)?.[1] : undefined;
  if (simulated !== undefined) return taken(state, { do: "simulate", words: simulated });
  if (armed && unit && /^[0-9]$/.test(text)) {
    const isLabel = meaning.kind === "parts" || meaning.kind === "unit";
    // A digit alone is nothing that a scanner reads: whether or not it is asked for, it is a number of a reason.
    if (unit.retestReasons.length > 0 || !isLabel) {
      return taken(state, { do: "choose_reason", index: Number(text) - 1 });
    }
  }
  switch (meaning.kind) {
    case "parts":
      return parts(state, meaning.parts);
    case "unit":
      return unitScan(state, meaning.scan);
    default:
      // Surely a part's label: which unit is on the fixture it does not say.
      if (armed?.parts.some(({ pattern }) => pattern.test(text))) {
        return answered(state, meaning.reason.sentence);
      }
      return unreadable(state, meaning.reason === hidden ? "" : text, meaning.reason);
  }
}

/**
 * The station must hear of it and disarm: the unit armed before may no longer be the one on the fixture. Its parts are kept
 * for its serial.
 */
function unreadable(state: ScreenState, serial: string, reason: Reason): Pressed {
  const { machine, unit } = state;
  const kept = machine === "armed" && unit ? { waitingParts: unit.parts, waitingFor: unit.serial } : {};
  return taken({ ...state, ...kept }, { do: "scan", scan: { serial, parts: {}, misread: [reason] } });
}

function badge(state: ScreenState, text: string): Pressed {
  if (!isIdle(state) && state.machine !== "faulted") {
    return answered(
      state,
      "The badge was not taken: wait until the station is done with this unit, then scan it again.",
    );
  }
  if (state.signIn.isBusy) return answered(state, "Wait a moment: the last badge is still being looked at.");
  return taken(
    { ...state, signIn: { ...firstQuestion(state.facts), isBusy: true } },
    { do: "try_badge", badge: text },
  );
}

function parts(state: ScreenState, scanned: Readonly<Record<string, string>>): Pressed {
  if (state.machine === "armed") return taken(state, { do: "add_parts", parts: scanned });
  if (isIdle(state)) return waiting(state, scanned);
  const why =
    state.machine === "faulted"
      ? "the station is stopped. Do what is said above"
      : "the station is at work. Wait until it is done with this unit";
  return answered(state, `The part's label was not taken: ${why}, then scan it again.`);
}

/** For the serial that comes next. */
function waiting(state: ScreenState, scanned: Readonly<Record<string, string>>): Pressed {
  const { waitingParts } = state;
  for (const [name, value] of Object.entries(scanned)) {
    const before = waitingParts[name];
    if (before === undefined || before === value) continue;
    const said = `${quoted(value)} was not taken: ${quoted(before)} was scanned as the ${partName(name)} already.`;
    return answered(
      state,
      `${said} If that is wrong, press Esc, which drops the parts, and scan them all again.`,
    );
  }
  const isFirst = Object.keys(waitingParts).length === 0;
  return taken({
    ...state,
    waitingParts: { ...waitingParts, ...scanned },
    waitingFor: isFirst ? null : state.waitingFor,
    remark: null,
  });
}

function unitScan(state: ScreenState, scan: Scan): Pressed {
  if (!isIdle(state)) return taken(state, { do: "scan", scan });
  const { waitingParts, waitingFor } = state;
  if (waitingFor !== null && waitingFor !== scan.serial && Object.keys(waitingParts).length > 0) {
    const parts = Object.entries(waitingParts).map(([name, value]) => `${partName(name)} ${value}`);
    return answered(
      state,
      `${quoted(scan.serial)} was not taken: ${parts.join(", ")} had been scanned for ${waitingFor}. Scan ${waitingFor} again; or press Esc, which drops the parts.`,
    );
  }
  const { unit, machine } = state;
  // Its own label once more changes nothing of what has been scanned for it.
  const own = machine === "armed" && unit?.serial === scan.serial ? unit.parts : {};
  const known = { ...own, ...waitingParts };
  const misread = [...(scan.misread ?? []), ...contradictions(known, scan.parts)];
  const whole: Scan = {
    ...scan,
    parts: { ...known, ...scan.parts },
    ...(misread.length === 0 ? {} : { misread }),
  };
  return taken({ ...state, waitingParts: {}, waitingFor: null }, { do: "scan", scan: whole });
}

/** Two labels of one part: one of them belongs to another unit. */
function contradictions(before: Scan["parts"], scanned: Scan["parts"]): Reason[] {
  return Object.entries(scanned).flatMap(([name, value]): Reason[] => {
    const other = before[name];
    if (other === undefined || other === value) return [];
    const sentence = `Two labels name the ${partName(name)}, ${quoted(other)} and ${quoted(value)}. Look which is in the unit and scan all its labels again.`;
    return [{ code: "BAD_PART", sentence }];
  });
}
