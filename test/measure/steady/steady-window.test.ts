import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { isSteady, isStillRising, windowLengths_s } from "../../../station/measure/steady/steady-window.ts";
import type { Trend } from "../../../station/measure/steady/trend.ts";

const RULE = { within: 0.01, window_s: 0.4, ahead_s: 2 };

/** 12 kPa that may move 120 Pa in the 2 s ahead, by 60 Pa/s. */
function trend(changes: Partial<Trend> = {}): Trend {
  return {
    mean: 12_000,
    slope: 0,
    slopeUncertainty: 0,
    meanUncertainty: 3,
    deviation: 15,
    n: 20,
    ...changes,
  };
}

describe("a quantity", () => {
  it.each([
    [59.9, 0, true],
    [-59.9, 0, true],
    [60.1, 0, false],
    [-60.1, 0, false],
    [20, 19.9, true],
    [20, 20.1, false],
    [0, 29.9, true],
    [0, 30.1, false],
  ])(
    "with a slope of %d Pa/s, known within %d Pa/s, of 60 Pa/s allowed is steady: %s",
    (slope, slopeUncertainty, steady) => {
      expect(isSteady(trend({ slope, slopeUncertainty }), RULE, 0)).toBe(steady);
    },
  );

  it("that is nearly nothing may move as far as its gauge is certified", () => {
    const nearlyNothing = trend({ mean: 50, slope: 4.9, deviation: 2 });
    expect(isSteady(nearlyNothing, RULE, 10)).toBe(true);
    expect(isSteady(nearlyNothing, RULE, 9)).toBe(false);
  });

  it.each([
    [239, true],
    [241, false],
  ])("that swings about its trend by %d Pa, standard deviation, is steady: %s", (deviation, steady) => {
    expect(isSteady(trend({ deviation }), RULE, 0)).toBe(steady);
  });
});

describe("a quantity that never became steady", () => {
  /** Of 60 Pa/s allowed; shortest window first, as 1.5 s to 3.7 s after 6 s. */
  const rising = (slopes: readonly number[], slopeUncertainty = 7) =>
    slopes.map((slope) => trend({ slope, slopeUncertainty }));
  const newer = (slope: number) => trend({ slope, slopeUncertainty: 20 });

  it("was still rising when every window says so, the longer ones by more than a steady one may", () => {
    expect(isStillRising(rising([50, 75, 105, 170, 300]), newer(25), RULE, 0)).toBe(true);
  });

  it.each([
    ["hardly at last, whatever came before", rising([29, 75, 105, 170, 300]), newer(25)],
    ["by less than it may over some longer window", rising([50, 59, 105, 170, 300]), newer(25)],
    ["not surely at last", rising([50, 75, 105, 170, 300], 13), newer(25)],
    [
      "not surely over a longer window",
      [...rising([50, 75]), trend({ slope: 90, slopeUncertainty: 46 })],
      newer(25),
    ],
    ["and has just come to its end", rising([50, 75, 105, 170, 300]), newer(-16)],
    ["in no window, as there is none", [], newer(25)],
  ])("was not when it rose %s", (_, windows, last) => {
    expect(isStillRising(windows, last, RULE, 0)).toBe(false);
  });

  it("must rise by more than its gauge is certified to, where that is more", () => {
    const windows = rising([50, 75, 105]);
    expect(isStillRising(windows, newer(25), RULE, 140)).toBe(true);
    expect(isStillRising(windows, newer(25), RULE, 160)).toBe(false);
  });
});

describe("the windows that steadiness is looked for in", () => {
  it("leave out what came first after the command, and grow with the time since", () => {
    fc.assert(
      fc.property(fc.double({ min: 0, max: 60, noNaN: true }), (elapsed_s) => {
        const lengths = windowLengths_s(elapsed_s, 0.4);
        for (const length_s of lengths) {
          expect(length_s).toBeGreaterThanOrEqual(Math.max(0.4, elapsed_s / 4));
          expect(length_s).toBeLessThanOrEqual(0.7 * elapsed_s);
        }
        expect(lengths).toEqual([...lengths].sort((a, b) => a - b));
        if (elapsed_s > 0.6) expect(lengths.length).toBeGreaterThan(0);
      }),
    );
  });
});
