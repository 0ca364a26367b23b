import { spawnSync } from "node:child_process";
import fc from "fast-check";
import { describe, expect, it, test } from "vitest";
import {
  CHECKSUM_KINDS,
  checkLine,
  checksumOf,
  type LineChecksum,
  withChecksum,
} from "../../drivers/checksum.ts";

const NMEA: LineChecksum = {
  kind: "xor",
  beginsAfter: "$",
  separator: "*",
  digits: "upper",
  lowByteFirst: false,
  sent: true,
};

describe("checksums of lines", () => {
  // Check values of the catalogue of parametrised CRC algorithms: CRC-16/MODBUS, CRC-16/IBM-3740, CRC-16/XMODEM.
  test.each([
    ["crc16_modbus", 0x4b37],
    ["crc16_ccitt", 0x29b1],
    ["crc16_xmodem", 0x31c3],
  ] as const)("%s of 123456789 is as catalogued", (kind, expected) => {
    expect(checksumOf(kind, "123456789")).toBe(expected);
  });

  // Published Modbus RTU frames; 02 07 -> 41 12 is the example of Modbus over Serial Line V1.02, appendix B.
  test.each([
    ["01 03 00 00 00 0A", "C5CD"],
    ["01 03 00 00 00 01", "840A"],
    ["02 07", "4112"],
    ["01 04 00 00 00 01", "31CA"],
    ["11 83 02", "C134"],
  ])("CRC-16 of the Modbus frame %s is %s, low byte first", (frame, expected) => {
    const bytes = Buffer.from(frame.replaceAll(" ", ""), "hex").toString("latin1");
    const rule = {
      ...NMEA,
      kind: "crc16_modbus",
      beginsAfter: "",
      separator: "",
      lowByteFirst: true,
    } as const;
    expect(withChecksum(bytes, rule).slice(bytes.length)).toBe(expected);
  });

  // NMEA 0183 sentences as public descriptions of the format print them.
  test.each([
    "$GPRMC,155123.000,A,4043.8432,N,07359.7653,W,0.15,83.25,200407,,*28",
    "$GPRMC,000004,V,3714.6284,N,12146.9181,W,0.000,0.0,290697,15.4,E*4C",
    "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47",
  ])("the sentence %s has its right checksum, and no other", (sentence) => {
    expect(checkLine(sentence, NMEA)).toEqual({ ok: true, text: sentence.slice(0, -3) });
    expect(withChecksum(sentence.slice(0, -3), NMEA)).toBe(sentence);
    expect(
      checkLine(
        sentence.replace(/.$/, (digit) => (digit === "0" ? "1" : "0")),
        NMEA,
      ),
    ).toMatchObject({
      ok: false,
      why: "WRONG",
    });
  });

  it("agree with Python's binascii.crc_hqx, an implementation of its own, on any bytes", () => {
    const texts = fc.sample(fc.uint8Array({ maxLength: 60 }), { numRuns: 300, seed: 7 });
    const script =
      "import sys, binascii\n" +
      "for line in sys.stdin:\n" +
      "  b = bytes.fromhex(line.strip())\n" +
      "  print(binascii.crc_hqx(b, 0xffff), binascii.crc_hqx(b, 0))";
    const input = texts.map((bytes) => `${Buffer.from(bytes).toString("hex")}\n`).join("");
    const { stdout, status } = spawnSync("python3", ["-c", script], { input, encoding: "utf8" });
    expect(status).toBe(0);
    const ours = texts.map((bytes) => {
      const text = Buffer.from(bytes).toString("latin1");
      return `${checksumOf("crc16_ccitt", text)} ${checksumOf("crc16_xmodem", text)}`;
    });
    expect(stdout.trimEnd().split("\n")).toEqual(ours);
  });

  const rule = fc.record({
    kind: fc.constantFrom(...CHECKSUM_KINDS),
    beginsAfter: fc.constantFrom("", "$", ":"),
    separator: fc.constantFrom("", "*", ";"),
    digits: fc.constantFrom("upper", "lower", "either"),
    lowByteFirst: fc.boolean(),
    sent: fc.boolean(),
  } satisfies { [Key in keyof LineChecksum]: fc.Arbitrary<LineChecksum[Key]> });
  const printable = fc.string({
    unit: fc.integer({ min: 0x20, max: 0xff }).map((c) => String.fromCharCode(c)),
  });

  it("come off again whatever the line, and leave it as it was", () => {
    fc.assert(
      fc.property(rule, printable, (rule, text) => {
        const line = rule.beginsAfter + text;
        expect(checkLine(withChecksum(line, rule), rule)).toEqual({ ok: true, text: line });
      }),
    );
  });

  it("notice any one character that changed", () => {
    fc.assert(
      fc.property(rule, printable, fc.nat(), fc.integer({ min: 1, max: 255 }), (rule, text, at, flip) => {
        const line = withChecksum(rule.beginsAfter + text, rule);
        const i = at % line.length;
        const changed = line.slice(0, i) + String.fromCharCode(line.charCodeAt(i) ^ flip) + line.slice(i + 1);
        // Where either case of digits is right, a digit in the other case is no change.
        fc.pre(rule.digits !== "either" || changed.toLowerCase() !== line.toLowerCase());
        expect(checkLine(changed, rule).ok).toBe(false);
      }),
      { numRuns: 1000 },
    );
  });
});
