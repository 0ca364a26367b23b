import fc from "fast-check";

/** Texts that have broken parsers before: of YAML, of JSON, of terminals, of file names, of numbers. */
const NASTY = [
  "\0",
  "\u001b[2J",
  "\u202e",
  "\ud800",
  "\ufeff",
  "\u2028",
  "\r",
  "\n",
  "\t",
  "\x7f\x9b",
  "__proto__",
  "constructor",
  "toString",
  '{"__proto__": {"isAdmin": true}}',
  "../../../tmp/x",
  "..\\..\\x",
  "/etc/passwd",
  "CON",
  "%s%n%x",
  "$(id)",
  "'; DROP TABLE attempts; --",
  "9".repeat(400),
  "1e999",
  "-1e-999",
  "1e308",
  "0x1F",
  "0b11",
  "-0",
  "NaN",
  "Infinity",
  ".nan",
  ".inf",
  "~",
  "null",
  "true",
  "2026-13-45T99:99:99Z",
  "1,5",
  "١٢٣",
  "1_000",
  "+",
  "-",
  ".",
  "e5",
  "&a",
  "*a",
  "<<: *a",
  "? [a, b]: c",
  "!!js/function 'x'",
  "!!binary 'AAAA'",
  "!<tag:x> y",
  "%YAML 9.9\n---\n",
  "---\n",
  "...\n",
  "- ",
  ": ",
  "|\n",
  ">-\n",
  '"',
  "'",
  "{",
  "}",
  "[",
  "]",
  "#",
  "[".repeat(60),
  "{a: ".repeat(60),
  "[".repeat(6000),
  "A".repeat(5000),
  "(a+)+$",
  "^(?:x*)*$",
  "\\",
  "😀",
  "é",
] as const;

type Mutation = (text: string) => string;

const place = fc.double({ min: 0, max: 1, noNaN: true });
const length = fc.oneof({ weight: 4, arbitrary: fc.nat(6) }, { weight: 1, arbitrary: fc.nat(400) });
const nasty = fc.oneof(
  { weight: 3, arbitrary: fc.constantFrom(...NASTY) },
  { weight: 1, arbitrary: fc.string({ unit: "binary", maxLength: 20 }) },
);

const at = (text: string, where: number) => Math.floor(where * (text.length + 1));

function spliced(text: string, from: number, count: number, put: string): string {
  return text.slice(0, from) + put + text.slice(from + count);
}

const flip = fc.tuple(place, fc.integer({ min: 1, max: 255 })).map(
  ([where, bits]): Mutation =>
    (text) => {
      const i = Math.min(at(text, where), text.length - 1);
      return i < 0 ? text : spliced(text, i, 1, String.fromCharCode(text.charCodeAt(i) ^ bits));
    },
);
const insert = fc.tuple(place, nasty).map(
  ([where, put]): Mutation =>
    (text) =>
      spliced(text, at(text, where), 0, put),
);
const cut = fc.tuple(place, length).map(
  ([where, count]): Mutation =>
    (text) =>
      spliced(text, at(text, where), count, ""),
);
const end = place.map(
  (where): Mutation =>
    (text) =>
      text.slice(0, at(text, where)),
);
const repeat = fc.tuple(place, length, fc.integer({ min: 1, max: 30 })).map(
  ([where, count, times]): Mutation =>
    (text) => {
      const from = at(text, where);
      return spliced(text, from, 0, text.slice(from, from + count).repeat(times));
    },
);
const move = fc.tuple(place, place, length).map(
  ([from, to, count]): Mutation =>
    (text) => {
      const start = at(text, from);
      return spliced(text, at(text, to), 0, text.slice(start, start + count));
    },
);
/** A whole line again somewhere else: a key that is there twice, an entry of another list. */
const line = fc.tuple(place, place).map(
  ([from, to]): Mutation =>
    (text) => {
      const lines = text.split("\n");
      const copied = lines[Math.min(Math.floor(from * lines.length), lines.length - 1)] ?? "";
      lines.splice(Math.floor(to * (lines.length + 1)), 0, copied);
      return lines.join("\n");
    },
);
/** What stands for one value, from a blank, quote or colon to the end of its line or list entry. */
const value = fc.tuple(place, nasty).map(
  ([where, put]): Mutation =>
    (text) => {
      const values = [...text.matchAll(/(?<=: |[:[,=] ?"?)[^\s,\]}"=]+/g)];
      const chosen = values[Math.min(Math.floor(where * values.length), values.length - 1)];
      return chosen ? spliced(text, chosen.index, chosen[0].length, put) : text;
    },
);

const mutation = fc.oneof(flip, insert, cut, end, repeat, move, line, value, value);

/** A valid text with a few changes, such as wires, disks and people make, and such as only enemies make. */
export function mutated(seeds: readonly string[], most = 5): fc.Arbitrary<string> {
  return fc
    .tuple(fc.constantFrom(...seeds), fc.array(mutation, { maxLength: most }))
    .map(([seed, mutations]) => mutations.reduce((text, change) => change(text), seed))
    .map((text) => text.slice(0, LONGEST));
}

/** Much longer files than people write; beyond that a parser's time says nothing new. */
const LONGEST = 60_000;

/** Any text at all. */
export const anyText = fc.oneof(
  fc.string({ unit: "binary", maxLength: 200 }),
  fc.array(nasty, { maxLength: 6 }).map((parts) => parts.join("")),
);

/** Any bytes, as latin1 text. */
export const anyBytes = fc
  .uint8Array({ maxLength: 200 })
  .map((bytes) => Buffer.from(bytes).toString("latin1"));

/** Bytes of a text as they come in pieces, with the places where they are split. */
export function inPieces(text: fc.Arbitrary<string>): fc.Arbitrary<{ text: string; sizes: number[] }> {
  const sizes = fc.array(fc.integer({ min: 1, max: 40 }), { minLength: 1, maxLength: 12 });
  return fc.record({ text, sizes });
}

export function pieces({ text, sizes }: { text: string; sizes: readonly number[] }): Buffer[] {
  const bytes = Buffer.from(text, "latin1");
  const found: Buffer[] = [];
  for (let from = 0, turn = 0; from < bytes.length; turn++) {
    const size = sizes[turn % sizes.length] ?? 1;
    found.push(bytes.subarray(from, from + size));
    from += size;
  }
  return found;
}

/** What a bad cable makes of one answer: a byte flipped, or its end missing. */
export const mangling: fc.Arbitrary<(answer: string) => string> = fc
  .tuple(fc.nat(80), fc.integer({ min: 1, max: 255 }), fc.boolean())
  .map(([at, bits, isCut]) => {
    const mangle = (answer: string) => {
      const i = at % Math.max(1, answer.length);
      if (isCut) return answer.slice(0, i);
      return answer.slice(0, i) + String.fromCharCode(answer.charCodeAt(i) ^ bits) + answer.slice(i + 1);
    };
    // As a failure prints it.
    return Object.assign(mangle, {
      [fc.toStringMethod]: () => (isCut ? `cut at ${at}` : `^${bits} at ${at}`),
    });
  });
