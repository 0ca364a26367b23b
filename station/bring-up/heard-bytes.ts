/** Bytes as they came off a port, with the monotonic time at which the machine had them. */
export interface HeardBytes {
  readonly bytes: Buffer;
  readonly at_s: number;
}

/** What bytes of unknown origin look like. */
export type Legibility =
  | { readonly kind: "nothing" }
  | { readonly kind: "text" }
  /** Text under a parity bit: 7 data bits, read as 8. */
  | { readonly kind: "parity"; readonly parity: "even" | "odd" }
  /** Every second byte is NUL. */
  | { readonly kind: "utf16" }
  | { readonly kind: "garbled" };

const ESCAPES: Readonly<Record<number, string>> = { 9: "\\t", 10: "\\n", 13: "\\r", 92: "\\\\" };

/**
 * Bytes with nothing invisible left in them: \r, \n, \t, \\ and \xNN for all that is not printable ASCII.
 * @example visible(Buffer.from("+1.5\r\n\x00")) // "+1.5\\r\\n\\x00"
 */
export function visible(bytes: Buffer): string {
  let text = "";
  for (const byte of bytes) {
    const short = ESCAPES[byte];
    if (short !== undefined) text += short;
    else if (byte >= 0x20 && byte <= 0x7e) text += String.fromCharCode(byte);
    else text += `\\x${byte.toString(16).padStart(2, "0")}`;
  }
  return text;
}

/** Part of the bytes that a text may have of others, such as a degree sign; common practice, no source. */
const MOST_STRANGE = 0.08;
/** So few bytes carry a parity bit right by chance. */
const LEAST_FOR_PARITY = 8;

/**
 * Whether bytes are text, or what text becomes under wrong port settings. A wrong baud rate shifts the bits of
 * every byte, so that hardly any stays printable; a parity bit taken for data only sets the eighth bit of some.
 * @example legibilityOf(Buffer.from("P=-7998.42\r\n")).kind // "text"
 * @example legibilityOf(Buffer.from([0x80, 0xf8, 0x00, 0xe0])).kind // "garbled"
 */
export function legibilityOf(bytes: Buffer): Legibility {
  if (bytes.length === 0) return { kind: "nothing" };
  if (isMostlyText(bytes)) return { kind: "text" };
  if (isUtf16(bytes)) return { kind: "utf16" };
  if (bytes.length >= LEAST_FOR_PARITY && isMostlyText(Buffer.from(bytes.map((byte) => byte & 0x7f)))) {
    const ones = bytes.map(onesIn);
    if (ones.every((count) => count % 2 === 0)) return { kind: "parity", parity: "even" };
    if (ones.every((count) => count % 2 === 1)) return { kind: "parity", parity: "odd" };
  }
  return { kind: "garbled" };
}

function isMostlyText(bytes: Uint8Array): boolean {
  let strange = 0;
  for (const byte of bytes) {
    // A NUL or another control character hardly stands in a line; a letter beyond ASCII may.
    if ((byte < 0x20 && byte !== 9 && byte !== 10 && byte !== 13) || byte === 0x7f) strange += 3;
    else if (byte > 0x7e) strange++;
  }
  return strange <= MOST_STRANGE * bytes.length;
}

function isUtf16(bytes: Buffer): boolean {
  if (bytes.length < 6) return false;
  const zeros = [0, 0];
  bytes.forEach((byte, i) => {
    if (byte === 0) zeros[i % 2] = (zeros[i % 2] ?? 0) + 1;
  });
  const [even = 0, odd = 0] = zeros;
  const half = Math.floor(bytes.length / 2);
  const rest = bytes.filter((byte) => byte !== 0);
  return Math.min(even, odd) === 0 && Math.max(even, odd) >= 0.9 * half && isMostlyText(rest);
}

function onesIn(byte: number): number {
  let ones = 0;
  for (let rest = byte; rest > 0; rest >>= 1) ones += rest & 1;
  return ones;
}
