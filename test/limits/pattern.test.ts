import fc from "fast-check";
import { expect, test } from "vitest";
import { readPattern } from "../../limits/pattern.ts";

test.each([
  ["^TUB[0-9]{6}$", "TUB000123", "TUB0001234"],
  ["^(?:A|B)\\d{2,4}$", "B123", "C123"],
  ["^[A-Z]{2}-?[0-9]{1,8}$", "AB12", "AB-"],
  ["^X\\*\\+\\.$", "X*+.", "XXX"],
  ["^[*+|^$]{3}$", "*+|", "***x"],
  ["^A\\\\$", "A\\", "A"],
])("%s takes %j and not %j", (text, serial, other) => {
  const read = readPattern(text);
  if (!read.ok) throw new Error(read.expected);
  expect(read.value.test(serial)).toBe(true);
  expect(read.value.test(other)).toBe(false);
});

test.each([
  ["TUB[0-9]{6}", "start it with ^ and end it with $"],
  ["^TUB[0-9]{6}", "start it with ^ and end it with $"],
  ["^TUB\\$", "start it with ^ and end it with $"],
  ["^A|B$", "write ^(A|B)$ instead of ^A|B$"],
  ["^A$|^B$", undefined],
  ["^A*$", "* has no upper end"],
  ["^(a+)+$", undefined],
  ["^A{2,}$", "{2,} has no upper end"],
  ["^(AB){3}$", "{3} repeats a group"],
  ["^A{65}$", "{65}"],
  ["^(A)\\1$", "\\1"],
  ["^(?=A)A$", undefined],
  ["^(?<x>A)$", undefined],
  ["^[0-9$", undefined],
  [`^${"a?".repeat(30)}$`, undefined],
  [`^${"A".repeat(300)}$`, undefined],
  ["", undefined],
])("%j is refused", (text, hint) => {
  const read = readPattern(text);
  if (read.ok) throw new Error("taken");
  if (hint !== undefined) expect(read.hint).toBe(hint);
});

test("whatever pattern is taken, it must match a text from end to end", () => {
  const pieces = fc.array(
    fc.constantFrom("A", "[0-9]", "{2}", "{0,3}", "?", "(", ")", "|", "\\d", "^", "$", "\\$", ".", "*"),
    {
      maxLength: 10,
    },
  );
  fc.assert(
    fc.property(pieces, (words) => {
      const read = readPattern(`^${words.join("")}$`);
      if (!read.ok) return;
      const serial = "A12";
      if (!read.value.test(serial)) return;
      const whole = read.value.exec(serial);
      expect(whole?.[0]).toBe(serial);
    }),
    { numRuns: 3000 },
  );
});
