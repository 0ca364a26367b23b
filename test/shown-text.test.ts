import fc from "fast-check";
import { expect, test } from "vitest";
import { escaped } from "../limits/escaped-text.ts";
import { partName, quoted } from "../station/shown-text.ts";

test("a scanned text in a sentence is quoted, short, and escaped so that no terminal obeys it", () => {
  expect(quoted("TUB000123")).toBe('"TUB000123"');
  expect(quoted('a"b')).toBe('"a\\"b"');
  expect(quoted("\x1b[2J\u202eXYZ\x7f")).toBe('"\\u001b[2J\\u202eXYZ\\u007f"');
  expect(quoted("x".repeat(41))).toBe(`"${"x".repeat(40)}..."`);
  expect(quoted("\u{e0041}")).toBe('"\\u{e0041}"');
  expect(escaped("Zürich 20 °C 😀")).toBe("Zürich 20 °C 😀");
  expect(partName("motor_serial")).toBe("motor serial");
});

test("nothing that a terminal might obey is left of any text", () => {
  fc.assert(
    fc.property(fc.string({ unit: "binary", maxLength: 300 }), (text) => {
      for (const shown of [escaped(text), quoted(text), partName(text)]) {
        expect(shown).not.toMatch(/[\p{Cc}\p{Cf}\p{Cs}\p{Zl}\p{Zp}]/u);
      }
      expect([...quoted(text)].length).toBeLessThan(10 * 40 + 10);
    }),
  );
});
