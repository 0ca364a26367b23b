import fc from "fast-check";
import { describe, expect, it, test } from "vitest";
import { encodingDoubt } from "../../drivers/encoding-doubt.ts";
import { AsciiLineGauge } from "../../drivers/protocols/ascii-line.ts";
import { gaugeProfile, memoryRig } from "./rigs.ts";

const LINE = "N=004711 P=-7998.42 S=0";
const utf16 = (text: string) => Buffer.from(text, "utf16le").toString("latin1");
const parity = (text: string, odd: 0 | 1) =>
  [...text]
    .map((character) => {
      const code = character.charCodeAt(0);
      const ones = [...code.toString(2)].filter((bit) => bit === "1").length;
      return String.fromCharCode(ones % 2 === odd ? code : code | 0x80);
    })
    .join("");

describe("a line in another encoding", () => {
  test.each([
    ["UTF-16, low byte first", utf16(LINE), /NUL, as in UTF-16/],
    ["UTF-16, high byte first", Buffer.from(utf16(LINE), "latin1").swap16().toString("latin1"), /UTF-16/],
    ["UTF-16 whose first half byte was left at the end of the line before", `\0${utf16(LINE)}`, /UTF-16/],
    ["UTF-16 with its mark", "\xff\xfe1", /UTF-16/],
    ["UTF-8 with its mark", `\xef\xbb\xbf${LINE}`, /UTF-8/],
    ["7 data bits with even parity", parity(LINE, 0), /even parity: set data_bits to 7 and parity to even/],
    [
      "7 data bits with odd parity, line end and all",
      parity(`${LINE}\r\n`, 1),
      /odd parity: set data_bits to 7/,
    ],
    ["a wrong baud rate", "\xf8\x80\xe6\x9e\xfe\x06", /eighth bit is set in many/],
    ["a break on the line", "N=0047\0\0\0", /NUL bytes: check the baud rate/],
  ])("is known by its bytes: %s", (_what, raw, expected) => {
    expect(encodingDoubt(raw)).toMatch(expected);
  });

  it("is never seen in plain ASCII, nor in a line with one sign beyond it", () => {
    const plain = fc.string({
      unit: fc.integer({ min: 0x20, max: 0x7e }).map((c) => String.fromCharCode(c)),
    });
    fc.assert(fc.property(plain, (text) => encodingDoubt(text) === undefined));
    expect(encodingDoubt("T=21.5 \xb0C OK")).toBeUndefined();
  });

  it.each([
    ["UTF-16", (text: string) => utf16(text), /every second byte is NUL/],
    ["even parity", (text: string) => parity(text, 0), /set data_bits to 7 and parity to even/],
    ["odd parity", (text: string) => parity(text, 1), /set data_bits to 7 and parity to odd/],
  ])("is refused by name when a gauge answers in it: %s", async (_what, encoded, expected) => {
    const profile = gaugeProfile("scpi-pressure");
    const rig = memoryRig(profile, (_command, far) => far.send(encoded("DEMO WORKS,PRESSURE,SN0001,1.0\n")));
    const gauge = new AsciiLineGauge({ name: "gauge", profile, transport: rig.transport, clock: rig.clock });
    const refused = await rig.settle(gauge.connect().catch((error: unknown) => error));
    expect(refused).toMatchObject({ message: expect.stringMatching(expected) });
  });
});
