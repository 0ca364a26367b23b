import { readName } from "../people/person-name.ts";
import { whyNotPin } from "../people/pin-rule.ts";
import { type Pressed, taken } from "./deed.ts";
import type { LineReader } from "./line-reader.ts";
import { firstQuestion, type ScreenState } from "./screen-state.ts";

/** A whole line where somebody is asked who they are: a badge, a name, a PIN; and a unit's label is none of these. */
export function enterAtSignIn(
  state: ScreenState,
  text: string,
  reader: LineReader,
  leave: (state: ScreenState) => Pressed,
): Pressed {
  const { signIn, facts } = state;
  if (text === "") return taken(state);
  if (signIn.isBusy) return said(state, "Wait a moment: the last one is still being looked at.");
  const mayBePin = signIn.asks === "pin" && whyNotPin(text) !== "4 to 12 digits";
  if (mayBePin && signIn.name !== null) {
    return taken(busy(state), { do: "try_pin", name: signIn.name, pin: text });
  }
  if (signIn.asks !== "pin" && text === "q") return leave(state);
  if (signIn.asks !== "pin" && text === "?") return taken({ ...state, overlay: "help" });
  const meaning = reader.meaning(text, null);
  switch (meaning.kind) {
    case "badge":
      return taken(busy(state), { do: "try_badge", badge: text });
    case "part_of_badge":
      return said(state, "That holds a badge in part, or something beside it. Scan the badge alone.");
    case "unit":
      return said(state, `${meaning.scan.serial} came before signing in. Sign in, then scan it again.`);
    case "parts":
      return said(state, "A part's label came before signing in. Sign in, then scan it again.");
    default:
      break;
  }
  if (signIn.asks === "pin")
    return said(state, "A PIN has 4 to 12 digits. Type it again, or press Esc for another name.");
  const name = readName(text);
  if (name === null || !/\p{L}/u.test(name))
    return said(state, "That is no name. Type your name, then press Enter.");
  if (facts.signIn === "people") {
    return taken({ ...state, signIn: { ...firstQuestion(facts), asks: "pin", name } });
  }
  return taken({ ...state, signIn: firstQuestion(facts) }, { do: "sign_in", name });
}

function busy(state: ScreenState): ScreenState {
  return { ...state, signIn: { ...state.signIn, said: null, lockedUntil_ms: null, isBusy: true } };
}

function said(state: ScreenState, sentence: string): Pressed {
  return taken({ ...state, signIn: { ...state.signIn, said: sentence, lockedUntil_ms: null } });
}
