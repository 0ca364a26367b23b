import fc from "fast-check";
import { expect, it } from "vitest";
import { PackedTexts } from "../../station/records/packed-texts.ts";

it("gives back every text as it was added, short ones and ones longer than a piece of memory", () => {
  const text = fc.oneof(
    fc.string({ unit: "grapheme" }),
    fc.nat({ max: 3 }).map((more) => "ü".repeat(32_767 + more)),
  );
  fc.assert(
    fc.property(fc.array(text, { maxLength: 30 }), (texts) => {
      const packed = new PackedTexts();
      for (const it of texts) packed.add(it);
      expect(packed.count).toBe(texts.length);
      expect(texts.map((_, place) => packed.at(place))).toEqual(texts);
      expect(() => packed.at(texts.length)).toThrow(RangeError);
    }),
  );
});
