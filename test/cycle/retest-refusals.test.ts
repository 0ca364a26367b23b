import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { refuseRetest } from "../../station/cycle/retest-refusals.ts";

const FAILED_ms = Date.parse("2026-01-05T06:00:00.000Z");
const failed = {
  recordKind: "unit",
  draft: false,
  verdict: "fail",
  started_at: "2026-01-05T05:59:40.000Z",
  ended_at: "2026-01-05T06:00:00.000Z",
} as const;
const rule = { afterFail: 1, afterVoid: 2, reasons: ["hose was off", "unit was bumped"], pause_s: 30 };
const scan = { serial: "POD1", parts: {} };

const refusedAfter = (seconds: number, history = [failed] as Parameters<typeof refuseRetest>[1]) =>
  refuseRetest(scan, history, rule, { now_ms: FAILED_ms + seconds * 1000, sinceAsked_s: 0 });

describe("the pause before a retest", () => {
  it.each([
    [0, "in 30 s"],
    [12.5, "in 18 s"],
    [29.999, "in 1 s"],
  ])("has not passed %s s after the fail: test it again %s", (seconds, words) => {
    expect(refusedAfter(seconds)).toMatchObject([
      { code: "RETEST_TOO_SOON", sentence: expect.stringContaining(words) },
    ]);
  });

  it.each([30, 31, 1e6])("has passed after %s s", (seconds) => {
    expect(refusedAfter(seconds)).toEqual([]);
  });

  it("counts from the fail, whatever was void or a draft since", () => {
    const later = { ...failed, ended_at: "2026-01-05T06:00:25.000Z" };
    const history = [failed, { ...later, verdict: "void" as const }, { ...later, draft: true }];
    expect(refusedAfter(31, history)).toEqual([]);
  });

  it("is waited for in full where the clock was put back, and no longer", () => {
    fc.assert(
      fc.property(fc.integer({ min: -1e9, max: 1e9 }), fc.nat(60), (seconds, sinceAsked_s) => {
        const now_ms = FAILED_ms + (seconds + sinceAsked_s) * 1000;
        const refused = refuseRetest(scan, [failed], rule, { now_ms, sinceAsked_s });
        const left_s = rule.pause_s - Math.max(seconds + sinceAsked_s, sinceAsked_s);
        expect(refused.map(({ code }) => code)).toEqual(left_s > 0 ? ["RETEST_TOO_SOON"] : []);
        if (left_s > 0) expect(refused[0]?.sentence).toContain(`in ${left_s} s`);
      }),
    );
  });

  it("says that the clock was put back instead of how long ago the fail was", () => {
    expect(refusedAfter(-3600)[0]?.sentence).toMatch(/clock was put back.* test it again in 30 s/);
  });
});

it("a retest's reason is one of the limit file's, or still to be chosen", () => {
  const chosen = (retestReason: number) =>
    refuseRetest({ ...scan, retestReason }, [failed], rule, {
      now_ms: FAILED_ms + 60_000,
      sinceAsked_s: 0,
    });
  expect(chosen(1)).toEqual([]);
  expect(chosen(2)).toEqual([]);
  expect(chosen(3)).toMatchObject([
    { code: "RETEST_REASON_MISSING", sentence: expect.stringContaining("1 hose was off, 2 unit was bumped") },
  ]);
});
