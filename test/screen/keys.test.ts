import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { type Key, KeyDecoder, SEQUENCE_WITHIN_ms } from "../../station/screen/keys.ts";

/** All chunks come at one moment; what still waits then was no sequence. */
function decodeAll(chunks: readonly string[], isUrgent = true): Key[] {
  const decoder = new KeyDecoder(() => isUrgent);
  return [...chunks.flatMap((chunk) => decoder.decode(chunk, 0)), ...decoder.flush()];
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

/** The same bytes, torn at these places. */
function torn(whole: string, cuts: readonly number[]): string[] {
  const at = [0, ...cuts.map((cut) => cut % (whole.length + 1)).sort((a, b) => a - b)];
  return at.map((from, i) => whole.slice(from, at[i + 1] ?? whole.length));
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
    ["Esc twice", ["\x1b\x1b"], ["escape", "escape"]],
    ["F1 to F4 of terminals", ["\x1bOP\x1bOQ\x1bOR\x1bOS"], ["f1", "f2", "f3", "f4"]],
    ["F1 to F4 of older ones", ["\x1b[11~\x1b[12~\x1b[13~\x1b[14~"], ["f1", "f2", "f3", "f4"]],
    ["F1 to F4 of the Linux console", ["\x1b[[A\x1b[[B\x1b[[C\x1b[[D"], ["f1", "f2", "f3", "f4"]],
    ["arrows left and right", ["\x1b[D\x1b[C\x1bOD\x1bOC"], ["left", "right", "left", "right"]],
    ["Home, End and Delete", ["\x1b[H\x1b[F\x1b[3~\x1b[1~\x1b[4~"], ["home", "end", "delete", "home", "end"]],
    ["Ctrl-A, Ctrl-E and Ctrl-U", ["\x01\x05\x15"], ["home", "end", "erase_line"]],
    ["keys without a use do nothing", ["\x1b[15~\x1b[1;5C\x1b[2~\x1bO2P\x1b[[E"], []],
    [
      "arrows up and down, and the keys that turn pages",
      ["\x1b[A\x1b[B\x1bOA\x1bOB\x1b[5~\x1b[6~"],
      ["up", "down", "up", "down", "up", "down"],
    ],
    ["marks of a bracketed paste are not typed", ["\x1b[200~POD1\x1b[201~"], ['"POD1"']],
    ["a pasted Tab acknowledges nothing", ["\x1b[200~A\tB\x1b[201~\t"], ['"A B"', "tab"]],
    [
      "Esc and Ctrl-C are heard in a paste whose end got lost",
      ["\x1b[200~A", "\x1b", "\x03\t"],
      ['"A"', "escape", "interrupt", "tab"],
    ],
    ["Ctrl-C in the middle of typing", ["PO\x03"], ['"PO"', "interrupt"]],
    ["Tab and both kinds of backspace", ["\t\x7f\b"], ["tab", "backspace", "backspace"]],
    ["separators inside a 2D code are dropped", ["[)>\x1e06\x1dPOD1"], ['"[)>06POD1"']],
    ["letters of all languages", ["Jörg Ł"], ['"Jörg Ł"']],
    ["a serial in O behind Esc is no key", ["\x1bOVEN1\r"], ["escape", '"OVEN1"', "enter"]],
  ])("%s", (_, chunks, expected) => {
    expect(joined(decodeAll(chunks))).toEqual(expected);
  });

  it("hears Esc at once where it aborts, whatever may follow", () => {
    const decoder = new KeyDecoder(() => true);
    expect(decoder.decode("\x1b", 0)).toEqual([{ kind: "escape" }]);
  });

  it("types nothing of a key torn behind its Esc: the abort counts, and so does the key", () => {
    const decoder = new KeyDecoder(() => true);
    expect(decoder.decode("\x1b", 0)).toEqual([{ kind: "escape" }]);
    expect(decoder.decode("OP", 5)).toEqual([{ kind: "f1" }]);
    expect(decoder.decode("\x1b", 100)).toEqual([{ kind: "escape" }]);
    expect(decoder.decode("[1", 105)).toEqual([]);
    expect(decoder.decode("5~POD1", 110)).toEqual([{ kind: "text", text: "POD1" }]);
  });

  it("takes what comes later than a torn key would for what it is: typed", () => {
    const decoder = new KeyDecoder(() => true);
    decoder.decode("\x1b", 0);
    expect(decoder.decode("OP", SEQUENCE_WITHIN_ms + 1)).toEqual([{ kind: "text", text: "OP" }]);
  });

  it("waits for the rest of a torn key where nothing is to be aborted, and hears Esc when nothing comes", () => {
    const decoder = new KeyDecoder(() => false);
    expect(decoder.decode("\x1b", 0)).toEqual([]);
    expect(decoder.isWaiting).toBe(true);
    expect(decoder.decode("OP", 5)).toEqual([{ kind: "f1" }]);
    expect(decoder.decode("\x1b", 100)).toEqual([]);
    expect(decoder.flush()).toEqual([{ kind: "escape" }]);
    expect(decoder.isWaiting).toBe(false);
  });

  it("gives back the characters of a sequence that was none", () => {
    const decoder = new KeyDecoder(() => false);
    expect(decoder.decode("\x1b[", 0)).toEqual([]);
    expect(decoder.flush()).toEqual([{ kind: "escape" }, { kind: "text", text: "[" }]);
    const endless = `\x1b[${"1".repeat(100)}`;
    expect(joined(decodeAll([endless]))).toEqual(["escape", `"${endless.slice(1)}"`]);
  });
});

const PIECES = fc.array(
  fc.oneof(
    fc.stringMatching(/^[A-NP-Za-z0-9=_)>-]{1,12}$/),
    fc.constantFrom("\r", "\n", "\r\n", "\t", "\x7f", "\x01", "\x15"),
    fc.constantFrom(
      "\x1bOP",
      "\x1b[12~",
      "\x1b[[C",
      "\x1bOS",
      "\x1b[D",
      "\x1b[3~",
      "\x1b[15~",
      "\x1b[1;5C",
      "\x1b[A",
    ),
    fc.constantFrom("\x1b[200~A1\r\x1b[201~"),
  ),
  { minLength: 1, maxLength: 12 },
);

describe("bytes torn into chunks anywhere", () => {
  it("are the same keys where nothing is to be aborted", () => {
    fc.assert(
      fc.property(PIECES, fc.array(fc.nat(1000)), (pieces, cuts) => {
        const whole = pieces.join("");
        expect(joined(decodeAll(torn(whole, cuts), false))).toEqual(joined(decodeAll([whole], false)));
      }),
    );
  });

  it("are the same keys where Esc aborts, but for an Esc at each tear right behind one", () => {
    fc.assert(
      fc.property(PIECES, fc.array(fc.nat(1000)), (pieces, cuts) => {
        const whole = pieces.join("");
        const chunks = torn(whole, cuts);
        // No Esc was pressed; a paste that is torn there has been ended by it, as pastes whose end got lost.
        fc.pre(!whole.includes("\x1b[200~"));
        const keys = decodeAll(chunks, true);
        const without = keys.filter(({ kind }) => kind !== "escape");
        expect(joined(without)).toEqual(joined(decodeAll([whole], true)));
        const tears = chunks.slice(0, -1).filter((chunk) => chunk.endsWith("\x1b")).length;
        expect(keys.length - without.length).toBe(tears);
      }),
    );
  });

  it("lose no character of a scanner, and make one Enter a line", () => {
    const serial = fc.stringMatching(/^[A-Za-z0-9=_-]{1,20}$/);
    fc.assert(
      fc.property(
        fc.array(serial, { minLength: 1, maxLength: 6 }),
        fc.constantFrom("\r", "\n", "\r\n"),
        fc.array(fc.nat(200)),
        fc.boolean(),
        (serials, ending, cuts, isUrgent) => {
          const whole = serials.map((it) => it + ending).join("");
          expect(joined(decodeAll(torn(whole, cuts), isUrgent))).toEqual(
            serials.flatMap((it) => [`"${it}"`, "enter"]),
          );
        },
      ),
    );
  });

  it("hear every Esc at once, in whatever bytes it stands, where it aborts", () => {
    fc.assert(
      fc.property(PIECES, (pieces) => {
        const decoder = new KeyDecoder(() => true);
        for (const piece of pieces) decoder.decode(piece, 0);
        expect(decoder.decode("\x1b", 1000).at(-1)).toEqual({ kind: "escape" });
      }),
    );
  });
});
