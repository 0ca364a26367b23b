/** How lines carry a checksum: `$P,-7998.42*5C`, or the like. The checked form of a profile's `checksum`. */
export interface LineChecksum {
  readonly kind: ChecksumKind;
  /** Every line begins with this, which the checksum does not cover; "" where it covers the line from its first byte. */
  readonly beginsAfter: string;
  /** Stands between what is covered and the checksum, itself not covered; "" for none. */
  readonly separator: string;
  readonly digits: "upper" | "lower" | "either";
  /** The low byte's two digits come first; of one byte it says nothing. */
  readonly lowByteFirst: boolean;
  /** Whether what is sent carries it too. */
  readonly sent: boolean;
}

export const CHECKSUM_KINDS = ["xor", "sum8", "crc16_modbus", "crc16_ccitt", "crc16_xmodem"] as const;
export type ChecksumKind = (typeof CHECKSUM_KINDS)[number];

/** What a line is without its checksum, or what its checksum should have been. */
export type Checked =
  | { readonly ok: true; readonly text: string }
  | {
      readonly ok: false;
      /** It has no checksum where one belongs, or another than it should have. */
      readonly why: "NONE" | "WRONG";
      readonly expected: string;
    };

/**
 * The checksum of bytes given as latin1 text.
 * - xor: all bytes, exclusive or; one byte (as in NMEA 0183)
 * - sum8: all bytes, added up, modulo 256
 * - crc16_modbus: polynomial 8005, reflected, from FFFF (Modbus over Serial Line V1.02, 6.2.2)
 * - crc16_ccitt: polynomial 1021, from FFFF; crc16_xmodem: the same from 0000
 * @example checksumOf("crc16_modbus", "123456789") // 0x4b37
 * @example checksumOf("crc16_ccitt", "123456789") // 0x29b1
 * @see the catalogue of parametrised CRC algorithms: CRC-16/MODBUS, CRC-16/IBM-3740, CRC-16/XMODEM
 */
export function checksumOf(kind: ChecksumKind, text: string): number {
  switch (kind) {
    case "xor":
      return fold(text, 0, (sum, byte) => sum ^ byte);
    case "sum8":
      return fold(text, 0, (sum, byte) => (sum + byte) & 0xff);
    case "crc16_modbus":
      return fold(text, 0xffff, (crc, byte) => eight(crc ^ byte, reflected));
    case "crc16_ccitt":
      return fold(text, 0xffff, (crc, byte) => eight(crc ^ (byte << 8), straight));
    case "crc16_xmodem":
      return fold(text, 0, (crc, byte) => eight(crc ^ (byte << 8), straight));
  }
}

/**
 * A line with its checksum, as it goes over the wire.
 * @example withChecksum("$P?", { kind: "xor", beginsAfter: "$", separator: "*", ... }) // "$P?*6F"
 */
export function withChecksum(text: string, rule: LineChecksum): string {
  const digits = printed(text.slice(rule.beginsAfter.length), rule);
  return text + rule.separator + (rule.digits === "lower" ? digits : digits.toUpperCase());
}

/** A command as it goes over the wire: with its checksum, where commands carry one. */
export function commandOnWire(command: string, rule: LineChecksum | undefined): string {
  return rule?.sent ? withChecksum(command, rule) : command;
}

/** A line as the profile's patterns see it: without its checksum, where lines carry one. */
export function lineWithout(line: string, rule: LineChecksum | undefined): Checked {
  return rule ? checkLine(line, rule) : { ok: true, text: line };
}

/**
 * Takes the checksum off a line, if it is the right one.
 * @example checkLine("$P?*6F", rule) // { ok: true, text: "$P?" }
 */
export function checkLine(line: string, rule: LineChecksum): Checked {
  const { kind, beginsAfter, separator } = rule;
  const length = DIGITS[kind];
  const end = line.length - length - separator.length;
  const mark = separator === "" ? "" : `${JSON.stringify(separator)} and `;
  const form = {
    ok: false,
    why: "NONE",
    expected: `${mark}${length} hexadecimal digits at its end`,
  } as const;
  if (end < beginsAfter.length || line.slice(end, end + separator.length) !== separator) return form;
  if (!line.startsWith(beginsAfter)) {
    return { ok: false, why: "NONE", expected: `${JSON.stringify(beginsAfter)} at its beginning` };
  }
  const found = line.slice(-length);
  if (!PATTERNS[rule.digits].test(found)) return form;
  const expected = printed(line.slice(beginsAfter.length, end), rule);
  if (found.toLowerCase() === expected) return { ok: true, text: line.slice(0, end) };
  const shown = rule.digits === "lower" ? expected : expected.toUpperCase();
  return { ok: false, why: "WRONG", expected: `the checksum ${shown} at its end` };
}

const DIGITS: Readonly<Record<ChecksumKind, 2 | 4>> = {
  xor: 2,
  sum8: 2,
  crc16_modbus: 4,
  crc16_ccitt: 4,
  crc16_xmodem: 4,
};

const PATTERNS = { upper: /^[0-9A-F]+$/, lower: /^[0-9a-f]+$/, either: /^[0-9A-Fa-f]+$/ } as const;

/** Lower-case digits of the checksum of what is covered. */
function printed(covered: string, { kind, lowByteFirst }: LineChecksum): string {
  const digits = checksumOf(kind, covered).toString(16).padStart(DIGITS[kind], "0");
  return lowByteFirst ? digits.slice(2) + digits.slice(0, 2) : digits;
}

function fold(text: string, from: number, step: (sum: number, byte: number) => number): number {
  let sum = from;
  for (let i = 0; i < text.length; i++) sum = step(sum, text.charCodeAt(i) & 0xff);
  return sum;
}

function eight(value: number, step: (value: number) => number): number {
  let crc = value;
  for (let bit = 0; bit < 8; bit++) crc = step(crc);
  return crc;
}

function reflected(crc: number): number {
  return crc & 1 ? (crc >> 1) ^ 0xa001 : crc >> 1;
}

function straight(crc: number): number {
  return (crc & 0x8000 ? (crc << 1) ^ 0x1021 : crc << 1) & 0xffff;
}
