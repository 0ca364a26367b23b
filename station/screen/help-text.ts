import type { StationFacts } from "./screen-state.ts";

/** What something on the screen means: a key, a word. Together short enough for half of the smallest terminal. */
export type Meaning = readonly [what: string, means: string];

/** @returns every key there is; which of them work now stands in the last rows of the screen */
export function keyMeanings({ signIn, handsAreSimulated }: StationFacts): readonly Meaning[] {
  return [
    ["scan", "or type, Enter: unit, part, badge"],
    ["Enter", "take the line; if empty, start"],
    ["Esc", "abort the test; clear line; close"],
    ["Tab", "acknowledge a stop"],
    ["1 to 9", "then Enter: reason of retest"],
    ["F1 or ?", "this help"],
    ["F2 or s", "summary of the shift"],
    ["F3 or g", "last lines of the gauges"],
    ...(signIn === "off" ? [] : [["F4 or o", "sign out or sign in"] as const]),
    ["Left Right", "Home, End, Del: edit line"],
    ["Up Down", "turn the summary's page"],
    ...(handsAreSimulated ? [["sim guard open", "and more: hands"] as const] : []),
    ["q", "then Enter: leave, as Ctrl-C"],
  ];
}

/** What the large words and the marks mean, and the states of the station. */
export const WORD_MEANINGS: readonly Meaning[] = [
  ["PASS √", "within all limits, and recorded"],
  ["FAIL ×", "not surely within its limits"],
  ["VOID ?", "no valid measurement"],
  ["STOP !", "nothing starts until Tab"],
  ["NOT STARTED", "refused, nothing moved"],
  ["HELD", "on hold or in doubt: keep it"],
  ["DRAFT", "limits not approved: no count"],
  ["STUDY", "measured for a study: no count"],
  ["DUE", "the reference check comes first"],
  ["ready", "put a unit on and scan it"],
  ["armed", "Enter or the button starts it"],
  ["starting", "keep clear; Esc calls it off"],
  ["testing", "keep clear; Esc aborts"],
  ["recording", "wait for the verdict"],
  ["connecting", "instruments: outputs safe"],
];
