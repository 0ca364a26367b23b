import fc from "fast-check";
import { describe, expect, it, test } from "vitest";
import { CURVE_UNITS, decodeCurve, encodeCurve, quantise } from "../../station/records/curve.ts";
import { decay } from "./example-attempt.ts";

const units = fc.constantFrom(...CURVE_UNITS);
const samples = fc.array(
  fc.record({
    t_s: fc.double({ min: -1e5, max: 1e5, noNaN: true }),
    value: fc.double({ min: -1e6, max: 1e6, noNaN: true }),
  }),
);

describe("a stored curve", () => {
  it("is read back as exactly the quantised samples", () => {
    fc.assert(
      fc.property(samples, units, (curve, unit) => {
        expect(decodeCurve(encodeCurve(curve, unit))).toEqual(quantise(curve, unit));
      }),
    );
  });

  it("is the same whether the samples were quantised before or not", () => {
    fc.assert(
      fc.property(samples, units, (curve, unit) => {
        const once = quantise(curve, unit);
        expect(quantise(once, unit)).toEqual(once);
        expect(encodeCurve(once, unit)).toEqual(encodeCurve(curve, unit));
      }),
    );
  });

  it("keeps a sample to half a microsecond and half a millipascal", () => {
    fc.assert(
      fc.property(samples, (curve) => {
        quantise(curve, "mPa").forEach((kept, at) => {
          expect(Math.abs(kept.t_s - (curve[at]?.t_s ?? 0))).toBeLessThanOrEqual(0.5000001e-6);
          expect(Math.abs(kept.value - (curve[at]?.value ?? 0))).toBeLessThanOrEqual(0.5000001e-3);
        });
      }),
    );
  });

  it("is written as documented: second differences of time, differences of value, zigzag, varint, base64", () => {
    const curve = encodeCurve(
      [
        { t_s: 0.000001, value: -0.001 },
        { t_s: 0.000003, value: 0.299 },
      ],
      "mPa",
    );
    // 1 -> 02; -1 -> 01; 2 - 1 = 1 -> 02; 299 - (-1) = 300 -> 600 = 4 * 128 + 88 -> d8 04
    expect(Buffer.from(curve.data, "base64").toString("hex")).toBe("020102d804");
    expect(curve).toMatchObject({ samples: 2, time_unit: "us", value_unit: "mPa" });
  });

  it("holds 2^50 steps either way and refuses more, and what is not a number", () => {
    const largest = 2 ** 50 / 1000;
    const extremes = [largest, -largest, largest].map((value, at) => ({ t_s: at % 2 ? -1e9 : 1e9, value }));
    expect(decodeCurve(encodeCurve(extremes, "mPa"))).toEqual(extremes);
    for (const value of [largest + 0.001, Number.NaN, Number.NEGATIVE_INFINITY]) {
      expect(() => encodeCurve([{ t_s: 0, value }], "mPa")).toThrow(
        expect.objectContaining({ code: "INVALID_RECORD" }),
      );
    }
  });

  it("takes at most six characters a sample for a noisy pressure read every 10.25 ms", () => {
    expect(encodeCurve(decay(1500), "mPa").data.length).toBeLessThan(1500 * 6);
  });

  test.each([
    ["a sample cut in the middle", "AgEC", 2, "ends in the middle"],
    ["half a number at the end", "AgEC2A==", 2, "ends in the middle"],
    ["another count", "AgEC2AQ=", 3, "holds 2 samples and claims 3"],
    ["a number longer than needed", "ggABAtgE", 2, "longer than needed"],
    ["a number too large", "//////////8BAQ==", 1, "too large"],
    ["letters outside base64", "AgEC2A*=", 2, "not base64"],
    ["missing padding", "AgEC2AQ", 2, "not base64"],
    ["a space", "AgEC 2AQ=", 2, "not base64"],
  ])("is refused with %s", (_, data, count, why) => {
    const good = encodeCurve([], "mPa");
    expect(() => decodeCurve({ ...good, data, samples: count })).toThrow(
      expect.objectContaining({ code: "CORRUPT", message: expect.stringContaining(why) }),
    );
  });

  it("has one text only: whatever is accepted is written the same again", () => {
    fc.assert(
      fc.property(fc.uint8Array({ maxLength: 24 }), fc.nat(12), (bytes, count) => {
        const stored = {
          ...encodeCurve([], "mPa"),
          data: Buffer.from(bytes).toString("base64"),
          samples: count,
        };
        try {
          expect(encodeCurve(decodeCurve(stored), "mPa")).toEqual(stored);
        } catch (error) {
          expect(error).toMatchObject({ code: "CORRUPT" });
        }
      }),
    );
  });
});
