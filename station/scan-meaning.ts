import { RETEST_KEY } from "../limits/label-checks.ts";
import type { ModelLimits, TrackedPart } from "../limits/model.ts";
import { badgeAnywhereIn, swappedCase } from "./badge-text.ts";
import { refuseCheck } from "./cycle/check-refusal.ts";
import type { Reason } from "./cycle/reason.ts";
import type { Scan } from "./cycle/scan.ts";
import {
  EMPTY,
  hidden,
  noSuchPart,
  notSuchPart,
  ofAnotherModel,
  partOfTwo,
  pieceHasNothing,
  reasonAlone,
  serialFirst,
  serialOfTwo,
  serialOrPart,
  twoLabels,
  unknownLabel,
  wordAfter,
} from "./scan-sentences.ts";
import { LONGEST_SCAN, parseParts, parseScan } from "./scanned-lines.ts";

/** What a scanned line is read against. */
export interface ScanPlace {
  /** Models on the line. */
  readonly models: readonly ModelLimits[];
  /** Of the unit that waits for its start; null when none does. */
  readonly armed: ModelLimits | null;
  readonly referenceSerials: readonly string[];
  /** What is a badge, whole; null where nobody signs in by one. */
  readonly badge: RegExp | null;
}

export type ScanMeaning =
  | { readonly kind: "unit"; readonly scan: Scan }
  | { readonly kind: "parts"; readonly parts: Readonly<Record<string, string>> }
  /** The line, without the blanks around it, is the badge. */
  | { readonly kind: "badge" }
  | { readonly kind: "ambiguous" | "unknown"; readonly reason: Reason };

/**
 * What a whole scanned or typed line means here. It has one meaning or none:
 * - a badge, which is never anything else, and whose text no reason shows;
 * - a reference piece or a unit, by its serial: of any model on the line, whatever waits for its start;
 * - the part whose pattern it fits: of the armed unit's model, or of any model while none is armed;
 * - a serial with name=value parts and `retest=N` after it, or such parts alone.
 * A serial or part whose check characters are wrong is refused by name, and so is a line with two labels.
 *
 * @example meaningOf("TUB000123", { models: [tub], armed: null, referenceSerials: [], badge: null })
 * // { kind: "unit", scan: { serial: "TUB000123", parts: {} } }
 * @example meaningOf("T3", { models: [tub], armed: tub, referenceSerials: [], badge: null })
 * // { kind: "parts", parts: { tub_cavity: "T3" } }
 */
export function meaningOf(line: string, place: ScanPlace): ScanMeaning {
  const text = line.trim();
  if (text === "") return unknown(EMPTY);
  if (text.length > LONGEST_SCAN) return concealed(refusedAsMisread(text), text, place);
  const candidates = candidatesOf(text, place);
  if (candidates.length > 0) return oneLabel(text, candidates, place);
  const words = text.split(/\s+/);
  const [first = "", ...rest] = words;
  const meaning =
    words.length === 1 && !first.includes("=") ? unknownWord(first, place) : severalWords(first, rest, place);
  return concealed(meaning, text, place);
}

type Candidate =
  | { readonly kind: "badge" }
  | { readonly kind: "piece" }
  | { readonly kind: "unit"; readonly limits: ModelLimits }
  /** Of this name, in one model or in several. */
  | { readonly kind: "part"; readonly name: string; readonly parts: readonly TrackedPart[] };

/** What a label may be; of a badge and of a reference piece nothing else beside. */
function candidatesOf(text: string, place: ScanPlace): readonly Candidate[] {
  if (place.badge?.test(text)) return [{ kind: "badge" }];
  if (place.referenceSerials.includes(text)) return [{ kind: "piece" }];
  const units = place.models.filter(({ serialPattern }) => serialPattern.test(text));
  return [
    ...units.map((limits) => ({ kind: "unit" as const, limits })),
    ...partsFitting(text, partModels(place)),
  ];
}

function partModels({ armed, models }: ScanPlace): readonly ModelLimits[] {
  return armed ? [armed] : models;
}

function partsFitting(text: string, models: readonly ModelLimits[]) {
  const fitting = models.flatMap(({ parts }) => parts).filter(({ pattern }) => pattern.test(text));
  return [...new Set(fitting.map(({ name }) => name))].map((name) => ({
    kind: "part" as const,
    name,
    parts: fitting.filter((part) => part.name === name),
  }));
}

/** A line that is one known label. */
function oneLabel(text: string, candidates: readonly Candidate[], place: ScanPlace): ScanMeaning {
  const [only, second] = candidates;
  if (!only) return unknownWord(text, place);
  if (second) return { kind: "ambiguous", reason: whyAmbiguous(text, candidates) };
  switch (only.kind) {
    case "badge":
      return { kind: "badge" };
    case "piece":
      return { kind: "unit", scan: { serial: text, parts: {} } };
    case "unit": {
      const [wrong] = refuseCheck(null, text, only.limits.serialCheck);
      return wrong ? unknown(wrong) : { kind: "unit", scan: { serial: text, parts: {} } };
    }
    case "part": {
      const wrong = wrongCheck(only.name, text, only.parts);
      return wrong ? unknown(wrong) : { kind: "parts", parts: { [only.name]: text } };
    }
  }
}

function whyAmbiguous(text: string, candidates: readonly Candidate[]): Reason {
  const units = candidates.flatMap((it) => (it.kind === "unit" ? [it.limits] : []));
  const parts = candidates.flatMap((it) => (it.kind === "part" ? [it.name] : []));
  const [unit] = units;
  const [part] = parts;
  if (!unit) return partOfTwo(text, parts);
  return part === undefined ? serialOfTwo(text, units) : serialOrPart(text, unit.model, part);
}

/** Models may ask for different check characters in a part of one name: while none is armed, one of them has to be content. */
function wrongCheck(name: string, value: string, parts: readonly TrackedPart[]): Reason | null {
  const refusals = parts.map(({ check }) => refuseCheck(name, value, check));
  return refusals.some((refused) => refused.length === 0) ? null : (refusals[0]?.[0] ?? null);
}

function unknownWord(text: string, place: ScanPlace): ScanMeaning {
  const glued = gluedLabels(text, place);
  if (glued) return { kind: "ambiguous", reason: twoLabels(...glued) };
  const { armed, models } = place;
  for (const other of armed ? models : []) {
    const [part] = partsFitting(text, [other]);
    if (armed && part) return unknown(ofAnotherModel(text, part.name, other.model, armed.model));
  }
  return unknown(unknownLabel(text, models, candidatesOf(swappedCase(text), place).length > 0));
}

/** @returns the two labels that a scanner without Enter has sent as one word */
function gluedLabels(text: string, place: ScanPlace): readonly [string, string] | null {
  for (let at = 1; at < text.length; at++) {
    const [one, other] = [text.slice(0, at), text.slice(at)];
    if (candidatesOf(one, place).length > 0 && candidatesOf(other, place).length > 0) return [one, other];
  }
  return null;
}

/** A line of several words, or of one name=value. */
function severalWords(first: string, rest: readonly string[], place: ScanPlace): ScanMeaning {
  const isNamed = (word: string) => word.includes("=");
  const words = [first, ...rest];
  if (words.every(isNamed)) return partsAlone(words, place);
  if (isNamed(first)) return unknown(serialFirst(first));
  const labels = [first, ...rest.filter((word) => !isNamed(word))];
  const known = labels.filter((word) => candidatesOf(word, place).length > 0);
  const [one, other] = known;
  if (one !== undefined && other !== undefined) {
    return { kind: "ambiguous", reason: twoLabels(one, other) };
  }
  if (one !== first) return unknownWord(labels.join(" "), place);
  const strange = rest.find((word) => !isNamed(word));
  if (strange !== undefined) return unknown(wordAfter(first, strange));
  return unitWithParts(words, place);
}

function unitWithParts(words: readonly string[], place: ScanPlace): ScanMeaning {
  const scan = parseScan(words.join(" "));
  if (!scan) return unknown(EMPTY);
  const [misread] = scan.misread ?? [];
  if (misread) return unknown(misread);
  const candidates = candidatesOf(scan.serial, place);
  const label = oneLabel(scan.serial, candidates, place);
  if (label.kind === "badge") return unknown(hidden);
  if (label.kind === "parts") return unknown(serialFirst(scan.serial));
  if (label.kind !== "unit") return label;
  const [only] = candidates;
  if (only?.kind !== "unit") return unknown(pieceHasNothing(scan.serial));
  const [wrong] = wrongParts(scan.parts, [only.limits], place);
  return wrong ? unknown(wrong) : { kind: "unit", scan };
}

function partsAlone(words: readonly string[], place: ScanPlace): ScanMeaning {
  if (words.some((word) => word.startsWith(`${RETEST_KEY}=`))) {
    return unknown(reasonAlone(place.armed !== null));
  }
  const { parts, misread = [] } = parseParts(words);
  const [wrong] = [...misread, ...wrongParts(parts, partModels(place), place)];
  return wrong ? unknown(wrong) : { kind: "parts", parts };
}

/** @returns what is wrong with named parts of a unit that may be of any of these models */
function wrongParts(
  parts: Readonly<Record<string, string>>,
  models: readonly ModelLimits[],
  { badge }: ScanPlace,
): Reason[] {
  return Object.entries(parts).flatMap(([name, value]): Reason[] => {
    const tracked = models.flatMap((model) => model.parts.filter((part) => part.name === name));
    if (badge?.test(value)) return [hidden];
    if (tracked.length === 0) return [noSuchPart(name, models)];
    const fitting = tracked.filter(({ pattern }) => pattern.test(value));
    if (fitting.length === 0) return [notSuchPart(name, value)];
    const wrong = wrongCheck(name, value, fitting);
    return wrong ? [wrong] : [];
  });
}

function refusedAsMisread(text: string): ScanMeaning {
  return unknown(parseScan(text)?.misread?.[0] ?? EMPTY);
}

/** A refusal shows what was scanned: not where that holds a badge, or one scanned with Caps Lock on. */
function concealed(meaning: ScanMeaning, text: string, place: ScanPlace): ScanMeaning {
  if (place.badge === null || !("reason" in meaning)) return meaning;
  // Their texts fit the pattern of a serial or a part.
  if (meaning.reason.code === "CHECK_CHARACTER_WRONG") return meaning;
  const notKnown = wordsNotKnown(text.slice(0, LONGEST_SCAN), place).join(" ");
  return badgeAnywhereIn(notKnown, place.badge) ? unknown(hidden) : meaning;
}

/** The words that are no label of a unit or a part, and may be a badge in part; a label has its characters by chance. */
function wordsNotKnown(text: string, place: ScanPlace): string[] {
  const isLabel = (word: string) => {
    const candidates = candidatesOf(word, place);
    return candidates.length > 0 && candidates.every(({ kind }) => kind !== "badge");
  };
  const isPart = (word: string) => {
    const [name, ...value] = word.split("=");
    const isTracked = place.models.some(({ parts }) => parts.some((part) => part.name === name));
    return isTracked && isLabel(value.join("="));
  };
  return text
    .split(/\s+/)
    .filter((word) => !(isLabel(word) || isLabel(swappedCase(word)) || isPart(word)))
    .filter((word) => !gluedLabels(word, place)?.every(isLabel));
}

function unknown(reason: Reason): ScanMeaning {
  return { kind: "unknown", reason };
}
