import { CHECK_SCHEMES, checkCharacters } from "./check-characters.ts";
import { type Contradiction, keyOf, listOf } from "./faulty-file.ts";
import { repeated } from "./file-comparisons.ts";
import type { CheckScheme } from "./model.ts";
import { sharedText } from "./pattern-overlap.ts";

/** A scanned line says with it why a failed unit is tested again (`TUB000123 retest=2`). */
export const RETEST_KEY = "retest";

/** What serial and tracked parts say against one another: a scanned label must mean one thing. */
export function labelContradictions(file: unknown): Contradiction[] {
  return [
    ...exampleContradictions(file),
    ...repeated(listOf(file, "parts"), "name", ["parts"], "a name that another part has not"),
    ...listOf(file, "parts").flatMap((part, i) => partContradictions(file, part, i)),
  ];
}

function exampleContradictions(file: unknown): Contradiction[] {
  const serial = keyOf(file, "serial");
  const [pattern, example, check] = [
    keyOf(serial, "pattern"),
    keyOf(serial, "example"),
    keyOf(serial, "check"),
  ];
  if (typeof example !== "string") return [];
  const path = ["serial", "example"];
  if (pattern instanceof RegExp && !pattern.test(example)) {
    return [{ path, expected: `a serial that fits the pattern ${pattern.source}` }];
  }
  if (!isScheme(check)) return [];
  const checked = checkCharacters(check, example);
  if (checked.ok) return [];
  const { name, characters, count } = CHECK_SCHEMES[check];
  const expected = {
    check: `a serial that ends in its ${name} ${characters}, which ${count === 1 ? "is" : "are"} ${checked.expected}`,
    alphabet: `a serial that can have a ${name} ${characters}: ${checked.expected}`,
    length: `a serial long enough to have a ${name} ${characters}`,
  }[checked.fault];
  return [{ path, expected }];
}

function isScheme(check: unknown): check is CheckScheme {
  return typeof check === "string" && Object.hasOwn(CHECK_SCHEMES, check);
}

function partContradictions(file: unknown, part: unknown, i: number): Contradiction[] {
  return [
    ...(keyOf(part, "name") === RETEST_KEY
      ? [
          {
            path: ["parts", i, "name"],
            expected: "another name: a scanned line gives the reason of a retest with this one",
            found: JSON.stringify(RETEST_KEY),
          },
        ]
      : []),
    ...patternContradictions(file, part, i),
    ...checkContradictions(part, i),
  ];
}

function checkContradictions(part: unknown, i: number): Contradiction[] {
  const [pattern, check] = [keyOf(part, "pattern"), keyOf(part, "check")];
  if (!(pattern instanceof RegExp) || !isScheme(check)) return [];
  const { name, characters, count, alphabet, alphabetWords } = CHECK_SCHEMES[check];
  const checkable = new RegExp(`^[${alphabet}]{${count + 1},200}$`, "u");
  const isTold = sharedText(pattern, pattern) !== null;
  if (!isTold || sharedText(pattern, checkable) !== null) return [];
  const expected = `one that a part number of this pattern can have: texts with a ${name} ${characters} have ${alphabetWords}, and more than ${count}`;
  return [{ path: ["parts", i, "check"], expected }];
}

function patternContradictions(file: unknown, part: unknown, i: number): Contradiction[] {
  const pattern = keyOf(part, "pattern");
  if (!(pattern instanceof RegExp)) return [];
  const path = ["parts", i, "pattern"];
  const serial = keyOf(keyOf(file, "serial"), "pattern");
  const asSerial = serial instanceof RegExp ? sharedText(pattern, serial) : null;
  if (asSerial !== null) {
    return [
      {
        path,
        expected: "part numbers that are no serial of this model",
        found: `a pattern that takes ${asSerial}, as serial.pattern does`,
      },
    ];
  }
  return listOf(file, "parts")
    .slice(0, i)
    .flatMap((other): Contradiction[] => {
      const otherPattern = keyOf(other, "pattern");
      const shared = otherPattern instanceof RegExp ? sharedText(pattern, otherPattern) : null;
      if (shared === null) return [];
      const name = keyOf(other, "name");
      const found = `a pattern that takes ${shared}, as that of ${typeof name === "string" ? name : "another part"} does`;
      return [{ path, expected: "part numbers that no other part has", found }];
    })
    .slice(0, 1);
}
