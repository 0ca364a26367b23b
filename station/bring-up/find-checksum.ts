import { CHECKSUM_KINDS, checkLine, type LineChecksum } from "../../drivers/checksum.ts";

/** So many different lines must agree: one byte fits by chance once in 256. */
const LEAST_LINES = 3;
/** What a checksum leaves out at the beginning of a line, where anything. */
const BEGINNINGS = /^[$!:#@>]/;
/** What stands before a checksum, where anything. */
const SEPARATORS = ["*", ",", ";", ":", "#", " ", "&", "^", "/", "|"];

/**
 * The checksum that all these lines carry at their end, of those that profiles know; null where none fits all. Each
 * kind is tried with and without what stands before it and with and without the line's first character.
 * @example findChecksum(["$A,1*31", "$A,2*32", "$A,3*33"]) // not xor: null
 */
export function findChecksum(lines: readonly string[]): LineChecksum | null {
  const different = [...new Set(lines)];
  if (different.length < LEAST_LINES) return null;
  const first = different[0] ?? "";
  const beginning = BEGINNINGS.exec(first)?.[0];
  for (const kind of CHECKSUM_KINDS) {
    const length = kind === "xor" || kind === "sum8" ? 2 : 4;
    const before = first.at(-1 - length) ?? "";
    for (const separator of SEPARATORS.includes(before) ? [before, ""] : [""]) {
      for (const beginsAfter of beginning === undefined ? [""] : [beginning, ""]) {
        for (const lowByteFirst of length === 4 ? [false, true] : [false]) {
          const rule: LineChecksum = {
            kind,
            separator,
            beginsAfter,
            lowByteFirst,
            digits: "either",
            sent: false,
          };
          if (different.every((line) => checkLine(line, rule).ok)) return withDigits(rule, different, length);
        }
      }
    }
  }
  return null;
}

/** Lines that end as if in a checksum, in hexadecimal digits, whichever it may be. */
export function endsInDigits(lines: readonly string[]): boolean {
  const ends = lines.map((line) => /[*,;:#&^|][0-9A-Fa-f]{2}(?:[0-9A-Fa-f]{2})?$/.exec(line)?.[0] ?? "");
  return ends.every((end) => end !== "") && ends.some((end) => /[A-Fa-f]/.test(end));
}

function withDigits(rule: LineChecksum, lines: readonly string[], length: number): LineChecksum {
  const digits = lines.map((line) => line.slice(-length)).join("");
  if (!/[a-f]/.test(digits)) return { ...rule, digits: "upper" };
  return /[A-F]/.test(digits) ? rule : { ...rule, digits: "lower" };
}
