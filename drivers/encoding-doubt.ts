/** Shorter lines have an even number of ones in every byte by chance too often. */
const SHORTEST_FOR_PARITY = 6;

/**
 * What a line that cannot be understood looks like, and what to set, where its bytes give that away: text in
 * another encoding, or 7 data bits with parity read as 8.
 * @param raw the line's bytes as latin1 text
 * @returns the end of a sentence, without its full stop; undefined for a line in plain ASCII
 * @example encodingDoubt("1\0002\000.\0005\000") // "every second byte is NUL, as in UTF-16: set it to send ASCII"
 */
export function encodingDoubt(raw: string): string | undefined {
  if (isUtf16(raw)) return "every second byte is NUL, as in UTF-16: set it to send ASCII";
  if (/^\xef\xbb\xbf/.test(raw)) return "it begins with the mark of UTF-8: set it to send ASCII";
  const codes = [...raw].map((character) => character.charCodeAt(0));
  const high = codes.filter((code) => code > 0x7f).length;
  if (high > 0) return eighthBitDoubt(codes, high);
  return codes.includes(0) ? "it has NUL bytes: check the baud rate and the cable" : undefined;
}

function isUtf16(raw: string): boolean {
  if (/^(?:\xff\xfe|\xfe\xff)/.test(raw)) return true;
  if (raw.length < 4) return false;
  const pairs = Math.floor(raw.length / 2);
  return [0, 1].some((first) => {
    let isAlternate = true;
    for (let i = 0; i < 2 * pairs && isAlternate; i++) {
      isAlternate = (raw.charCodeAt(i) === 0) === (i % 2 === first);
    }
    return isAlternate;
  });
}

function eighthBitDoubt(codes: readonly number[], high: number): string | undefined {
  const isText = codes.every((code) => isAscii(code & 0x7f));
  if (isText && codes.length >= SHORTEST_FOR_PARITY) {
    if (codes.every((code) => ones(code) % 2 === 0)) return sevenBits("even");
    if (codes.every((code) => ones(code) % 2 === 1)) return sevenBits("odd");
  }
  return high * 4 > codes.length
    ? "the eighth bit is set in many of its bytes: check baud rate, data bits and parity"
    : undefined;
}

function isAscii(code: number): boolean {
  return (code >= 0x20 && code < 0x7f) || code === 0x09 || code === 0x0a || code === 0x0d;
}

function sevenBits(parity: "even" | "odd"): string {
  return `the eighth bit of its bytes is ${parity} parity: set data_bits to 7 and parity to ${parity} in its profile`;
}

function ones(code: number): number {
  let count = 0;
  for (let rest = code; rest > 0; rest >>= 1) count += rest & 1;
  return count;
}
