import type { LeakStep, ModelLimits } from "../../limits/model.ts";
import { partName, quoted } from "../shown-text.ts";
import type { ModelCalibration } from "./attempt.ts";
import type { Reason } from "./reason.ts";
import type { DuePiece, DueReason, ReferenceRules } from "./reference-due.ts";

/** A model's limit file and whether it may judge production units. */
export interface ModelInForce {
  readonly limits: ModelLimits;
  readonly approvedBy: string | null;
  /** Why it is not approved; null when it is. */
  readonly notApproved: string | null;
  /** Why it can't be used at all since its file was changed, not even as a draft; left out where it can. */
  readonly unusable?: string;
}

export type FoundModel =
  | { readonly kind: "found"; readonly model: ModelInForce }
  | { readonly kind: "refused"; readonly reason: Reason };

/** @returns the one model whose serial pattern the scan matches, or why there is not exactly one */
export function findModel(serial: string, models: readonly ModelInForce[]): FoundModel {
  const matching = models.filter(({ limits }) => limits.serialPattern.test(serial));
  const [only, second] = matching;
  const shown = quoted(serial);
  if (!only) {
    const examples = models.map(({ limits }) => `${limits.serialExample} (${limits.model})`).join(" or ");
    return {
      kind: "refused",
      reason: {
        code: "UNKNOWN_SERIAL",
        sentence: `${shown} is no serial of this station's models. Scan the label again; it must look like ${examples}.`,
      },
    };
  }
  if (second) {
    const names = matching.map(({ limits }) => limits.model).join(" and ");
    return {
      kind: "refused",
      reason: {
        code: "AMBIGUOUS_SERIAL",
        sentence: `${shown} fits the models ${names}. Have the engineer make their serial patterns exclude each other.`,
      },
    };
  }
  return { kind: "found", model: only };
}

/** @returns what is wrong with the parts scanned for this unit; one that is still to be scanned is not */
export function refuseParts(parts: Readonly<Record<string, string>>, limits: ModelLimits): Reason[] {
  const reasons: Reason[] = [];
  for (const [name, value] of Object.entries(parts)) {
    const tracked = limits.parts.find((part) => part.name === name);
    if (!tracked) {
      const known = limits.parts.map((part) => part.name).join(", ");
      reasons.push({
        code: "BAD_PART",
        sentence: `${limits.model} has no tracked part ${quoted(name)}. Known are: ${known || "none"}.`,
      });
    } else if (!tracked.pattern.test(value)) {
      reasons.push({
        code: "BAD_PART",
        sentence: `${quoted(value)} is no valid ${partName(name)}. Scan the part's label again.`,
      });
    }
  }
  return reasons;
}

/** @returns why this limit file may not judge today */
export function refuseLimits(model: ModelInForce, today: string, allowDrafts: boolean): Reason[] {
  const { limits, notApproved, unusable } = model;
  if (unusable !== undefined) return [{ code: "LIMITS_UNUSABLE", sentence: unusable }];
  const reasons: Reason[] = [];
  if (limits.effectiveDate > today) {
    reasons.push({
      code: "NOT_IN_FORCE",
      sentence: `The limits of ${limits.model} (revision ${limits.revision}) take effect on ${limits.effectiveDate}. Use the revision in force.`,
    });
  }
  if (notApproved !== null && !allowDrafts) reasons.push({ code: "NOT_APPROVED", sentence: notApproved });
  return reasons;
}

/** A gauge, orifice or plate with its dates (ISO 8601), as the station file has them. */
export interface Calibrated {
  readonly name: string;
  /** Where the station file says it. */
  readonly calibrated?: string;
  /** Last day on which it may be used. */
  readonly calibrationDue: string;
}

/** @returns one reason for each whose calibration is over, or dated in the future */
export function refuseCalibration(them: readonly Calibrated[], today: string): Reason[] {
  return them.flatMap(({ name, calibrated, calibrationDue }): Reason[] => {
    if (calibrationDue < today) {
      const sentence = `The calibration of ${name} ran out on ${calibrationDue}. Have it calibrated and enter the new date in the station file.`;
      return [{ code: "CALIBRATION_OVERDUE", sentence }];
    }
    if (calibrated !== undefined && calibrated > today) {
      const sentence = `The calibration of ${name} is dated ${calibrated}, which is still to come. Correct the date in the station file, or this computer's clock.`;
      return [{ code: "CALIBRATION_UNUSABLE", sentence }];
    }
    return [];
  });
}

/** A calibrated volume this much off the drawn one is a slip of the study, not a body. */
const MOST_VOLUME_OFF = 0.25;

/** @returns why this model can't be measured with what has been learned of it on this station */
export function refuseUncalibrated(
  limits: ModelLimits,
  calibration: ModelCalibration & {
    readonly problems: readonly { readonly what: string; readonly sentence: string }[];
  },
  fixtureVolume_m3: number,
): Reason[] {
  const unusable = calibration.problems.filter(({ what }) => what === "unusable");
  if (unusable.length > 0)
    return unusable.map(({ sentence }) => ({ code: "CALIBRATION_UNUSABLE", sentence }));
  return [
    ...refuseSettle(limits, calibration.settle),
    ...refuseVolume(limits, calibration.volume, fixtureVolume_m3),
  ];
}

function refuseSettle(limits: ModelLimits, settle: ModelCalibration["settle"]): Reason[] {
  const study = `drumtight study settle --model ${limits.model}`;
  const inNeed = limits.steps.filter(
    (step): step is LeakStep =>
      step.kind === "leak" && (step.method.kind === "fitted" || step.method.subtractsMeanCurve),
  );
  if (inNeed.length > 0 && !settle) {
    const sentence = `Nobody has studied yet how ${limits.model} settles on this station. Have the engineer run ${study} with the tight reference.`;
    return [{ code: "NOT_CALIBRATED", sentence }];
  }
  return inNeed.flatMap(({ name, testPressure_Pa }): Reason[] => {
    const learned_Pa = settle?.calibration.testPressure_Pa ?? Number.NaN;
    if (Math.abs(learned_Pa - testPressure_Pa) <= 1e-6 * Math.abs(testPressure_Pa)) return [];
    const sentence = `How ${limits.model} settles was studied at ${learned_Pa / 1000} kPa, and step ${name} tests at ${testPressure_Pa / 1000} kPa. Have the engineer use a method without calibration in that step, or run ${study}.`;
    return [{ code: "NOT_CALIBRATED", sentence }];
  });
}

function refuseVolume(
  limits: ModelLimits,
  volume: ModelCalibration["volume"],
  fixtureVolume_m3: number,
): Reason[] {
  const drawn_m3 = limits.volume_m3 + fixtureVolume_m3;
  const measured_m3 = volume?.calibration.volume_m3 ?? drawn_m3;
  if (Math.abs(measured_m3 / drawn_m3 - 1) <= MOST_VOLUME_OFF) return [];
  const litres = (m3: number) => `${(m3 * 1000).toPrecision(3)} L`;
  const sentence = `${volume?.file ?? "The volume calibration"} says that ${limits.model} and fixture hold ${litres(measured_m3)}, and by limit file and station file it is ${litres(drawn_m3)}. Have the engineer find which is wrong.`;
  return [{ code: "CALIBRATION_UNUSABLE", sentence }];
}

/** @returns a reason when reference pieces must be tested before this unit, and why they must */
export function refuseReference(due: readonly DuePiece[], rules: ReferenceRules | null): Reason[] {
  const [first] = due;
  if (!first || !rules) return [];
  const isSame = due.every(({ why }) => why === first.why);
  const because = (why: DueReason) => whyDueWords(why, rules);
  const pieces = due.map(
    ({ serial, kind, why }) => `${serial} (${isSame ? kind : `${kind}, ${because(why)}`})`,
  );
  const sentence = `The reference check is due${isSame ? ` (${because(first.why)})` : ""}. Put on and scan ${pieces.join(", then ")}.`;
  return [{ code: "REFERENCE_CHECK_DUE", sentence }];
}

/** @example whyDueWords("units", rules) // "500 units" */
function whyDueWords(why: DueReason, { every_s, everyUnits }: ReferenceRules): string {
  switch (why) {
    case "never":
      return "not tested here yet";
    case "failed":
      return "the last one failed";
    case "void":
      return "the last one is void";
    case "fault":
      return "a fault since";
    case "shift":
      return "a new shift";
    case "units":
      return `${everyUnits} units`;
    case "interval":
      return `${every_s < 3600 ? `${Math.round(every_s / 60)} min` : `${Number((every_s / 3600).toFixed(1))} h`} are over`;
    case "clock":
      return "the last one is dated in the future";
  }
}

export interface StartFacts {
  readonly isGuardClosed: boolean;
  /** Gauge pressure on the unit's side before anything is commanded. */
  readonly pressure_Pa: number;
  readonly ventedWithin_Pa: number;
  readonly freeDisk_bytes: number;
  readonly leastFreeDisk_bytes: number;
}

/** @returns what keeps the test from starting at this very moment */
export function refuseStart(facts: StartFacts): Reason[] {
  const reasons: Reason[] = [];
  if (!facts.isGuardClosed) {
    reasons.push({ code: "GUARD_OPEN", sentence: "The guard is open. Close it, then start." });
  }
  if (!(Math.abs(facts.pressure_Pa) <= facts.ventedWithin_Pa)) {
    reasons.push({
      code: "NOT_AT_AMBIENT",
      sentence: `The leak gauge shows ${Math.round(facts.pressure_Pa)} Pa before the start; it should be within ${Math.round(facts.ventedWithin_Pa)} Pa of zero. Vent the fixture, and have the gauge's zero checked if it stays.`,
    });
  }
  if (facts.freeDisk_bytes < facts.leastFreeDisk_bytes) {
    reasons.push({
      code: "DISK_SPACE_LOW",
      sentence: `Only ${Math.floor(facts.freeDisk_bytes / 1e6)} MB are free where the travellers are written. Free some space, then start.`,
    });
  }
  return reasons;
}
