import { partName, quoted } from "../shown-text.ts";
import { retestChoices } from "./armed-attempt.ts";
import type { PreparedAttempt } from "./attempt.ts";
import { refuseChecks } from "./check-refusal.ts";
import type { Reason } from "./reason.ts";
import { refuseParts } from "./refusals.ts";
import type { UnitOutput } from "./unit-context.ts";
import { instrumentFault } from "./unit-reasons.ts";

type Parts = Readonly<Record<string, string>>;

export const BUSY: Reason = {
  code: "BUSY",
  sentence: "A unit is being tested. Wait for its verdict, then scan again.",
};
export const BUSY_NO_CHANGE: Reason = {
  code: "BUSY",
  sentence: "A unit is being tested. Wait for its verdict, then sign in or out.",
};
export const A_MOMENT: Reason = {
  code: "BUSY",
  sentence: "The station is still at work on what came before. Wait a moment, then do it again.",
};
export const CALLED_OFF: Reason = {
  code: "ABORTED",
  sentence: "The start was called off. Scan the unit again to test it.",
};
export const GUARD_OPENED_BEFORE: Reason = {
  code: "GUARD_OPEN",
  sentence: "The guard was opened before the start. Close it, then start.",
};
export const NOT_SIGNED_IN: Reason = {
  code: "NOT_SIGNED_IN",
  sentence: "Nobody is signed in. Sign in first: with F4 at the screen, or by scanning a badge.",
};
export const NO_UNIT: Reason = {
  code: "NO_UNIT",
  sentence: "No unit is ready for that. Scan the unit's serial first.",
};
const NEEDS_ENGINEER: Reason = {
  code: "NOT_ALLOWED",
  sentence:
    "Only an engineer or a supervisor may acknowledge this stop. Call one: they sign in here, look at the fixture, the gauges and the units put aside, and then acknowledge.",
};

/** @returns what keeps this armed attempt from being started: parts that have not been scanned, a reason not chosen */
export function refuseIncomplete({
  serial,
  missingParts,
  retestReasons,
  retestReason,
}: PreparedAttempt): Reason[] {
  const reasons: Reason[] = missingParts.map((part) => ({
    code: "PART_MISSING",
    sentence: `The ${part.replaceAll("_", " ")} of this unit is missing. Scan its label, then start.`,
  }));
  if (retestReason === null && retestReasons.length > 0) {
    const choices = retestReasons.map((reason, i) => `${i + 1} ${reason}`).join(", ");
    reasons.push({
      code: "RETEST_REASON_MISSING",
      sentence: `${serial} has failed before. Choose by its number why it is tested again (${choices}), then start.`,
    });
  }
  return reasons;
}

/** @returns what is wrong with parts scanned for the armed unit */
export function refuseNewParts(
  { serial, limits, reference, parts: known }: PreparedAttempt,
  parts: Parts,
): Reason[] {
  if (reference) {
    return [
      {
        code: "BAD_PART",
        sentence: `${serial} is a reference piece: no part of it is tracked. Press start.`,
      },
    ];
  }
  return [
    ...refuseParts(parts, limits),
    ...refuseChecks({ serial, parts }, limits),
    ...refuseSecondLabels(serial, known, parts),
  ];
}

/** One of the two is not this unit's, and nobody but who looks can tell which. */
function refuseSecondLabels(serial: string, known: Parts, scanned: Parts): Reason[] {
  return Object.entries(scanned).flatMap(([name, value]): Reason[] => {
    const before = known[name];
    if (before === undefined || before === value) return [];
    const sentence = `${quoted(value)} was not taken: ${quoted(before)} is the ${partName(name)} of ${serial} already. If that is wrong, press Esc, then scan ${serial} and all its labels again.`;
    return [{ code: "BAD_PART", sentence }];
  });
}

/**
 * @param index as it was chosen, from 0
 * @returns that there is no such choice, and which there are
 */
export function noSuchReason(attempt: PreparedAttempt, index: number): Reason {
  const count = retestChoices(attempt).length;
  return {
    code: "RETEST_REASON_MISSING",
    sentence:
      count === 0
        ? "No reason is asked for now. Press start, or scan another unit."
        : `${index + 1} is no reason. Type a number from 1 to ${count}, then press Enter.`,
  };
}

/** @returns why this person may not acknowledge these faults; empty: they may */
export function refuseAcknowledge(
  faults: readonly Reason[],
  { role, isSignedIn, signsPeopleIn }: { role: string | null; isSignedIn: boolean; signsPeopleIn: boolean },
): readonly Reason[] {
  if (!isSignedIn) {
    return [
      {
        code: "NOT_SIGNED_IN",
        sentence: "Nobody is signed in. Sign in first, then acknowledge.",
      },
    ];
  }
  const needsRole = signsPeopleIn && faults.some(({ code }) => code === "SAME_FAIL_IN_A_ROW");
  return needsRole && role !== "engineer" && role !== "supervisor" ? [NEEDS_ENGINEER] : [];
}

export function refusedBecause(fault: Reason): Reason {
  return { code: "STATION_FAULTED", sentence: `The station is stopped: ${fault.sentence}` };
}

export function notRecorded({ error }: UnitOutput & { kind: "not_recorded" }): Reason {
  const sentence = `No traveller could be written, so this unit has no verdict. ${stationFault(error).sentence}`;
  return { code: "RECORD_NOT_WRITTEN", sentence };
}

/** Anything thrown on the way, as a reason the station stops for. */
export function stationFault(error: unknown): Reason {
  return isReason(error) ? error : instrumentFault(error);
}

function isReason(error: unknown): error is Reason {
  return (
    typeof error === "object" &&
    error !== null &&
    "code" in error &&
    "sentence" in error &&
    !(error instanceof Error)
  );
}
