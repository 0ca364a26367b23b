/** As it comes from a scanner while Caps Lock is on. */
export function swappedCase(text: string): string {
  return [...text]
    .map((letter) => (letter === letter.toLowerCase() ? letter.toUpperCase() : letter.toLowerCase()))
    .join("");
}

/**
 * @param badge anchored, as the station file gives it
 * @returns whether a badge stands anywhere in the text, also one scanned with Caps Lock on
 * @example badgeAnywhereIn("x b531812", /^B[0-9]{6}$/u) // true
 */
export function badgeAnywhereIn(text: string, { source, flags }: RegExp): boolean {
  const anywhere = new RegExp(source.replace(/^\^/, "").replace(/\$$/, ""), flags);
  return anywhere.test(text) || anywhere.test(swappedCase(text));
}
