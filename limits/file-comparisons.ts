import { type Contradiction, keyOf, numberOf } from "./faulty-file.ts";

type Path = readonly (string | number)[];

/** @returns a contradiction unless the number under the key is below that under another, signs aside */
export function smaller(from: unknown, path: Path, key: string, than: string): Contradiction[] {
  const value = numberOf(from, key);
  const bound = numberOf(from, than);
  if (value === undefined || !bound || value < Math.abs(bound)) return [];
  return [{ path: [...path, key], expected: `less than ${than}` }];
}

/** @returns a contradiction at every entry whose text under the key an earlier one has too */
export function repeated(
  entries: readonly unknown[],
  key: string,
  path: Path,
  expected: string,
): Contradiction[] {
  const seen = new Set<string>();
  return entries.flatMap((entry, i) => {
    const text = keyOf(entry, key);
    if (typeof text !== "string") return [];
    if (!seen.has(text)) {
      seen.add(text);
      return [];
    }
    return [{ path: [...path, i, key], expected, found: JSON.stringify(text) }];
  });
}

/** Names of a list's entries, those that have one. */
export function namesIn(entries: readonly unknown[]): string[] {
  return entries.map((entry) => keyOf(entry, "name")).filter((name) => typeof name === "string");
}

/** Each name once, in quotes. @example quotedList(["closed", "open", "closed"]) // "\"closed\", \"open\"" */
export function quotedList(names: readonly string[]): string {
  return [...new Set(names)].map((name) => JSON.stringify(name)).join(", ");
}
