import { loadLimitFile } from "../../limits/limit-file.ts";
import type { Deed } from "../../station/screen/deed.ts";
import type { Key, NamedKey } from "../../station/screen/keys.ts";
import { type Line, NO_LINE } from "../../station/screen/line-editor.ts";
import { lineReader } from "../../station/screen/line-reader.ts";
import { press } from "../../station/screen/press.ts";
import type { ScreenState } from "../../station/screen/screen-state.ts";
import { tub } from "./example-state.ts";

export const BADGE = "B777123";
export const PIN = "480913";

const pod = loadLimitFile("limits/models/pod-4.yaml");

/** Of a station where people sign in by badge. */
export const reader = lineReader({
  models: [tub, pod],
  referenceSerials: ["REF-TIGHT-POD-4", "REF-LEAK-POD-4"],
  badge: /^B[0-9]{6}$/u,
});

const NAMED: readonly NamedKey[] = [
  "enter",
  "escape",
  "tab",
  "backspace",
  "delete",
  "interrupt",
  "left",
  "right",
  "home",
  "end",
  "erase_line",
  "f1",
  "f2",
  "f3",
  "f4",
];

/** @example keyOf("enter"), keyOf("TUB531812") */
export function keyOf(it: string): Key {
  const kind = NAMED.find((name) => name === it);
  return kind ? { kind } : { kind: "text", text: it };
}

/** Keys by their names, everything else typed. */
export function pressAll(state: ScreenState, ...keys: readonly string[]) {
  let now = state;
  let line: Line = NO_LINE;
  const deeds: Deed[] = [];
  /** Everything that was drawn of the line, frame by frame. */
  const drawn: string[] = [];
  for (const key of keys) {
    const pressed = press(now, line, keyOf(key), reader);
    now = pressed.state;
    line = pressed.line;
    drawn.push(now.typed);
    if (pressed.deed.do !== "nothing") deeds.push(pressed.deed);
  }
  return { state: now, line, deeds, drawn };
}
