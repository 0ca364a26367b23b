import type { ModelLimits } from "../limits/model.ts";
import type { Reason } from "./cycle/reason.ts";
import { partName, quoted } from "./shown-text.ts";

/** Why a scanned line was not taken, and what to do. None shows what may be a badge: see `hidden`. */

export const EMPTY: Reason = {
  code: "UNKNOWN_SCAN",
  sentence: "The scan is empty. Scan the label again.",
};

/** Instead of any other reason where the line holds something that looks like a badge. */
export const hidden: Reason = {
  code: "UNKNOWN_SCAN",
  sentence:
    "The scan is no label of this station, and looks like a badge in part, so it is not shown. Scan one label at a time, and a badge alone.",
};

/** @param swapped whether it would be known with capitals and small letters exchanged */
export function unknownLabel(text: string, models: readonly ModelLimits[], swapped: boolean): Reason {
  const examples = models.map(({ serialExample, model }) => `${serialExample} (${model})`).join(" or ");
  const looks = examples === "" ? "" : `; a serial looks like ${examples}`;
  const hint = swapped
    ? "Capitals and small letters are exchanged: switch Caps Lock off, then scan it again."
    : `Scan the label again${looks}.`;
  return { code: "UNKNOWN_SCAN", sentence: `${quoted(text)} is no label this station knows. ${hint}` };
}

export function ofAnotherModel(text: string, name: string, of: string, armed: string): Reason {
  const sentence = `${quoted(text)} is a ${partName(name)} of ${of}, and the unit on the fixture is a ${armed}. Look whether the right part is in it, and scan that one.`;
  return { code: "BAD_PART", sentence };
}

export function serialOfTwo(text: string, models: readonly ModelLimits[]): Reason {
  const names = models.map(({ model }) => model).join(" and ");
  const sentence = `${quoted(text)} fits the serials of ${names}. Have the engineer make their patterns exclude each other.`;
  return { code: "AMBIGUOUS_SERIAL", sentence };
}

export function partOfTwo(text: string, names: readonly string[]): Reason {
  const all = names.map(partName).join(" or ");
  const sentence = `${quoted(text)} may be the ${all}. Type which it is, like ${names[0]}=${quoted(text).slice(1, -1)}.`;
  return { code: "AMBIGUOUS_SCAN", sentence };
}

export function serialOrPart(text: string, model: string, name: string): Reason {
  const sentence = `${quoted(text)} may be a serial of ${model} or a ${partName(name)}. Have the engineer make their patterns exclude each other.`;
  return { code: "AMBIGUOUS_SCAN", sentence };
}

export function twoLabels(one: string, other: string): Reason {
  const sentence = `Two labels came in one scan, ${quoted(one)} and ${quoted(other)}. Scan one label at a time; if this comes back, have the scanner set to send Enter after each label.`;
  return { code: "AMBIGUOUS_SCAN", sentence };
}

export function wordAfter(serial: string, word: string): Reason {
  const sentence = `After the serial ${quoted(serial)} comes ${quoted(word)}, which is no label this station knows. Scan the serial's label alone, or type the parts as name=value.`;
  return { code: "UNKNOWN_SCAN", sentence };
}

/** A part's label, or something unknown, where the serial belongs. */
export function serialFirst(word: string): Reason {
  const sentence = `${quoted(word)} is no serial. Scan the serial first, or type parts as name=value behind it.`;
  return { code: "UNKNOWN_SCAN", sentence };
}

export function noSuchPart(name: string, models: readonly ModelLimits[]): Reason {
  const known = [...new Set(models.flatMap(({ parts }) => parts.map((part) => part.name)))].join(", ");
  const sentence = `There is no tracked part ${quoted(name)}. Known are: ${known || "none"}.`;
  return { code: "BAD_PART", sentence };
}

export function notSuchPart(name: string, value: string): Reason {
  const sentence = `${quoted(value)} is no valid ${partName(name)}. Scan the part's label again.`;
  return { code: "BAD_PART", sentence };
}

export function reasonAlone(isArmed: boolean): Reason {
  const sentence = isArmed
    ? "The reason of a retest is chosen by its number alone. Type that number, then Enter."
    : "The reason of a retest belongs behind the serial of the unit, in one line. Scan the serial first.";
  return { code: "RETEST_REASON_MISSING", sentence };
}

export function pieceHasNothing(serial: string): Reason {
  const sentence = `${quoted(serial)} is a reference piece: it has neither parts nor a retest. Scan its label alone.`;
  return { code: "BAD_PART", sentence };
}
