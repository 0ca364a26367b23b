import { z } from "zod";

const LONGEST = 40;
const WORDS = `a name of up to ${LONGEST} characters, like "A. Marsh"`;

/** A person's name as it is kept: no blanks at its ends, single ones inside, nothing that can't be seen. */
export const personName = z
  .string({ error: () => WORDS })
  .refine((text) => text === tidyName(text) && isName(text), { error: () => WORDS });

/** @returns the name with single blanks inside and none at its ends; null where that is no name */
export function readName(text: string): string | null {
  const tidy = tidyName(text);
  return isName(tidy) ? tidy : null;
}

/**
 * What two ways of typing one person's name have in common: case and blanks don't count.
 * @example nameKey(" a.  MARSH") // "a. marsh", as nameKey("A. Marsh")
 */
export function nameKey(name: string): string {
  return tidyName(name).toLowerCase();
}

function tidyName(text: string): string {
  return text.normalize("NFKC").replace(/\s+/gu, " ").trim();
}

function isName(tidy: string): boolean {
  return tidy !== "" && tidy.length <= LONGEST && !/\p{C}/u.test(tidy);
}
