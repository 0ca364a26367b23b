import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { LeakStep, ModelLimits } from "../limits/model.ts";
import { type ModelCalibration, NOT_CALIBRATED } from "../station/cycle/attempt.ts";
import { encodeCurve } from "../station/records/curve.ts";
import { RecordError } from "../station/records/record-error.ts";
import type { Traveller } from "../station/records/traveller.ts";
import { type Remeasured, replayCurves } from "../station/replay-curves.ts";
import { bodyCurve, LEARNED, madeTraveller, mLmin, podLeak, podWith, station } from "./made-traveller.ts";

const EARLY: Partial<LeakStep> = {
  settle_s: 0.3,
  measureLongest_s: 12,
  method: { kind: "fitted" },
  earlyVerdict: { measureShortest_s: 2, lookEvery_s: 0.25, falseAccept: 5e-4, falseReject: 5e-4 },
};

function replay(traveller: Traveller, limits: ModelLimits, calibration: ModelCalibration = NOT_CALIBRATED) {
  const [leak, ...others] = replayCurves(traveller, { limits, knowledge: station.knowledge, calibration });
  if (!leak) throw new Error("nothing was replayed");
  expect(others).toEqual([]);
  return leak;
}

function finding(after: Remeasured) {
  if (after.kind === "not measured") throw new Error(after.sentence);
  return after.finding;
}

function recorded(traveller: Traveller) {
  const [leak] = traveller.characteristics;
  if (!leak) throw new Error("no leak rate was recorded");
  return leak;
}

describe("a curve measured again with what it was made with", () => {
  const ways: readonly [string, Partial<LeakStep>, ModelCalibration][] = [
    ["the slope", {}, NOT_CALIBRATED],
    ["the difference", { method: { kind: "difference", subtractsMeanCurve: false } }, NOT_CALIBRATED],
    [
      "the slope less the mean curve",
      { settle_s: 3, method: { kind: "slope", subtractsMeanCurve: true } },
      LEARNED,
    ],
    ["the fit", { ...EARLY, earlyVerdict: null }, LEARNED],
    ["the fit with early verdicts", EARLY, LEARNED],
  ];

  it.each(ways)("gives value, uncertainty and verdict to the last digit, by %s", (_, step, calibration) => {
    const body = fc.record({
      seed: fc.integer({ min: 1, max: 1e6 }),
      leak: fc.double({ min: 0, max: 60, noNaN: true }),
      sharesReading: fc.boolean(),
    });
    fc.assert(
      fc.property(body, ({ seed, leak, sharesReading }) => {
        const limits = podWith(step);
        const curve = bodyCurve(leak, { seed });
        const traveller = madeTraveller({ limits, calibration, curve, sharesReading });
        const { before, after, beforeStep_s } = replay(traveller, limits, calibration);
        const { value, uncertainty, verdict, why } = recorded(traveller);
        expect(before).toEqual({ value, uncertainty, verdict, why: why ?? null });
        expect(finding(after)).toEqual(before);
        expect(after).toMatchObject({ kind: "measured", step_s: beforeStep_s });
      }),
      { numRuns: 15 },
    );
  });

  it("ends at the same look", () => {
    const limits = podWith(EARLY);
    for (const leak of [2, 60]) {
      const traveller = madeTraveller({ limits, calibration: LEARNED, curve: bodyCurve(leak) });
      expect(recorded(traveller).how?.looks?.early).toBe(true);
      const { after } = replay(traveller, limits, LEARNED);
      expect(after).toMatchObject({ kind: "measured", early: true });
    }
  });

  it("judges a reference piece by its certificate", () => {
    const reference = {
      serial: "REF-LEAK-POD-4",
      kind: "leak",
      model: "POD-4",
      certified_m3_s: mLmin(12.5),
      tolerance_m3_s: mLmin(10),
      unit: "mL/min",
      orifice: null,
    } as const;
    const traveller = madeTraveller({ reference, curve: bodyCurve(12.5) });
    const { before, after } = replay(traveller, podWith({}, mLmin(1)));
    expect(finding(after)).toEqual(before);
    expect(before?.verdict).toBe("pass");
  });
});

describe("a curve measured again otherwise", () => {
  it("fails under a lower limit with the value it had, and says why", () => {
    const toTheEnd = { ...EARLY, earlyVerdict: null };
    const made = { limits: podWith(toTheEnd), calibration: LEARNED, curve: bodyCurve(10) };
    const traveller = madeTraveller(made);
    const { before, after } = replay(traveller, podWith(toTheEnd, mLmin(5)), LEARNED);
    expect(before).toMatchObject({ verdict: "pass", value: recorded(traveller).value });
    expect(finding(after)).toEqual({ ...before, verdict: "fail", why: "above the upper limit" });
  });

  it.each([
    ["a shorter settle", { settle_s: 6 }],
    ["a longer settle", { settle_s: 12, measureLongest_s: 4 }],
    ["no settle at all", { settle_s: 0 }],
    ["another method", { method: { kind: "difference", subtractsMeanCurve: false } }],
  ] satisfies [string, Partial<LeakStep>][])("with %s is what the station would have measured", (_, step) => {
    const curve = bodyCurve(10);
    const { after } = replay(madeTraveller({ curve }), podWith(step));
    const made = recorded(madeTraveller({ curve, limits: podWith(step) }));
    expect(finding(after)).toMatchObject({
      value: made.value,
      uncertainty: made.uncertainty,
      verdict: made.verdict,
    });
    expect(finding(after).value).not.toBe(recorded(madeTraveller({ curve })).value);
  });

  it("with early verdicts takes the looks, and the time, that the station would have", () => {
    const curve = bodyCurve(3);
    const { after, beforeStep_s } = replay(madeTraveller({ curve }), podWith(EARLY), LEARNED);
    const made = madeTraveller({ curve, limits: podWith(EARLY), calibration: LEARNED });
    expect(finding(after).value).toBe(recorded(made).value);
    const looked_s = (recorded(made).how?.looks?.at_s ?? Number.NaN) - 3.845;
    expect(after).toMatchObject({ kind: "measured", early: true });
    expect(beforeStep_s).toBeCloseTo(3.83 + 16 + 0.38, 1);
    expect("step_s" in after && after.step_s).toBeCloseTo(3.83 + looked_s + 0.38, 1);
  });

  it("is too short where an early verdict had ended it, and not guessed", () => {
    const made = madeTraveller({ curve: bodyCurve(3), limits: podWith(EARLY), calibration: LEARNED });
    const { after } = replay(made, podLeak);
    expect(after).toMatchObject({ kind: "not measured", why: "curve too short" });
    expect(after).toHaveProperty(
      "sentence",
      expect.stringMatching(/^the curve ends \d\.\d s after the shut-off, 16\.0 s are asked for$/),
    );
  });

  it("is too short by a tenth of a second, and long enough without it", () => {
    const traveller = madeTraveller({ curve: bodyCurve(3) });
    expect(replay(traveller, podWith({ settle_s: 10.1 })).after).toHaveProperty("why", "curve too short");
    expect(replay(traveller, podWith({ settle_s: 10.1, measureLongest_s: 5.8 })).after.kind).toBe("measured");
  });

  it("is not measured by a method that knows nothing of the model yet", () => {
    const { after } = replay(madeTraveller({ curve: bodyCurve(3) }), podWith({ method: { kind: "fitted" } }));
    expect(after).toMatchObject({ kind: "not measured", why: "no settle calibration" });
  });

  it("is not held against limits for another test pressure", () => {
    const { after } = replay(madeTraveller({ curve: bodyCurve(3) }), podWith({ testPressure_Pa: 3_000 }));
    expect(after).toMatchObject({ kind: "not measured", why: "other test pressure" });
  });

  it("says what it would be in the unit of the new limits", () => {
    const traveller = madeTraveller({ curve: bodyCurve(10) });
    const inLitres = {
      ...podLeak,
      characteristics: podLeak.characteristics.map((one) => ({ ...one, unit: "L/h" })),
    };
    const { before, after } = replay(traveller, inLitres);
    expect(before?.value).toBeCloseTo((recorded(traveller).value ?? Number.NaN) * 0.06, 12);
    expect(finding(after).value).toBeCloseTo(before?.value ?? Number.NaN, 12);
  });

  it("is compared with what was recorded under another name", () => {
    const renamed = {
      ...podLeak,
      characteristics: podLeak.characteristics.map((one) => ({ ...one, name: "tightness" })),
    };
    const { before, after } = replay(madeTraveller({ curve: bodyCurve(10) }), renamed);
    expect(finding(after)).toEqual(before);
  });
});

describe("an attempt without a measured curve", () => {
  const measured = madeTraveller({ curve: bodyCurve(10) });

  it("keeps its verdict when the body could not be filled, whatever the limit", () => {
    const [settle] = measured.curves;
    const gross: Traveller = {
      ...measured,
      verdict: "fail",
      reasons: [{ code: "GROSS_LEAK", sentence: "It could not be filled." }],
      characteristics: [
        { ...recorded(measured), value: 800, uncertainty: null, expanded_uncertainty: null, verdict: "fail" },
      ],
      curves: settle ? [{ ...settle, phase: "gross" }] : [],
    };
    const { before, after } = replay(gross, podWith({}, mLmin(1e6)));
    expect(after.kind).toBe("gross leak");
    expect(finding(after)).toEqual(before);
    expect(before).toMatchObject({ value: 800, verdict: "fail" });
  });

  it("is counted as without a curve when it was interrupted", () => {
    const interrupted: Traveller = { ...measured, ended_at: null, duration_s: null, curves: [], phases: [] };
    const { after } = replay(interrupted, podLeak);
    expect(after).toMatchObject({ kind: "not measured", why: "no curve" });
  });

  it("is not measured when it was the hose's and not the body's", () => {
    const reasons = [{ code: "BLOCKED_FIXTURE", sentence: "The hose was shut off." }];
    const { after } = replay({ ...measured, verdict: "void", reasons }, podLeak);
    expect(after).toMatchObject({ kind: "not measured", why: "no curve" });
  });

  it("is measured as far as its settling goes, no farther, when it was broken off while measuring", () => {
    const brokenOff = {
      ...measured,
      curves: measured.curves.filter(({ phase }) => phase === "settle"),
      phases: measured.phases.filter(({ phase }) => phase !== "vent"),
    };
    expect(replay(brokenOff, podLeak).after).toHaveProperty("why", "curve too short");
    const { after } = replay(brokenOff, podWith({ settle_s: 5, measureLongest_s: 4 }));
    expect(after).toMatchObject({ kind: "measured", step_s: null });
  });

  it("is void where the room was not read", () => {
    const { after } = replay({ ...measured, ambient: null }, podLeak);
    expect(finding(after)).toMatchObject({ value: null, verdict: "void" });
  });
});

describe("a stored curve that can't be trusted", () => {
  it("is refused when its bytes are not a curve", () => {
    const traveller = madeTraveller({ curve: bodyCurve(10) });
    const broken = { ...traveller, curves: traveller.curves.map((curve) => ({ ...curve, samples: 3 })) };
    expect(() => replay(broken, podLeak)).toThrow(RecordError);
  });

  it("is void when the gauge stood still, as it would have been", () => {
    const traveller = madeTraveller({ curve: bodyCurve(10) });
    const still = (from_s: number, n: number) =>
      encodeCurve(
        Array.from({ length: n }, (_, i) => ({ t_s: from_s + i * 0.02, value: 4_800 })),
        "mPa",
      );
    const frozen = {
      ...traveller,
      curves: [
        { step: "leak", phase: "settle", channel: "leak_pressure", ...still(3.845, 501) },
        { step: "leak", phase: "measure", channel: "leak_pressure", ...still(13.845, 301) },
      ],
    };
    expect(finding(replay(frozen, podLeak).after)).toMatchObject({ value: null, verdict: "void" });
  });
});
