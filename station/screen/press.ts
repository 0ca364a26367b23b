import type { Scan } from "../cycle/station-machine.ts";
import { parseScan } from "../scanned-lines.ts";
import type { Key } from "./keys.ts";
import type { ScreenState } from "./screen-state.ts";

/** What a key asks of the station. */
export type Deed =
  | { readonly do: "nothing" | "start" | "abort" | "acknowledge" | "put_on_next" | "leave" | "leave_at_once" }
  | { readonly do: "sign_in"; readonly inspector: string | null }
  | { readonly do: "scan"; readonly scan: Scan };

export interface Pressed {
  readonly state: ScreenState;
  readonly deed: Deed;
}

/** Longer than any label; what comes after is a jammed scanner. */
const LONGEST_LINE = 400;

/** What one key does to the screen and asks of the station, in every state there is. */
export function press(state: ScreenState, key: Key): Pressed {
  if (key.kind === "interrupt") return leave(state);
  if (state.page === "leaving") return nothing(state);
  if (state.page === "cautions") return key.kind === "enter" ? begin(state) : nothing(state);
  switch (key.kind) {
    case "text":
      return nothing({ ...state, typed: (state.typed + key.text).slice(0, LONGEST_LINE) });
    case "backspace":
      return nothing({ ...state, typed: [...state.typed].slice(0, -1).join("") });
    case "escape":
      return { state: { ...state, typed: "" }, deed: { do: mayAbort(state) ? "abort" : "nothing" } };
    case "tab":
      return { state, deed: { do: state.machine === "faulted" ? "acknowledge" : "nothing" } };
    case "enter":
      return state.page === "sign_in" ? signIn(state) : enter(state);
  }
}

/** @returns whether Esc stops something now */
export function mayAbort({ machine }: ScreenState): boolean {
  return machine === "testing" || machine === "checking";
}

/** @returns whether a scan would be taken up now */
export function isIdle({ machine }: ScreenState): boolean {
  return ["waiting", "ready", "needsReference", "armed"].includes(machine);
}

function enter(state: ScreenState): Pressed {
  const line = state.typed.trim();
  const cleared = { ...state, typed: "" };
  if (line === "q") return leave(cleared);
  const scan = parseScan(line);
  if (scan) {
    // These two last a moment, and the machine would not hear the scan.
    if (state.machine === "identifying" || state.machine === "signedOut") {
      return nothing({ ...cleared, remark: `${scan.serial} came too soon. Scan it again.` });
    }
    return { state: cleared, deed: { do: "scan", scan } };
  }
  if (state.machine === "armed") return { state: cleared, deed: { do: "start" } };
  return { state: cleared, deed: { do: isIdle(state) && state.observed.next ? "put_on_next" : "nothing" } };
}

function begin(state: ScreenState): Pressed {
  if (state.facts.signIn !== "off" && state.who.name === null) return nothing({ ...state, page: "sign_in" });
  return { state: { ...state, page: "work" }, deed: { do: "sign_in", inspector: state.who.name } };
}

function signIn(state: ScreenState): Pressed {
  const inspector = state.typed.trim().replace(/\s+/g, " ");
  if (inspector === "") return nothing({ ...state, typed: "" });
  return {
    state: { ...state, typed: "", page: "work" },
    deed: { do: "sign_in", inspector },
  };
}

function leave(state: ScreenState): Pressed {
  if (state.page === "leaving") return { state, deed: { do: "leave_at_once" } };
  return { state: { ...state, page: "leaving", typed: "" }, deed: { do: "leave" } };
}

function nothing(state: ScreenState): Pressed {
  return { state, deed: { do: "nothing" } };
}
