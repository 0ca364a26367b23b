import fc from "fast-check";
import { expect, test } from "vitest";
import { readPattern } from "../../limits/pattern.ts";
import { sharedText } from "../../limits/pattern-overlap.ts";

test.each([
  ["^G[0-9]{4}$", "^[A-Z][0-9]{4}$"],
  ["^T[1-4]$", "^[TL][1-4]$"],
  ["^(TUB|POD)[0-9]{6}$", "^POD[0-9]{2,6}$"],
  ["^M-?[0-9]{2}$", "^M[0-9-]{3}$"],
  ["^a(b(c|d)?e)?$", "^a$"],
  ["^a(b(c|d)?e)?$", "^abde$"],
  ["^\\u{41}\\x42$", "^[^a-z]{2}$"],
  ["^\\p{Lu}{3}$", "^...$"],
  ["^A{0}B{2,3}?$", "^BBB$"],
])("%s and %s take one text, which is found", (one, other) => {
  const shared = sharedText(new RegExp(one, "u"), new RegExp(other, "u"));
  expect(shared).toMatch(new RegExp(one, "u"));
  expect(shared).toMatch(new RegExp(other, "u"));
});

test.each([
  ["^T[1-4]$", "^L[1-4]$"],
  ["^T[1-4]$", "^T[5-9]$"],
  ["^T[0-9]{3}$", "^T[0-9]{4}$"],
  ["^(a|b)c$", "^(ab|bc)c$"],
  ["^\\.$", "^[A-Z]$"],
])("%s and %s take no text together", (one, other) => {
  expect(sharedText(new RegExp(one, "u"), new RegExp(other, "u"))).toBeNull();
});

/** Patterns over few characters, so that two of them often take the same text. */
const patterns = fc
  .array(
    fc.constantFrom("a", "b", "[ab]", "[^a]", ".", "a?", "b{1,2}", "[ab]{2}", "(a|bb)", "(?:ab|b)?", "\\d"),
    { minLength: 1, maxLength: 4 },
  )
  .map((words) => `^${words.join("")}$`);

/** All texts of "a", "b" and "0" that are this long or shorter. */
function textsUpTo(length: number): string[] {
  return length === 0
    ? [""]
    : ["", ...textsUpTo(length - 1).flatMap((text) => [`a${text}`, `b${text}`, `0${text}`])];
}

test("two patterns take a text together exactly where trying all short texts finds one", () => {
  const texts = [...new Set(textsUpTo(6))];
  fc.assert(
    fc.property(patterns, patterns, (one, other) => {
      const [a, b] = [readPattern(one), readPattern(other)];
      if (!a.ok || !b.ok) return;
      const shared = sharedText(a.value, b.value);
      if (shared !== null) {
        expect(shared).toMatch(a.value);
        expect(shared).toMatch(b.value);
      } else expect(texts.filter((text) => a.value.test(text) && b.value.test(text))).toEqual([]);
    }),
  );
});
