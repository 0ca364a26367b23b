const NATURAL = new Intl.Collator("en", { numeric: true });

/** Distinct names as people sort them: part 2 before part 10. */
export function inNaturalOrder(names: readonly string[]): string[] {
  // Names that the collator takes for equal ("1", "01") still need an order of their own.
  return [...new Set(names)].sort((a, b) => NATURAL.compare(a, b) || (a < b ? -1 : 1));
}
