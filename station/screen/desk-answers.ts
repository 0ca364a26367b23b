import type { Reason } from "../cycle/reason.ts";
import type { SignInAnswer } from "../people/sign-in.ts";
import { quoted } from "../shown-text.ts";
import { SUMMARY_WIDTH } from "./screen-state.ts";

export const PARTS_DROPPED: Reason = {
  code: "PART_MISSING",
  sentence: "The parts scanned before it are dropped: scan them again, with the unit they are in.",
};

export function failedSignIn(error: unknown): SignInAnswer {
  return { ok: false, sentence: `Nobody can sign in: ${messageOf(error)}`, lockedUntil_ms: null };
}

export function messageOf(error: unknown): string {
  return error instanceof Error ? error.message : String(error);
}

/** @returns lines in place of the shift's summary */
export function noSummary(error: unknown): readonly string[] {
  return ["The shift can't be summed up:", ...wrapped(messageOf(error))];
}

function wrapped(text: string): readonly string[] {
  return text.match(new RegExp(`.{1,${SUMMARY_WIDTH}}(?:\\s|$)`, "gu")) ?? [];
}

export function noBody(serial: string): Reason {
  return {
    code: "UNKNOWN_SERIAL",
    sentence: `The simulated line has no unit ${quoted(serial)}. Press Enter on an empty line for the next one.`,
  };
}
