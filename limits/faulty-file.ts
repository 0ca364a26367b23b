import type { z } from "zod";

/** A contradiction between keys: where, what was found there, what would be right. */
export interface Contradiction {
  readonly path: readonly (string | number)[];
  readonly expected: string;
  readonly found?: string;
  readonly hint?: string;
  /** It is the key that is wrong, not its value. */
  readonly isAboutKey?: boolean;
}

/**
 * Adds to a schema what the keys of a file say against one another. It is looked for even in a file with other
 * faults, because its author wants all of them at once; so `find` is given values that may be of any kind. Whole
 * numbers below it have to be `wholeNumber`: zod's own give up the whole file where one has a fraction.
 */
export function withContradictions<T extends z.ZodType>(
  schema: T,
  find: (file: unknown) => readonly Contradiction[],
): T {
  return schema.superRefine(
    (file, context) => {
      for (const { path, expected, ...params } of find(file)) {
        context.addIssue({ code: "custom", path: [...path], message: expected, params });
      }
    },
    { when: () => true },
  );
}

/** @returns what a mapping has under the key; undefined where there is none, and for what is no mapping */
export function keyOf(from: unknown, key: string): unknown {
  if (typeof from !== "object" || from === null || !Object.hasOwn(from, key)) return undefined;
  return (from as Readonly<Record<string, unknown>>)[key];
}

export function numberOf(from: unknown, key: string): number | undefined {
  const value = keyOf(from, key);
  return typeof value === "number" ? value : undefined;
}

export function textOf(from: unknown, key: string): string | undefined {
  const value = keyOf(from, key);
  return typeof value === "string" ? value : undefined;
}

/** @returns the entries of a list; none for what is no list */
export function listOf(from: unknown, key: string): readonly unknown[] {
  const value = keyOf(from, key);
  return Array.isArray(value) ? value : [];
}

/** @returns names and values of a mapping; none for what is no mapping */
export function entriesOf(from: unknown, key: string): [name: string, value: unknown][] {
  const value = keyOf(from, key);
  return typeof value === "object" && value !== null && !Array.isArray(value) ? Object.entries(value) : [];
}
