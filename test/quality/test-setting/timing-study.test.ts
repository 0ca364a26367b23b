import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { DecisionRule } from "../../../limits/model.ts";
import { randomStream } from "../../../sim/random.ts";
import { globalRisks } from "../../../station/quality/test-setting/global-risk.ts";
import { roundedDown, upperLine } from "../../../station/quality/test-setting/limit-lines.ts";
import { acceptanceLimit } from "../../../station/quality/test-setting/setting-risks.ts";
import { timingGrid } from "../../../station/quality/test-setting/timing-grid.ts";
import { studyTiming, type TimingInput } from "../../../station/quality/test-setting/timing-study.ts";

const GUARDED: DecisionRule = { kind: "guarded", conformance: 0.95 };
const SETTINGS = [1, 2, 4, 8, 16].map((measure_s) => ({ settle_s: 0.3, measure_s }));

/** Curves whose noise falls as time to the power 3/2, as a slope's does, and budgets that say so times `told`. */
function made({
  told = 1,
  shift = 0,
  seed = 1,
  ...changed
}: Partial<TimingInput> & { told?: number; shift?: number; seed?: number } = {}) {
  const random = randomStream(seed, "timing");
  const noise = ({ measure_s }: { measure_s: number }) => 40 / measure_s ** 1.5;
  const truths = Array.from({ length: 200 }, (_, i) => 5 + (i % 60));
  const input: TimingInput = {
    limit: 60,
    rule: GUARDED,
    settings: SETTINGS,
    curves: truths.map((truth) => ({
      longest: { value: truth, constant: 0.1, relative: 0 },
      bySetting: SETTINGS.map((setting) => ({
        value: truth + shift / setting.measure_s + noise(setting) * random.normal(),
        constant: told * noise(setting),
        relative: 0,
      })),
    })),
    population: truths.map((mean) => ({ mean, sd: 0.1, weight: 1 })),
    grossLeaks: 3,
    mostUncertain: 20,
    risks: { falseAccept: 0.001, falseReject: 0.05 },
    ...changed,
  };
  return input;
}

describe("a timing study", () => {
  it("chooses the shortest setting whose risks are kept, and tells the risks of one that does not", () => {
    const found = studyTiming(made());
    expect(found.chosen?.measure_s).toBe(8);
    expect(found.settings.map(({ keeps }) => keeps)).toEqual([false, false, false, true, true]);
    const four = found.settings[2];
    expect(four?.falseReject).toBeGreaterThan(0.05);
    expect(found.units).toBe(203);
  });

  it("counts a shift upwards for good units rejected, and not on it to keep bad ones out", () => {
    const [plain, up, down] = [0, 40, -40].map((shift) => studyTiming(made({ shift })).settings[2]);
    expect(up?.bias).toBeGreaterThan(8);
    expect(up?.falseReject).toBeGreaterThan(1.2 * (plain?.falseReject ?? Number.NaN));
    expect(up?.falseAccept).toBeGreaterThan(0.9 * (plain?.falseAccept ?? Number.NaN));
    expect(up?.acceptedAtLimit).toBeGreaterThan(0.9 * (plain?.acceptedAtLimit ?? Number.NaN));
    expect(down?.acceptedAtLimit).toBeGreaterThan(2 * (plain?.acceptedAtLimit ?? Number.NaN));
  });

  it("passes nobody where a third of the limit is uncertain, and never chooses that", () => {
    const { settings, chosen } = studyTiming(made({ risks: { falseAccept: 0.49, falseReject: 0.49 } }));
    expect(settings[0]).toMatchObject({ passesNobody: true, keeps: false });
    expect(chosen?.measure_s).toBe(2);
  });

  it("believes the scatter it sees and not a budget that says less, so that its false accepts are found", () => {
    const honest = studyTiming(made({ seed: 3 }));
    const bold = studyTiming(made({ seed: 3, told: 0.25 }));
    for (const k of [2, 3]) {
      expect(bold.settings[k]?.spread).toBeCloseTo(honest.settings[k]?.spread ?? Number.NaN, 9);
      expect(bold.settings[k]?.error).toBeGreaterThan(3.5 * (bold.settings[k]?.uncertainty ?? Number.NaN));
      expect(bold.settings[k]?.falseAccept).toBeGreaterThan(
        2 * (honest.settings[k]?.falseAccept ?? Number.NaN),
      );
      expect(bold.settings[k]?.acceptedAtLimit).toBeGreaterThan(0.2);
    }
  });

  it("counts a shift against the whole curves, towards tight as false accepts", () => {
    const shifted = studyTiming(made({ shift: -60 })).settings[3];
    const straight = studyTiming(made()).settings[3];
    expect(shifted?.bias).toBeCloseTo((straight?.bias ?? Number.NaN) - 7.5, 6);
    expect(shifted?.falseAccept).toBeGreaterThan(5 * (straight?.falseAccept ?? Number.NaN));
  });

  it("is not fooled by a short setting that keeps the risks where a longer one does not", () => {
    const input = made();
    const lucky = input.curves.map((curve) => ({
      ...curve,
      bySetting: curve.bySetting.map((rate, k) => (k === 1 ? { ...curve.longest } : rate)),
    }));
    const found = studyTiming({ ...input, curves: lucky });
    expect(found.settings[1]).toMatchObject({ spread: 0, keeps: false });
    expect(found.chosen?.measure_s).toBe(8);
  });

  it("does not choose a setting that gives no verdict of more curves than may be rejected", () => {
    const input = made();
    const voids = input.curves.map((curve, i) => ({
      ...curve,
      bySetting: curve.bySetting.map((rate, k) => (k <= 3 && i % 10 === 0 ? null : rate)),
    }));
    const found = studyTiming({ ...input, curves: voids });
    expect(found.settings[3]).toMatchObject({ withoutVerdict: 20, keeps: false });
    expect(found.chosen?.measure_s).toBe(16);
  });

  it("says that no setting keeps what none can", () => {
    expect(studyTiming(made({ risks: { falseAccept: 1e-9, falseReject: 1e-9 } })).chosen).toBeNull();
  });

  it("is refused with too few curves or units, by how many", () => {
    const input = made();
    expect(() => studyTiming({ ...input, curves: input.curves.slice(0, 9) })).toThrow(
      /^Only 9 curves are long enough; 10 at least/,
    );
    expect(() => studyTiming({ ...input, population: input.population.slice(0, 16) })).toThrow(
      /^Only 19 units have a leak rate; 20/,
    );
  });

  it("has risks that are probabilities, and fewer false rejects the less uncertain it is", () => {
    const drawn = fc.record({
      told: fc.double({ min: 0.2, max: 5, noNaN: true }),
      seed: fc.integer({ min: 1, max: 1e6 }),
      limit: fc.double({ min: 10, max: 100, noNaN: true }),
    });
    fc.assert(
      fc.property(drawn, ({ limit, ...rest }) => {
        const { settings, conforming } = studyTiming(made({ ...rest, limit, mostUncertain: limit / 3 }));
        for (const it of settings) {
          for (const value of [it.falseAccept, it.falseReject, it.acceptedAtLimit]) {
            expect(value).toBeGreaterThanOrEqual(0);
            expect(value).toBeLessThanOrEqual(1);
          }
          expect(it.falseReject).toBeLessThanOrEqual(conforming + 1e-9);
          expect(it.acceptance).toBeLessThanOrEqual(limit);
        }
      }),
      { numRuns: 4 },
    );
  });
});

describe("global risks", () => {
  it("of accepting everybody are the bad units, and of accepting nobody the good ones", () => {
    const parts = fc.array(
      fc.record({
        mean: fc.double({ min: -50, max: 50, noNaN: true }),
        sd: fc.double({ min: 0, max: 20, noNaN: true }),
        weight: fc.double({ min: 0.1, max: 5, noNaN: true }),
      }),
      { minLength: 1, maxLength: 6 },
    );
    fc.assert(
      fc.property(parts, (production) => {
        const all = globalRisks(production, { upper: 10 }, () => 1);
        const nobody = globalRisks(production, { upper: 10 }, () => 0);
        expect(all.falseReject).toBe(0);
        expect(all.falseAccept + all.conforming).toBeCloseTo(1, 9);
        expect(nobody.falseAccept).toBe(0);
        expect(nobody.falseReject).toBeCloseTo(nobody.conforming, 9);
      }),
    );
  });
});

describe("the acceptance limit", () => {
  it("leaves a value on it just the conformance asked for, its uncertainty growing with it", () => {
    const y = acceptanceLimit(60, GUARDED, 3, 0.05);
    expect((60 - y) / Math.hypot(3, 0.05 * y)).toBeCloseTo(1.6448536269514722, 9);
    expect(acceptanceLimit(60, { kind: "simple" }, 3, 0.05)).toBe(60);
  });
});

describe("the grid of settings", () => {
  it("has no pair longer than the curves, the present one among it, and the shortest first", () => {
    const own = [{ settle_s: 0.3, measure_s: 16 }];
    const grid = timingGrid({ settles_s: [0.3, 2], measures_s: [0.3, 1, 20], longest_s: 16.3, own });
    expect(grid).toContainEqual({ settle_s: 0.3, measure_s: 16 });
    const totals = grid.map(({ settle_s, measure_s }) => settle_s + measure_s);
    expect(Math.max(...totals)).toBeLessThan(16.31);
    expect(totals).toEqual([...totals].sort((a, b) => a - b));
    expect(new Set(grid.map((it) => JSON.stringify(it))).size).toBe(grid.length);
  });
});

describe("a limit as a line", () => {
  it("is never above what was worked out, and less than a hundredth below", () => {
    fc.assert(
      fc.property(fc.double({ min: 1e-3, max: 1e6, noNaN: true }), (limit) => {
        expect(roundedDown(limit)).toBeLessThanOrEqual(limit * (1 + 1e-10));
        expect(roundedDown(limit)).toBeGreaterThan(0.99 * limit);
        expect(roundedDown(roundedDown(limit))).toBe(roundedDown(limit));
      }),
    );
    expect(upperLine(52.987, "mL/min @ 20 degC")).toBe("upper: 52.9 mL/min @ 20 degC");
  });
});
