import { expect, test } from "vitest";
import { checkCharacters } from "../../limits/check-characters.ts";
import type { CheckScheme } from "../../limits/model.ts";

test.each<readonly [CheckScheme, string, string, source: string]>([
  ["gs1", "629104150021", "3", "GS1's own example of how to calculate a check digit"],
  ["gs1", "730001100001", "7", "a GS1 member organisation's example"],
  ["gs1", "03600029145", "2", "the common example of a UPC-A, from memory"],
  ["gs1", "400638133393", "1", "the common example of an EAN-13, from memory"],
  ["gs1", "9638507", "4", "the common example of an EAN-8, from memory"],
  ["gs1", "1061414100041", "5", "a GTIN-14, by the definition"],
  ["mod-97-10", "794", "44", "ISO/IEC 7064's example, from memory"],
  ["mod-97-10", "4354111611551114", "31", "confirmed with python3-stdnum"],
  ["mod-97-10", "969500KSV493XWY0PS", "33", "a legal entity identifier (ISO 17442), public"],
  ["mod-97-10", "5493001KJTIIGC8Y1R", "12", "a legal entity identifier (ISO 17442), public"],
  [
    "mod-37-36",
    "A12425GABC1234002",
    "M",
    "the GRid standard's example of ISO/IEC 7064 MOD 37,36, from memory",
  ],
  ["mod-37-36", "EOL0001", "9", "confirmed with python3-stdnum"],
])("%s of %s is %s: %s", (scheme, body, check) => {
  expect(checkCharacters(scheme, body + check)).toEqual({ ok: true });
  const characters = scheme === "mod-97-10" ? allOf(2) : allOf(1);
  const taken = characters.filter((other) => checkCharacters(scheme, body + other).ok);
  expect(taken).toEqual([check]);
});

/** All texts of digits with this many characters, and for one also of letters. */
function allOf(count: 1 | 2): string[] {
  if (count === 2) return Array.from({ length: 100 }, (_, i) => String(i).padStart(2, "0"));
  return Array.from({ length: 36 }, (_, i) => i.toString(36).toUpperCase());
}
