import { describe, expect, it } from "vitest";
import type { PastAttempt } from "../station/records/retest.ts";
import { retestLeft } from "../station/retest-left.ts";

const rule = { afterFail: 2, afterVoid: 1, reasons: ["seal was not seated"], pause_s: 30 };

function attempts(...verdicts: readonly ("fail" | "void")[]): PastAttempt[] {
  return verdicts.map((verdict, at) => ({
    sha256: String(at).padStart(64, "0"),
    recordKind: "unit",
    attempt: at + 1,
    kind: at === 0 ? "first" : "retest",
    verdict,
    draft: false,
  }));
}

const left = (...verdicts: readonly ("fail" | "void")[]) =>
  retestLeft("POD531813", attempts(...verdicts), [], rule, 1000);

describe("what the retest rule still allows a unit", () => {
  it("is one test less after each fail, none after the last, and then says why", () => {
    expect(left("fail")).toMatchObject({ tests: 2, refusal: null, from_ms: 31_000, reasons: rule.reasons });
    expect(left("fail", "fail")).toMatchObject({ tests: 1, refusal: null });
    expect(left("fail", "fail", "fail")).toMatchObject({
      tests: 0,
      refusal: { code: "ATTEMPTS_USED_UP" },
    });
  });

  it("does not shrink by a void, until there were too many of those", () => {
    expect(left("fail", "void")).toMatchObject({ tests: 2, refusal: null });
    expect(left("void", "void")).toMatchObject({ tests: 0, refusal: { code: "VOIDS_USED_UP" } });
  });
});
