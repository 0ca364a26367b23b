import type { Scan } from "../cycle/scan.ts";
import { type Line, NO_LINE } from "./line-editor.ts";
import type { ScreenState } from "./screen-state.ts";

/** What a key asks of the station. */
export type Deed =
  | {
      readonly do:
        | "nothing"
        | "start"
        | "abort"
        | "acknowledge"
        | "put_on_next"
        | "sign_out"
        | "sum_up"
        | "leave"
        | "leave_at_once";
    }
  /** Where a name is believed, or nobody signs in. */
  | { readonly do: "sign_in"; readonly name: string | null }
  | { readonly do: "try_badge"; readonly badge: string }
  | { readonly do: "try_pin"; readonly name: string; readonly pin: string }
  | { readonly do: "scan"; readonly scan: Scan }
  | { readonly do: "add_parts"; readonly parts: Readonly<Record<string, string>> }
  /** From 0. */
  | { readonly do: "choose_reason"; readonly index: number }
  /** To the hands of the simulated operator. */
  | { readonly do: "simulate"; readonly words: string };

/** What a key has done: to the screen, to the line being typed, and what it asks of the station. */
export interface Pressed {
  readonly state: ScreenState;
  readonly line: Line;
  readonly deed: Deed;
}

/** After a whole line: nothing of it is left for the next. */
export function taken(state: ScreenState, deed: Deed = { do: "nothing" }): Pressed {
  return { state, line: NO_LINE, deed };
}

/** A remark in answer to a whole line. */
export function answered(state: ScreenState, remark: string): Pressed {
  return taken({ ...state, remark });
}
