import fc from "fast-check";
import { expect, it } from "vitest";
import { askedPieces } from "../../station/yield-data/asked-pieces.ts";

const HOUR_MS = 3_600_000;
const WEEK_MS = 7 * 24 * HOUR_MS;

it("each moment of the ranges that lies within is asked of once, as part of its range, and never more than a week together", () => {
  fc.assert(
    fc.property(
      fc.nat(1000),
      fc.array(fc.integer({ min: 1, max: 600 }), { maxLength: 30 }),
      fc.nat(3000),
      fc.nat(3000),
      (begin, lengths, from, hours) => {
        let at = begin;
        const ranges = lengths.map((length) => {
          const from_ms = at * HOUR_MS;
          at += length;
          return { from_ms, to_ms: at * HOUR_MS };
        });
        const within = { from_ms: from * HOUR_MS, to_ms: (from + hours) * HOUR_MS };
        const questions = [...askedPieces(ranges, within)];
        const asked = questions.flat().flatMap(({ range, from: first, until }) => {
          const [from_ms, until_ms] = [Date.parse(first), Date.parse(until)];
          expect(until_ms).toBeGreaterThan(from_ms);
          return Array.from(
            { length: (until_ms - from_ms) / HOUR_MS },
            (_, k) => `${range} ${from_ms / HOUR_MS + k}`,
          );
        });
        const expected = ranges.flatMap(({ from_ms, to_ms }, range) =>
          Array.from({ length: (to_ms - from_ms) / HOUR_MS }, (_, k) => from_ms / HOUR_MS + k)
            .filter((hour) => hour >= from && hour < from + hours)
            .map((hour) => `${range} ${hour}`),
        );
        expect(asked).toEqual(expected);
        for (const pieces of questions) {
          const span_ms = pieces.reduce(
            (sum, { from: first, until }) => sum + Date.parse(until) - Date.parse(first),
            0,
          );
          expect(span_ms).toBeLessThanOrEqual(WEEK_MS);
        }
        // No more questions than it takes.
        expect(questions).toHaveLength(Math.ceil(expected.length / 168));
      },
    ),
  );
});
