import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { randomStream } from "../../sim/random.ts";
import { type ReferenceReading, referenceTrend } from "../../station/quality/reference-trend.ts";

const SERIAL = "REF-LEAK-POD-4";
const [CERTIFIED, TOLERANCE] = [12.5, 2.5];

function readingsOf(values: readonly (number | null)[], certified = CERTIFIED): ReferenceReading[] {
  return values.map((measured) => ({ measured, certified, tolerance: TOLERANCE, unit: "mL/min" }));
}

const trendOf = (values: readonly (number | null)[]) => referenceTrend(SERIAL, readingsOf(values));

/** Readings of one piece on one station: off by this, and scattering by that. */
function* drawn(seed: number, off: number, scatter: number): Generator<number> {
  const random = randomStream(seed, "readings of a reference piece");
  for (;;) yield CERTIFIED + off + scatter * random.normal();
}

function take(source: Generator<number>, count: number): number[] {
  return Array.from({ length: count }, () => source.next().value as number);
}

describe("a reference piece's trend", () => {
  it("is none before a reading, and the readings' mean at first", () => {
    expect(trendOf([])).toBeNull();
    expect(trendOf([12.4, 12.8])).toEqual({
      ewma: expect.closeTo(12.6, 9),
      certified: 12.5,
      tolerance: 2.5,
      unit: "mL/min",
      warning: null,
      readings: [12.4, 12.8],
    });
  });

  it("warns in words once the average has used up three fifths of the tolerance, before a reading fails", () => {
    const values = [13.1, 13.4, 13.6, 13.8, 14.0, 14.1, 14.2, 14.2, 14.4, 14.5, 14.6, 14.6, 14.5, 14.6, 14.8];
    expect(values.every((value) => value < CERTIFIED + TOLERANCE)).toBe(true);
    expect(trendOf(values)?.warning).toBe(
      "REF-LEAK-POD-4 has drifted: averages 14.4, certified 12.5 +- 2.5 mL/min. Production goes on; tell the quality engineer before it fails.",
    );
  });

  it("warns of a piece that reads other than in its own first checks, long before that much of the tolerance is gone", () => {
    const first = [12.5, 12.52, 12.48, 12.51, 12.49, 12.5, 12.53, 12.47];
    const now = Array.from({ length: 12 }, (_, i) => 13.2 + 0.02 * Math.sin(i));
    expect(trendOf([...first, ...now])?.warning).toMatch(
      /^REF-LEAK-POD-4 reads other than it did: averages 13\.1, in its first 8 checks 12\.5, certified 12\.5 \+- 2\.5 mL\/min\./,
    );
  });

  it("says nothing of a change that is sure and small", () => {
    const first = [12.5, 12.52, 12.48, 12.51, 12.49, 12.5, 12.53, 12.47];
    const now = Array.from({ length: 12 }, () => 12.9);
    expect(trendOf([...first, ...now])?.warning).toBeNull();
  });

  it.each([-1, 1])(
    "warns of a slow drift before the piece fails, drifting by %s tenth of the tolerance in ten checks",
    (way) => {
      const outcomes = Array.from({ length: 100 }, (_, seed) => {
        const noise = drawn(seed, 0, TOLERANCE / 8);
        const values: number[] = [];
        for (let check = 0; ; check++) {
          const value = (noise.next().value as number) + way * 0.01 * TOLERANCE * check;
          if (Math.abs(value - CERTIFIED) > TOLERANCE) return "failed first";
          values.push(value);
          if (trendOf(values)?.warning) return "warned first";
        }
      });
      expect(outcomes.filter((outcome) => outcome === "failed first")).toEqual([]);
    },
  );

  it.each([
    { scatter: 1 / 20, off: 0.3 },
    { scatter: 1 / 8, off: 0.2 },
    { scatter: 1 / 5, off: 0 },
    // As the demo's leak piece of the compact body reads.
    { scatter: 0.155, off: 0.38 },
  ])(
    "hardly ever warns on a sound station in 200 checks: scatter $scatter of the tolerance, off by $off of it",
    ({ scatter, off }) => {
      const stations = 100;
      let warned = 0;
      for (let seed = 0; seed < stations; seed++) {
        const random = randomStream(seed, "station");
        const values = take(
          drawn(seed, off * (random.chance(0.5) ? 1 : -1) * TOLERANCE, scatter * TOLERANCE),
          200,
        );
        const isWarned = values.some((_, i) => trendOf(values.slice(0, i + 1))?.warning);
        if (isWarned) warned++;
      }
      // Of 600 such stations 0, 1.2, 3.2 and 3.0 % warned.
      expect(warned).toBeLessThanOrEqual(0.05 * stations);
    },
  );

  it("is not carried away by a piece that was put on badly once: that check failed, and was told", () => {
    const values = [12.4, 12.6, 12.5, 12.7, 12.3, 12.5, 12.6, 12.4, 12.5];
    expect(trendOf([...values, 480, null, 12.5])?.warning).toBeNull();
    expect(trendOf([...values, 480])?.ewma).toBe(trendOf(values)?.ewma);
  });

  it("begins anew with a new certificate", () => {
    const old = readingsOf(Array.from({ length: 20 }, () => 14.6));
    const anew = readingsOf([14.5, 14.7], 14.6);
    expect(referenceTrend(SERIAL, [...old, ...anew])).toMatchObject({
      certified: 14.6,
      readings: [14.5, 14.7],
      warning: null,
    });
  });

  it("keeps the newest thirty readings, and an average between the smallest and the largest it has seen", () => {
    const reading = fc.double({ min: CERTIFIED - TOLERANCE, max: CERTIFIED + TOLERANCE, noNaN: true });
    fc.assert(
      fc.property(fc.array(reading, { minLength: 1, maxLength: 80 }), (values) => {
        const trend = trendOf(values);
        expect(trend?.readings).toEqual(values.slice(-30));
        expect(trend?.ewma).toBeGreaterThanOrEqual(Math.min(...values) - 1e-9);
        expect(trend?.ewma).toBeLessThanOrEqual(Math.max(...values) + 1e-9);
      }),
    );
  });
});
