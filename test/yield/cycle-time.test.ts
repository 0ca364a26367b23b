import fc from "fast-check";
import { expect, it } from "vitest";
import { CycleTimes } from "../../station/yield/cycle-time.ts";

function figuresOf(...durations_s: readonly (number | null)[]) {
  const times = new CycleTimes();
  for (const duration_s of durations_s) times.add(duration_s);
  return times.figures();
}

it("is nothing without a test, and of one test that test's time", () => {
  expect(figuresOf()).toBeNull();
  expect(figuresOf(null)).toBeNull();
  expect(figuresOf(21.4)).toEqual({ tests: 1, median_s: 21.4, p95_s: 21.4 });
});

it("has the middle test as its median, of an even number the mean of the two in the middle", () => {
  expect(figuresOf(3, 1, 2)?.median_s).toBe(2);
  expect(figuresOf(4, 1, 3, 2)?.median_s).toBe(2.5);
  expect(figuresOf(1, 1, 1, 9)?.median_s).toBe(1);
});

it("has 19 of 20 tests at or below its 95 % value, and between the 19th and the 20th where both would do", () => {
  const twenty = Array.from({ length: 20 }, (_, k) => k + 1);
  expect(figuresOf(...twenty)?.p95_s).toBe(19.5);
  expect(figuresOf(...twenty.slice(0, 19))?.p95_s).toBe(19);
  expect(figuresOf(...twenty, 21)?.p95_s).toBe(20);
});

it("takes a test whose end nobody saw for none", () => {
  expect(figuresOf(1, null, 3)).toEqual({ tests: 2, median_s: 2, p95_s: 3 });
});

it("comes out the same whether tests are added one by one or counted together, in any order", () => {
  const some = fc.array(
    fc.integer({ min: 0, max: 40 }).map((tenths) => tenths / 10),
    { minLength: 1, maxLength: 80 },
  );
  fc.assert(
    fc.property(some, (durations_s) => {
      const together = new CycleTimes();
      const counted = new Map<number, number>();
      for (const it of durations_s) counted.set(it, (counted.get(it) ?? 0) + 1);
      for (const [duration_s, tests] of [...counted].reverse()) together.add(duration_s, tests);
      expect(together.figures()).toEqual(figuresOf(...durations_s));
    }),
  );
});
