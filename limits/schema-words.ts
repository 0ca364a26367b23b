import type { z } from "zod";

type RawIssue = z.core.$ZodRawIssue;
type Issue = z.core.$ZodIssue;

/** One form a mapping may take, told from the others by the value of one key. */
export interface Form {
  readonly discriminator: string;
  readonly value: string;
  readonly keys: readonly string[];
}

/**
 * The schema's complaints as the words after "expected". Only while it complains does zod hand over the schema that
 * does, so what is wanted of it later is kept by the words.
 */
export class SchemaWords {
  readonly #keys = new Map<string, readonly string[]>();
  readonly #forms = new Map<string, readonly Form[]>();

  readonly expected = (issue: RawIssue): string => {
    const keys = issue.code === "unrecognized_keys" ? shapeKeys(issue.inst) : [];
    const forms = issue.code === "invalid_union" || issue.code === "invalid_type" ? formsOf(issue.inst) : [];
    if (keys.length > 0) {
      const words = oneOf(keys);
      this.#keys.set(words, keys);
      return words;
    }
    if (forms.length > 0 && issue.code === "invalid_type") return oneOf(forms.map(shownForm));
    if (forms.length > 0) {
      const words = oneOf(forms.map(({ value }) => JSON.stringify(value)));
      this.#forms.set(words, forms);
      return words;
    }
    return plainWords(issue);
  };

  /** @returns the keys allowed where an unknown one was found */
  allowedKeys(issue: Issue): readonly string[] {
    return this.#keys.get(issue.message) ?? [];
  }

  /** @returns the forms of a mapping that has none of them */
  allowedForms(issue: Issue): readonly Form[] {
    return issue.code === "invalid_union" ? (this.#forms.get(issue.message) ?? []) : [];
  }
}

/** More keys than this are not named. */
const MOST_SHOWN_KEYS = 3;

/** @example "{ kind: guarded, conformance: ... }" */
function shownForm({ discriminator, value, keys }: Form): string {
  const others = keys.filter((key) => key !== discriminator);
  const shown = others.length < MOST_SHOWN_KEYS ? others.map((key) => `${key}: ...`) : ["..."];
  return `{ ${[`${discriminator}: ${value}`, ...shown].join(", ")} }`;
}

/** Words that stand for several; the same for every list of the same words. */
function oneOf(words: readonly string[]): string {
  return `one of ${words.join(", ")}`;
}

function plainWords(issue: RawIssue): string {
  switch (issue.code) {
    case "invalid_type":
      return TYPE_WORDS[issue.expected] ?? issue.expected;
    case "invalid_value":
      return issue.values.length === 1
        ? JSON.stringify(issue.values[0])
        : oneOf(issue.values.map((value) => JSON.stringify(value)));
    case "too_small":
      return bound(issue.origin, issue.inclusive === false ? "more than" : "at least", issue.minimum);
    case "too_big":
      return bound(issue.origin, issue.inclusive === false ? "less than" : "at most", issue.maximum);
    case "invalid_union":
      return "one of the allowed forms";
    case "invalid_format":
      return issue.format === "regex" ? "another form" : `a valid ${issue.format}`;
    case "not_multiple_of":
      return `a multiple of ${issue.divisor}`;
    case "invalid_key":
      return issue.issues[0]?.message ?? "another key";
    case "unrecognized_keys":
      return "no such key";
    default:
      return "another value";
  }
}

const TYPE_WORDS: Readonly<Record<string, string>> = {
  string: "text",
  number: "a number",
  int: "a whole number",
  boolean: "true or false",
  object: "a mapping",
  record: "a mapping",
  array: "a list",
  null: "nothing",
};

function bound(origin: string, words: string, limit: unknown): string {
  const things = origin === "string" ? " characters" : origin === "array" ? " entries" : "";
  return `${words} ${String(limit)}${things}`;
}

function shapeKeys(schema: RawIssue["inst"] | z.core.$ZodType): string[] {
  const def: unknown = schema?._zod.def;
  if (typeof def !== "object" || def === null || !("shape" in def)) return [];
  return typeof def.shape === "object" && def.shape !== null ? Object.keys(def.shape) : [];
}

function formsOf(schema: RawIssue["inst"]): Form[] {
  const def: unknown = schema?._zod.def;
  if (typeof def !== "object" || def === null || !("discriminator" in def) || !("options" in def)) return [];
  const discriminator = String(def.discriminator);
  const options = Array.isArray(def.options) ? (def.options as z.core.$ZodType[]) : [];
  return options.flatMap((option) =>
    [...(option._zod.propValues?.[discriminator] ?? [])].map((value) => ({
      discriminator,
      value: String(value),
      keys: shapeKeys(inner(option)),
    })),
  );
}

/** The mapping behind a transformation. */
function inner(schema: z.core.$ZodType): z.core.$ZodType {
  const def: unknown = schema._zod.def;
  if (typeof def !== "object" || def === null || !("in" in def)) return schema;
  return inner(def.in as z.core.$ZodType);
}
