import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { type Key, KeyDecoder } from "../../station/screen/keys.ts";

function decodeAll(chunks: readonly string[]): Key[] {
  const decoder = new KeyDecoder();
  return chunks.flatMap((chunk) => decoder.decode(chunk));
}

/** Texts that came in pieces, put together again. */
function joined(keys: readonly Key[]): (string | Key["kind"])[] {
  const all: (string | Key["kind"])[] = [];
  let typed = "";
  for (const key of keys) {
    if (key.kind === "text") typed += key.text;
    else {
      if (typed !== "") all.push(`"${typed}"`);
      typed = "";
      all.push(key.kind);
    }
  }
  return typed === "" ? all : [...all, `"${typed}"`];
}

describe("keys of a terminal", () => {
  it.each([
    ["a scanner's line in one chunk", ["POD000123\r"], ['"POD000123"', "enter"]],
    ["a line ended by CR and LF is one Enter", ["POD000123\r\n"], ['"POD000123"', "enter"]],
    ["also when the LF comes in the next chunk", ["POD000123\r", "\n"], ['"POD000123"', "enter"]],
    ["a line ended by LF alone", ["POD000123\n"], ['"POD000123"', "enter"]],
    ["two Enters are two", ["\r\r"], ["enter", "enter"]],
    ["two lines of a paste", ["A1\r\nB2\r\n"], ['"A1"', "enter", '"B2"', "enter"]],
    ["Esc alone", ["\x1b"], ["escape"]],
    ["Esc with a scan right behind it is not lost", ["\x1bPOD1"], ["escape", '"POD1"']],
    ["arrows and function keys do nothing", ["\x1b[A\x1bOP\x1b[15~\x1b[[A\x1b[1;5C"], []],
    ["marks of a bracketed paste are not typed", ["\x1b[200~POD1\x1b[201~"], ['"POD1"']],
    ["Ctrl-C in the middle of typing", ["PO\x03"], ['"PO"', "interrupt"]],
    ["Tab and both kinds of backspace", ["\t\x7f\b"], ["tab", "backspace", "backspace"]],
    ["separators inside a 2D code are dropped", ["[)>\x1e06\x1dPOD1"], ['"[)>06POD1"']],
    ["letters of all languages", ["Jörg Ł"], ['"Jörg Ł"']],
  ])("%s", (_, chunks, expected) => {
    expect(joined(decodeAll(chunks))).toEqual(expected);
  });

  it("loses no character and makes one Enter a line, however the chunks fall", () => {
    const serial = fc.stringMatching(/^[A-Za-z0-9=_-]{1,20}$/);
    fc.assert(
      fc.property(
        fc.array(serial, { minLength: 1, maxLength: 6 }),
        fc.constantFrom("\r", "\n", "\r\n"),
        fc.array(fc.nat(200)),
        (serials, ending, cuts) => {
          const whole = serials.map((it) => it + ending).join("");
          const at = [0, ...[...cuts].map((cut) => Math.min(cut, whole.length)).sort((a, b) => a - b)];
          const chunks = at.map((from, i) => whole.slice(from, at[i + 1] ?? whole.length));
          expect(joined(decodeAll(chunks))).toEqual(serials.flatMap((it) => [`"${it}"`, "enter"]));
        },
      ),
    );
  });
});
