import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { CHECK_SCHEMES, checkCharacters } from "../../limits/check-characters.ts";
import type { CheckScheme } from "../../limits/model.ts";

const DIGITS = "0123456789";
const CAPITALS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ";
const SCHEMES = ["gs1", "mod-97-10", "mod-37-36"] as const;

function right(scheme: CheckScheme, body: string): string {
  return body + CHECK_SCHEMES[scheme].checkOf(body);
}

function bodyOf(scheme: CheckScheme) {
  const characters = scheme === "gs1" ? DIGITS : DIGITS + CAPITALS;
  return fc.string({ unit: fc.constantFrom(...characters), minLength: 1, maxLength: 30 });
}

function replaced(text: string, at: number, character: string): string {
  return text.slice(0, at) + character + text.slice(at + 1);
}

/** The text with each two different neighbours exchanged, and which two. */
function exchanged(text: string): { pair: string; text: string }[] {
  return [...text.slice(1)].flatMap((second, i) => {
    const first = text[i] ?? "";
    if (first === second) return [];
    return [{ pair: first + second, text: text.slice(0, i) + second + first + text.slice(i + 2) }];
  });
}

const isLetter = (character: string) => CAPITALS.includes(character);
const isTaken = (scheme: CheckScheme, text: string) => checkCharacters(scheme, text).ok;

describe("check characters", () => {
  it.each(SCHEMES)("of %s are those of what stands before them, and no others", (scheme) => {
    fc.assert(
      fc.property(bodyOf(scheme), (body) => {
        const { count, checkOf } = CHECK_SCHEMES[scheme];
        expect(isTaken(scheme, right(scheme, body))).toBe(true);
        const wrong = "0".repeat(count) === checkOf(body) ? "1".repeat(count) : "0".repeat(count);
        expect(checkCharacters(scheme, body + wrong)).toEqual({
          ok: false,
          fault: "check",
          found: wrong,
          expected: checkOf(body),
        });
      }),
    );
  });

  it.each(SCHEMES)("of %s find every character replaced by another of its kind", (scheme) => {
    fc.assert(
      fc.property(bodyOf(scheme), (body) => {
        const text = right(scheme, body);
        for (const [at, character] of [...text].entries()) {
          const others = isLetter(character) ? CAPITALS : DIGITS;
          for (const other of others) {
            if (other !== character) expect(isTaken(scheme, replaced(text, at, other))).toBe(false);
          }
        }
      }),
    );
  });

  it("of MOD 37,36 find every digit replaced by a letter and every letter by a digit too", () => {
    fc.assert(
      fc.property(bodyOf("mod-37-36"), (body) => {
        const text = right("mod-37-36", body);
        for (const [at, character] of [...text].entries()) {
          for (const other of isLetter(character) ? DIGITS : CAPITALS) {
            expect(isTaken("mod-37-36", replaced(text, at, other))).toBe(false);
          }
        }
      }),
    );
  });

  it("of MOD 97-10 miss about one letter in 97 that stands for a digit: a letter counts as two digits", () => {
    let [missed, tried] = [0, 0];
    for (const one of CAPITALS) {
      for (const other of CAPITALS) {
        const text = right("mod-97-10", `${one}${other}7318`);
        for (const letter of CAPITALS) {
          tried++;
          if (isTaken("mod-97-10", replaced(text, 2, letter))) missed++;
        }
      }
    }
    expect(missed / tried).toBeGreaterThan(0.5 / 97);
    expect(missed / tried).toBeLessThan(2 / 97);
  });

  it("of GS1 find two neighbours exchanged, and miss exactly those that differ by 5", () => {
    fc.assert(
      fc.property(bodyOf("gs1"), (body) => {
        for (const { pair, text } of exchanged(right("gs1", body))) {
          const differBy5 = Math.abs(Number(pair[0]) - Number(pair[1])) === 5;
          expect(isTaken("gs1", text)).toBe(differBy5);
        }
      }),
    );
  });

  it("of MOD 97-10 find two neighbours exchanged, and miss exactly 1B, 2M and 3X, either way round", () => {
    const missed = ["1B", "B1", "2M", "M2", "3X", "X3"];
    fc.assert(
      fc.property(bodyOf("mod-97-10"), (body) => {
        for (const { pair, text } of exchanged(right("mod-97-10", body))) {
          const endsInDigits = /[0-9]{2}$/.test(text);
          expect(isTaken("mod-97-10", text)).toBe(endsInDigits && missed.includes(pair));
        }
      }),
    );
    for (const pair of missed) {
      const [one = "", other = ""] = pair;
      expect(right("mod-97-10", `AB${one}${other}7`).slice(-2)).toBe(
        right("mod-97-10", `AB${other}${one}7`).slice(-2),
      );
    }
  });

  it("of MOD 37,36 find two neighbours exchanged, and miss none but some that follow each other in the alphabet", () => {
    let [missed, follow] = [0, 0];
    fc.assert(
      fc.property(bodyOf("mod-37-36"), (body) => {
        for (const { pair, text } of exchanged(right("mod-37-36", body))) {
          const [one, other] = [...pair].map((it) => (DIGITS + CAPITALS).indexOf(it));
          const apart = Math.abs((one ?? 0) - (other ?? 0));
          if (apart === 1 || apart === 35) {
            follow++;
            if (isTaken("mod-37-36", text)) missed++;
          } else expect(isTaken("mod-37-36", text)).toBe(false);
        }
      }),
      { numRuns: 2000 },
    );
    expect(missed / follow).toBeGreaterThan(0.3 / 36);
    expect(missed / follow).toBeLessThan(3 / 36);
  });

  it.each([
    ["gs1", "POD5318174", "P", "digits only"],
    ["gs1", "5318-174", "-", "digits only"],
    ["gs1", "٣318174", "٣", "digits only"],
    ["mod-97-10", "tub53", "t", "digits and capital letters A to Z"],
    ["mod-37-36", "TUB 53", " ", "digits and capital letters A to Z"],
    ["mod-37-36", "TÜB53", "Ü", "digits and capital letters A to Z"],
    ["mod-37-36", "T\u{1f600}B", "\u{1f600}", "digits and capital letters A to Z"],
  ] as const)("of %s can't be in %j, because of %j", (scheme, text, found, expected) => {
    expect(checkCharacters(scheme, text)).toEqual({ ok: false, fault: "alphabet", found, expected });
  });

  it.each(SCHEMES)("of %s prove nothing where nothing stands before them", (scheme) => {
    for (const text of ["", "1", "97"].filter(({ length }) => length <= CHECK_SCHEMES[scheme].count)) {
      expect(checkCharacters(scheme, text)).toMatchObject({ ok: false, fault: "length" });
    }
  });

  it("of MOD 97-10 are never 00, 01 or 99, which leave the same rest as others", () => {
    fc.assert(
      fc.property(bodyOf("mod-97-10"), (body) => {
        for (const pair of ["00", "01", "99"]) expect(isTaken("mod-97-10", body + pair)).toBe(false);
      }),
    );
  });
});
