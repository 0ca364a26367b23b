import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { misread, type UartSettings } from "../../sim/uart.ts";
import { findChecksum } from "../../station/bring-up/find-checksum.ts";
import { legibilityOf, visible } from "../../station/bring-up/heard-bytes.ts";
import { isSaid, splitLines } from "../../station/bring-up/heard-lines.ts";

const bytesOf = (text: string) => Buffer.from(text, "latin1");
const line = fc
  .record({ count: fc.nat(9999), value: fc.double({ min: -9e4, max: 9e4, noNaN: true }) })
  .map(({ count, value }) => `N=${String(count).padStart(4, "0")} P=${value.toFixed(2)} hPa\r\n`);
const lines = fc.array(line, { minLength: 3, maxLength: 6 }).map((all) => bytesOf(all.join("")));
const PLAIN = { dataBits: 8, parity: "none" } as const;
const BAUDS = [1200, 2400, 4800, 9600, 19_200, 38_400, 57_600, 115_200];

describe("bytes from a port", () => {
  it("are shown with nothing invisible left in them", () => {
    expect(visible(Buffer.from([0x2b, 0x31, 0x0d, 0x0a, 0x00, 0xb0, 0x5c]))).toBe("+1\\r\\n\\x00\\xb0\\\\");
  });

  it("are lines of text at the right settings, and never at a wrong baud rate", () => {
    fc.assert(
      fc.property(lines, fc.constantFrom(...BAUDS), fc.constantFrom(...BAUDS), (bytes, sent, heard) => {
        const read = Buffer.from(misread(bytes, { ...PLAIN, baud: sent }, { ...PLAIN, baud: heard }));
        if (sent === heard) expect(read).toEqual(bytes);
        expect(isSaid([{ bytes: read, at_s: 0 }])).toBe(sent === heard);
      }),
      { numRuns: 300 },
    );
  });

  it("are no lines where a port far too slow left two of them, text by chance", () => {
    const heard = Buffer.from("(\r");
    expect(legibilityOf(heard).kind).toBe("text");
    expect(isSaid([{ bytes: heard, at_s: 0 }])).toBe(false);
  });

  it("are lines where two questions were answered by one digit each", () => {
    expect(isSaid(["0\r\n", "1\r\n"].map((text, at_s) => ({ bytes: Buffer.from(text), at_s })))).toBe(true);
  });

  it.each(["even", "odd"] as const)(
    "tell that they were sent with seven data bits and %s parity",
    (parity) => {
      const sent: UartSettings = { baud: 9600, dataBits: 7, parity };
      fc.assert(
        fc.property(lines, (bytes) => {
          const read = Buffer.from(misread(bytes, sent, { ...PLAIN, baud: 9600 }));
          expect(legibilityOf(read)).toEqual({ kind: "parity", parity });
          expect(Buffer.from(misread(bytes, sent, sent))).toEqual(bytes);
        }),
        { numRuns: 20 },
      );
    },
  );

  it("that are UTF-16 are told from a wrong baud rate", () => {
    expect(legibilityOf(Buffer.from("P=1.5\r\n", "utf16le")).kind).toBe("utf16");
  });

  it("become the same lines however they were cut into chunks", () => {
    fc.assert(
      fc.property(lines, fc.array(fc.integer({ min: 1, max: 20 }), { minLength: 1 }), (bytes, sizes) => {
        const chunks: Buffer[] = [];
        for (let at = 0, i = 0; at < bytes.length; i++) {
          const size = sizes[i % sizes.length] ?? 1;
          chunks.push(bytes.subarray(at, at + size));
          at += size;
        }
        const heard = chunks.map((chunk, i) => ({ bytes: chunk, at_s: i }));
        const { end, lines: found } = splitLines(heard, false);
        expect(end).toBe("CRLF");
        expect(found.map(({ text }) => `${text}\r\n`).join("")).toBe(bytes.toString("latin1"));
      }),
    );
  });
});

describe("a checksum", () => {
  // XOR of "P,1" is 4D, as of any "P,1": 50 ^ 2C ^ 31.
  const right = ["$P,1*4D", "$P,2*4E", "$P,3*4F"];

  it("is found where it fits all lines", () => {
    expect(findChecksum(right)).toMatchObject({
      kind: "xor",
      separator: "*",
      beginsAfter: "$",
      digits: "upper",
    });
  });

  it("is not claimed where one line has another, or from two lines alone", () => {
    expect(findChecksum([...right, "$P,4*00"])).toBeNull();
    expect(findChecksum(right.slice(0, 2))).toBeNull();
  });
});
