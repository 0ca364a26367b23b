import type { WrittenLimits } from "../limit-file.ts";
import { formatNumber } from "../print-quantity.ts";
import { type Dimension, HOUSE_REFERENCE, splitQuantity, toUnit } from "../quantity.ts";
import { type Entry, type Leaf, type Leaves, leavesOf } from "./limit-leaves.ts";
import { entryWords, wordsOf } from "./place-words.ts";
import { suspectChanges } from "./suspect-diff.ts";

/** One difference between two limit files. */
export interface LimitChange {
  readonly kind: "changed" | "added" | "removed" | "order";
  /** Where, list entries by name: "characteristics[leak rate].upper". */
  readonly place: string;
  /** As a colleague would call it. */
  readonly words: string;
  /** As written in either file; null where there is nothing. */
  readonly from: string | null;
  readonly to: string | null;
  /** SI values, where both are quantities of one kind. */
  readonly from_SI?: number;
  readonly to_SI?: number;
  /** The new quantity in the old one's unit, where it was written in another. */
  readonly to_in_unit_of_from?: string;
  /** Which way it goes: "tighter", "longer"... */
  readonly effect?: string;
  /** By how much, as a part of the old value; left out where that is zero or a point on a scale. */
  readonly by?: number;
}

/** Two texts of one quantity differ by less than this where only their units do. */
const ROUNDING = 1e-12;

/**
 * What another limit file says differently, in the order of a limit file. Quantities are compared as quantities: a change of unit
 * alone, of comments, of the order of keys, or a default written out, is no difference.
 * @example limitDiff(a, b) // [{ kind: "changed", words: "upper limit of the leak rate", from: "60 mL/min", to: "55 mL/min", effect: "tighter", by: 0.0833... }]
 */
export function limitDiff(a: WrittenLimits, b: WrittenLimits): readonly LimitChange[] {
  const [before, after] = [leavesOf(a), leavesOf(b)];
  const removed = entriesNotIn(before, after);
  const added = entriesNotIn(after, before);
  return [
    ...leafChanges(before, after, [...removed, ...added]),
    ...removed.map((entry) => entryChange("removed", entry)),
    ...added.map((entry) => entryChange("added", entry)),
    ...orderChanges(before, after),
    ...suspectChanges(a.checked.suspects ?? [], b.checked.suspects ?? []),
  ];
}

/** A quantity that both files have, written otherwise. */
export interface WrittenOtherwise {
  readonly place: string;
  readonly words: string;
  readonly from: string;
  readonly to: string;
}

/**
 * Quantities that are the same in both files and written in other units or digits, in the order of the second file.
 * @example writtenOtherwise(a, b) // [{ words: "upper limit of the leak rate", from: "60 mL/min", to: "1 cm3/s" }]
 */
export function writtenOtherwise(a: WrittenLimits, b: WrittenLimits): readonly WrittenOtherwise[] {
  const old = new Map(leavesOf(a).leaves.map((leaf) => [leaf.place, leaf]));
  return leavesOf(b).leaves.flatMap((leaf) => {
    const was = old.get(leaf.place);
    if (!was || leaf.dimension === null || was.text === leaf.text || !isSame(was, leaf)) return [];
    return [{ place: leaf.place, words: leaf.words, from: was.text, to: leaf.text }];
  });
}

function leafChanges(before: Leaves, after: Leaves, whole: readonly Entry[]): LimitChange[] {
  const isInWhole = ({ place }: Leaf) => whole.some((entry) => place.startsWith(`${entry.place}.`));
  const old = new Map(before.leaves.map((leaf) => [leaf.place, leaf]));
  const now = new Map(after.leaves.map((leaf) => [leaf.place, leaf]));
  const gone = before.leaves.filter((leaf) => !now.has(leaf.place) && !isInWhole(leaf));
  return [
    ...after.leaves.flatMap((leaf): LimitChange[] => {
      if (isInWhole(leaf)) return [];
      const was = old.get(leaf.place);
      if (!was) return [appearance("added", leaf)];
      return isSame(was, leaf) ? [] : [changeOf(was, leaf)];
    }),
    ...gone.map((leaf) => appearance("removed", leaf)),
  ];
}

function isSame(a: Leaf, b: Leaf): boolean {
  if (a.dimension !== b.dimension || typeof a.value !== typeof b.value) return false;
  if (typeof a.value !== "number" || typeof b.value !== "number") return a.value === b.value;
  if (a.dimension === null) return a.value === b.value;
  return Math.abs(a.value - b.value) <= ROUNDING * Math.max(Math.abs(a.value), Math.abs(b.value));
}

function changeOf(was: Leaf, is: Leaf): LimitChange {
  const { place, words } = is;
  const change = { kind: "changed" as const, place, words, from: was.text, to: is.text };
  const effect = effectOf(was, is);
  const numbers = numbersOf(was, is);
  if (!numbers) return { ...change, ...(effect ? { effect } : {}) };
  const { from_SI, to_SI, dimension } = numbers;
  const other = dimension === null ? undefined : inUnitOf(was.text, is.text, to_SI, dimension);
  return {
    ...change,
    ...(dimension === null ? {} : { from_SI, to_SI }),
    ...(other === undefined ? {} : { to_in_unit_of_from: other }),
    ...(effect ? { effect } : {}),
    ...(from_SI === 0 || dimension === "temperature" || place === "revision"
      ? {}
      : { by: Math.abs(to_SI - from_SI) / Math.abs(from_SI) }),
  };
}

function numbersOf(was: Leaf, is: Leaf) {
  if (was.dimension !== is.dimension || typeof was.value !== "number" || typeof is.value !== "number") {
    return null;
  }
  return { from_SI: was.value, to_SI: is.value, dimension: is.dimension };
}

/** A pressure below ambient grows away from it. */
function effectOf(was: Leaf, is: Leaf): string | undefined {
  if (is.generic === "characteristics[].rule.kind") return is.value === "guarded" ? "tighter" : "looser";
  const numbers = numbersOf(was, is);
  if (!numbers) return undefined;
  const grows = Math.abs(numbers.to_SI) - Math.abs(numbers.from_SI);
  const { more, less, dimension } = wordsOf(is.generic);
  if (grows === 0) return undefined;
  if (grows > 0) return more ?? (dimension === "time" ? "longer" : "more");
  return less ?? (dimension === "time" ? "shorter" : "less");
}

/** @returns the new quantity in the old one's unit; undefined where both were written in the same */
function inUnitOf(from: string, to: string, to_SI: number, dimension: Dimension): string | undefined {
  const [old, now] = [splitQuantity(from), splitQuantity(to)];
  if (!old.ok || !now.ok) return undefined;
  const unit = old.value.unitText;
  // A leak rate's reference may have changed though its text has not.
  const same =
    dimension === "leakRate"
      ? Math.abs(toUnit(to_SI, dimension, unit) / now.value.number - 1) < 1e-9
      : unit === now.value.unitText;
  if (same && unit === now.value.unitText) return undefined;
  const reference = dimension === "leakRate" && !unit.includes("@") ? " @ 20 degC" : "";
  const number = toUnit(to_SI, dimension, unit, { reference: HOUSE_REFERENCE });
  return `${formatNumber(number, { significant: 6 })} ${unit}${reference}`;
}

function appearance(kind: "added" | "removed", leaf: Leaf): LimitChange {
  const { place, words, text, generic } = leaf;
  const isLimit = generic === "characteristics[].lower" || generic === "characteristics[].upper";
  const effect = isLimit ? { effect: kind === "added" ? "tighter" : "looser" } : {};
  return {
    kind,
    place,
    words,
    from: kind === "added" ? null : text,
    to: kind === "added" ? text : null,
    ...effect,
  };
}

/** An entry within an entry that is itself not there goes with it. */
function entriesNotIn(these: Leaves, those: Leaves): Entry[] {
  const there = new Set(those.entries.map(({ place }) => place));
  const gone = these.entries.filter(({ place }) => !there.has(place));
  return gone.filter(({ place }) => !gone.some((outer) => place.startsWith(`${outer.place}.`)));
}

function entryChange(kind: "added" | "removed", entry: Entry): LimitChange {
  const { place, words, leaves, name } = entry;
  const told = leaves
    .filter((leaf) => leaf.place !== `${place}.name`)
    .map((leaf) => `${leaf.place.slice(place.length + 1)} ${leaf.text}`);
  const content = told.length > 0 ? told.join(", ") : name;
  return {
    kind,
    place,
    words,
    from: kind === "removed" ? content : null,
    to: kind === "added" ? content : null,
  };
}

/** Steps run, suspects are told and reasons are numbered in the order of the file. */
function orderChanges(before: Leaves, after: Leaves): LimitChange[] {
  return [...after.orders].flatMap(([list, names]): LimitChange[] => {
    const old = before.orders.get(list) ?? [];
    const from = old.filter((name) => names.includes(name));
    const to = names.filter((name) => old.includes(name));
    if (from.every((name, i) => name === to[i])) return [];
    const generic = list.replace(/\[.*\]/, "[]");
    const words = `order of the ${entryWords(generic).many}`;
    return [{ kind: "order", place: list, words, from: from.join(", "), to: to.join(", ") }];
  });
}
