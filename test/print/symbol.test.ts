import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { UsageError } from "../../station/explain.ts";
import { type SymbolKind, symbolOf } from "../../station/print/symbol.ts";
import { readSymbol } from "./read-code.ts";

const GTIN = "04012345678901";
const GS1_CHARACTERS = [
  ..."!\"%&'()*+,-./0123456789:;<=>?ABCDEFGHIJKLMNOPQRSTUVWXYZ_abcdefghijklmnopqrstuvwxyz",
];

describe("a symbol read back by a decoder that is none of ours", () => {
  it("is a GS1 symbol with FNC1 in the first place, GTIN and serial, for GS1 DataMatrix", async () => {
    const symbol = symbolOf("gs1-datamatrix", "POD000123", GTIN);
    expect(symbol.text).toBe("(01)04012345678901(21)POD000123");
    expect(await readSymbol(symbol)).toMatchObject([{ text: `01${GTIN}21POD000123`, identifier: "]d2" }]);
  });

  it.each([
    { kind: "datamatrix" as const, identifier: "]d1" },
    { kind: "code128" as const, identifier: "]C0" },
  ])("is the serial and no GS1 symbol for $kind", async ({ kind, identifier }) => {
    expect(await readSymbol(symbolOf(kind, "TUB531812"))).toMatchObject([{ text: "TUB531812", identifier }]);
  });

  it("gives any serial back in Data Matrix, whatever alphabet it is in", async () => {
    const serial = fc
      .string({ unit: "grapheme", minLength: 1, maxLength: 60 })
      .filter((text) => !/\p{Cs}/u.test(text));
    await holds("datamatrix", serial, (text) => text);
  });

  it("gives any plain serial back in Code 128", async () => {
    await holds(
      "code128",
      fc.string({ unit: "grapheme-ascii", minLength: 1, maxLength: 40 }),
      (text) => text,
    );
  });

  it("gives any serial of the characters GS1 allows back in GS1 DataMatrix", async () => {
    const serial = fc.string({ unit: fc.constantFrom(...GS1_CHARACTERS), minLength: 1, maxLength: 20 });
    await holds("gs1-datamatrix", serial, (text) => `01${GTIN}21${text}`);
  });

  it("takes what looks like a command to the encoder as it stands", async () => {
    for (const serial of ["^FNC1", "^^A^123", "é^FNC1^^", "(01)123", "\\x", "A^ECI000026B"]) {
      expect((await readSymbol(symbolOf("datamatrix", serial)))[0]?.text).toBe(serial);
    }
    expect((await readSymbol(symbolOf("code128", "^FNC1^102")))[0]?.text).toBe("^FNC1^102");
  });
});

describe("a serial that a symbol can't hold", () => {
  it.each<readonly [SymbolKind, string, RegExp]>([
    ["gs1-datamatrix", "POD 000123", /" " is none of the characters GS1 allows.*--code datamatrix/],
    ["gs1-datamatrix", "ŁÓDŹ1", /"Ł" is none of the characters/],
    ["gs1-datamatrix", "A".repeat(21), /21 characters, and GS1 allows 20.*--code datamatrix/],
    ["code128", "ŁÓDŹ1", /ASCII.*--code datamatrix/],
  ])("is refused with what to do: %s of %s", (kind, serial, sentence) => {
    expect(() => symbolOf(kind, serial, GTIN)).toThrow(UsageError);
    expect(() => symbolOf(kind, serial, GTIN)).toThrow(sentence);
  });

  it("may be as long as GS1 allows", () => {
    expect(symbolOf("gs1-datamatrix", "A".repeat(20), GTIN).text).toContain("A".repeat(20));
  });
});

async function holds(kind: SymbolKind, serials: fc.Arbitrary<string>, read: (serial: string) => string) {
  await fc.assert(
    fc.asyncProperty(serials, async (serial) => {
      const [code] = await readSymbol(symbolOf(kind, serial, GTIN));
      expect(code?.text).toBe(read(serial));
    }),
    { numRuns: 40 },
  );
}
