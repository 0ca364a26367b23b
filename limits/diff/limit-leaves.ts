import { parseLimit } from "../characteristic-checks.ts";
import { keyOf, listOf, textOf } from "../faulty-file.ts";
import type { WrittenLimits } from "../limit-file.ts";
import { statedReference } from "../limit-file-checks.ts";
import { DIMENSION_OF, isMeasurand } from "../measurand.ts";
import { type Dimension, HOUSE_REFERENCE, type ReferenceConditions } from "../quantity.ts";
import { entryWords, wordsOf } from "./place-words.ts";

/** One value of a limit file. */
export interface Leaf {
  /** Unique in its file, list entries by their names: "steps[leak].settle". */
  readonly place: string;
  /** The same without names: "steps[].settle". */
  readonly generic: string;
  /** As a colleague would call it: "settling time of step leak". */
  readonly words: string;
  /** SI where it is a quantity. */
  readonly value: string | number | boolean;
  /** As it was written. */
  readonly text: string;
  /** Null for what is no quantity. */
  readonly dimension: Dimension | null;
}

/** A named entry of a list, and all that is in it. */
export interface Entry {
  readonly place: string;
  readonly list: string;
  readonly name: string;
  /** "characteristic leak rate", "point closed of step airflow" */
  readonly words: string;
  readonly leaves: readonly Leaf[];
}

export interface Leaves {
  readonly leaves: readonly Leaf[];
  readonly entries: readonly Entry[];
  /** By place of the list: names in the file's order. */
  readonly orders: ReadonlyMap<string, readonly string[]>;
}

/** What a key means that is left out. */
const LEFT_OUT: readonly (readonly [place: string, value: string | number, text: string])[] = [
  ["reference.temperature", HOUSE_REFERENCE.temperature_K, "20 degC"],
  ["reference.pressure", HOUSE_REFERENCE.pressure_Pa, "101.325 kPa"],
  ["retest.pause", 0, "0 s"],
  ["serial.check", "none", "none"],
];

/** Takes a limit file apart; suspects, whose names repeat, aside. */
export function leavesOf(file: WrittenLimits): Leaves {
  const found = new Collector(statedReference(file.checked));
  for (const [key, value] of Object.entries(file.checked)) {
    if (key === "suspects") continue;
    found.walk(value, keyOf(file.content, key), { place: key, generic: key, of: "" });
  }
  for (const [place, value, text] of LEFT_OUT) found.ifMissing(place, value, text);
  return found;
}

interface Where {
  readonly place: string;
  readonly generic: string;
  /** " of step leak" */
  readonly of: string;
}

class Collector implements Leaves {
  readonly leaves: Leaf[] = [];
  readonly entries: Entry[] = [];
  readonly orders = new Map<string, readonly string[]>();
  readonly #reference: ReferenceConditions | undefined;

  constructor(reference: ReferenceConditions | undefined) {
    this.#reference = reference;
  }

  walk(value: unknown, written: unknown, at: Where, parent?: unknown): void {
    if (Array.isArray(value)) {
      this.#list(value, listItems(written), at);
    } else if (typeof value === "object" && value !== null && !(value instanceof RegExp)) {
      // What may be "off" is said to be on before its keys are told.
      if (at.generic.endsWith("early_verdict") || at.generic.endsWith("correction")) {
        this.#leaf("on", "on", at, null);
      }
      for (const [key, inner] of Object.entries(value)) {
        if (inner === undefined) continue;
        this.walk(inner, keyOf(written, key), below(at, key), value);
      }
    } else {
      this.#scalar(value, written, at, parent);
    }
  }

  ifMissing(place: string, value: string | number, text: string): void {
    if (this.leaves.some((leaf) => leaf.place === place)) return;
    this.#leaf(value, text, { place, generic: place, of: "" }, wordsOf(place).dimension ?? null);
  }

  #scalar(value: unknown, written: unknown, at: Where, parent: unknown): void {
    const text = typeof written === "string" ? written : String(written);
    const limit = this.#limit(at, text, parent);
    if (limit) {
      this.#leaf(limit.value_SI, text, at, limit.dimension);
      return;
    }
    const dimension = typeof written === "string" ? (wordsOf(at.generic).dimension ?? null) : null;
    const isPlain = typeof value === "string" || typeof value === "number" || typeof value === "boolean";
    this.#leaf(isPlain ? value : text, text, at, dimension);
  }

  #limit(at: Where, text: string, parent: unknown): { value_SI: number; dimension: Dimension } | null {
    if (at.generic !== "characteristics[].lower" && at.generic !== "characteristics[].upper") return null;
    const measure = keyOf(parent, "measure");
    if (!isMeasurand(measure)) return null;
    const read = parseLimit(text, measure, this.#reference);
    return read.ok ? { value_SI: read.value.value_SI, dimension: DIMENSION_OF[measure] } : null;
  }

  #list(items: readonly unknown[], written: readonly unknown[], at: Where): void {
    const names: string[] = [];
    items.forEach((item, i) => {
      const isText = typeof item === "string";
      const base = isText ? item : (textOf(item, "name") ?? String(i + 1));
      // Reasons may be said twice.
      const earlier = names.filter((name) => name === base || name.startsWith(`${base} (again`)).length;
      const name = earlier === 0 ? base : `${base} (again ${earlier})`;
      names.push(name);
      const place = `${at.place}[${name}]`;
      const { one } = entryWords(at.generic);
      const words = isText ? `${one} ${JSON.stringify(name)}` : `${one} ${name}${at.of}`;
      const before = this.leaves.length;
      const inEntry = { place, generic: `${at.generic}[]`, of: ` of ${ofWords(at.generic, name)}${at.of}` };
      if (!isText) this.walk(item, written[i], inEntry);
      this.entries.push({ place, list: at.place, name, words, leaves: this.leaves.slice(before) });
    });
    this.orders.set(at.place, names);
  }

  #leaf(value: Leaf["value"], text: string, { place, generic, of }: Where, dimension: Dimension | null) {
    this.leaves.push({ place, generic, words: `${wordsOf(generic).words}${of}`, value, text, dimension });
  }
}

/** A characteristic's limits are "of the leak rate"; all else says what it is of: "of step leak". */
function ofWords(list: string, name: string): string {
  return list === "characteristics" ? `the ${name}` : `${entryWords(list).one} ${name}`;
}

function below({ place, generic, of }: Where, key: string): Where {
  return { place: `${place}.${key}`, generic: `${generic}.${key}`, of };
}

function listItems(written: unknown): readonly unknown[] {
  return listOf({ it: written }, "it");
}
