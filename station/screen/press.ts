import { COVER } from "./badge-cover.ts";
import { type Deed, type Pressed, taken } from "./deed.ts";
import { enterAtSignIn } from "./enter-at-sign-in.ts";
import { enterAtWork, signOut } from "./enter-at-work.ts";
import type { Key, NamedKey } from "./keys.ts";
import { edited, type Line, NO_LINE } from "./line-editor.ts";
import type { LineReader } from "./line-reader.ts";
import { firstQuestion, type ScreenState } from "./screen-state.ts";
import { mayAbort } from "./station-states.ts";

/**
 * What one key does to the screen and asks of the station, in every state there is. A scanner types too: only a whole line,
 * text and Enter, is taken, and its Enter is never a key of its own.
 */
export function press(state: ScreenState, line: Line, key: Key, reader: LineReader): Pressed {
  const pressed = pressKey(state, line, key, reader);
  return { ...pressed, state: withLine(pressed.state, pressed.line, reader) };
}

/** @returns the line that is left of what was typed: a PIN, whole or not, is no answer to what comes after it, nor to be seen there */
export function lineLeft(before: ScreenState, after: ScreenState, line: Line): Line {
  return asksPin(before) && !asksPin(after) ? NO_LINE : line;
}

function asksPin({ page, signIn }: ScreenState): boolean {
  return page === "sign_in" && signIn.asks === "pin";
}

/** @returns the state with what of the line may be drawn */
export function withLine(state: ScreenState, line: Line, reader: LineReader): ScreenState {
  const typed = asksPin(state) ? COVER.repeat([...line.text].length) : reader.drawn(line.text, line.cursor);
  return { ...state, typed, cursor: line.cursor };
}

function pressKey(state: ScreenState, line: Line, key: Key, reader: LineReader): Pressed {
  if (key.kind === "interrupt") return leave(state);
  if (state.page === "leaving") return { state, line: NO_LINE, deed: { do: "nothing" } };
  switch (key.kind) {
    case "enter":
      return enter(state, line.text.trim(), reader);
    case "escape":
      return takeBack(state, line);
    case "tab":
      if (state.machine !== "faulted") return unchanged(state, line);
      return { state: { ...state, overlay: null }, line, deed: { do: "acknowledge" } };
    case "f1":
    case "f2":
    case "f3":
    case "f4":
      return functionKey(state, line, key.kind);
    case "up":
    case "down":
      return unchanged(turned(state, key.kind === "down" ? 1 : -1), line);
    default:
      return unchanged(state, edited(line, key));
  }
}

function enter(covered: ScreenState, text: string, reader: LineReader): Pressed {
  if (covered.page === "cautions") return enterAtCautions(covered, text);
  const state: ScreenState = { ...covered, overlay: null };
  // Behind an overlay nobody sees what an Enter would start.
  if (text === "" && covered.overlay !== null) return taken(state);
  switch (state.page) {
    case "sign_in":
      return enterAtSignIn(state, text, reader, leave);
    case "summary": {
      const asking: ScreenState = { ...state, page: "sign_in" };
      return text === "" ? taken(asking) : enterAtSignIn(asking, text, reader, leave);
    }
    default:
      return enterAtWork(state, text, reader, leave);
  }
}

function enterAtCautions(state: ScreenState, text: string): Pressed {
  if (text === "q") return leave(state);
  if (text !== "") {
    return taken({ ...state, remark: TOO_EARLY });
  }
  const { facts, who } = state;
  if (facts.signIn === "off") return taken(state, { do: "sign_in", name: who.name });
  if (facts.signIn === "name" && who.name !== null) return taken(state, { do: "sign_in", name: who.name });
  const { signIn } = state;
  const asked = who.name === null ? signIn : { ...signIn, asks: "pin" as const, name: who.name };
  const remark = state.remark === TOO_EARLY ? null : state.remark;
  return taken({ ...state, page: "sign_in", signIn: asked, remark });
}

const TOO_EARLY = "That came before the cautions were read: press Enter, then give it again.";

/** Aborts whatever is shown; else takes back the last thing that was begun. */
function takeBack(state: ScreenState, line: Line): Pressed {
  if (mayAbort(state)) return taken({ ...state, overlay: null }, { do: "abort" });
  if (state.overlay !== null || line.text !== "") return taken({ ...state, overlay: null });
  const { page, signIn, facts, who, waitingParts } = state;
  if (page === "work" && state.machine === "armed") return taken(state, { do: "abort" });
  if (page === "sign_in" && signIn.asks === "pin" && !signIn.isBusy) {
    return taken({ ...state, signIn: firstQuestion(facts) });
  }
  // Somebody is signed in still: the question was asked only to take over.
  if (page === "sign_in" && who.name !== null) return taken({ ...state, page: "work" });
  if (Object.keys(waitingParts).length > 0) {
    return taken({
      ...state,
      waitingParts: {},
      waitingFor: null,
      remark: "The parts scanned for the next unit are dropped.",
    });
  }
  return taken({ ...state, waitingFor: null, remark: null });
}

function functionKey(state: ScreenState, line: Line, key: NamedKey): Pressed {
  const { page } = state;
  if (key === "f1" && page !== "cautions") return unchanged(overlaid(state, "help"), line);
  if (page !== "work") return unchanged(state, line);
  if (key === "f2") {
    const shown = overlaid(state, "summary");
    return { state: shown, line, deed: { do: shown.overlay === "summary" ? "sum_up" : "nothing" } };
  }
  if (key === "f3") return unchanged(overlaid(state, "conversation"), line);
  return key === "f4" ? signOut({ ...state, overlay: null }) : unchanged(state, line);
}

/** Of the shift's summary, which may be longer than the terminal is high. */
function turned(state: ScreenState, pages: number): ScreenState {
  const isShown = state.overlay === "summary" || (state.page === "summary" && state.overlay === null);
  return isShown ? { ...state, summaryPage: state.summaryPage + pages } : state;
}

/** The same key again takes it away. */
function overlaid(state: ScreenState, overlay: NonNullable<ScreenState["overlay"]>): ScreenState {
  return { ...state, overlay: state.overlay === overlay ? null : overlay };
}

function leave(state: ScreenState): Pressed {
  if (state.page === "leaving") return taken(state, { do: "leave_at_once" });
  return taken({ ...state, page: "leaving", overlay: null }, { do: "leave" });
}

function unchanged(state: ScreenState, line: Line, deed: Deed = { do: "nothing" }): Pressed {
  return { state, line, deed };
}
