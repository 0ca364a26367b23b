import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { ratedInputHighest_W } from "../../limits/rated-input.ts";

describe("the deviation of rated input for motor-operated appliances, IEC 60335-1 Table 1 (from memory)", () => {
  test.each([
    { rated_W: 25, highest_W: 30 },
    { rated_W: 299, highest_W: 358.8 },
    { rated_W: 300, highest_W: 360 },
    { rated_W: 350, highest_W: 410 },
    { rated_W: 400, highest_W: 460 },
    { rated_W: 1200, highest_W: 1380 },
    { rated_W: 1400, highest_W: 1610 },
  ])("an appliance rated $rated_W W may take $highest_W W", ({ rated_W, highest_W }) => {
    expect(ratedInputHighest_W(rated_W)).toBeCloseTo(highest_W, 9);
  });

  test("60 W and 15 % meet at 400 W, and a larger rating never allows less", () => {
    expect(ratedInputHighest_W(300.001)).toBeCloseTo(360.001, 9);
    const rating = fc.double({ min: 0.1, max: 5000, noNaN: true });
    fc.assert(
      fc.property(rating, rating, (a, b) => {
        const [less, more] = a < b ? [a, b] : [b, a];
        expect(ratedInputHighest_W(more)).toBeGreaterThanOrEqual(ratedInputHighest_W(less));
      }),
    );
  });

  test.each([0, -5, Number.NaN, Number.POSITIVE_INFINITY])("%d W is no rating", (rated_W) => {
    expect(() => ratedInputHighest_W(rated_W)).toThrow(RangeError);
  });
});
