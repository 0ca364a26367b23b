import { describe, expect, it } from "vitest";
import { sameFail } from "../../station/cycle/same-fail.ts";
import { failureNames } from "../../station/records/failure-names.ts";
import type { Traveller } from "../../station/records/traveller.ts";
import { shortReason } from "../../station/report-text.ts";
import { finished } from "../screen/example-state.ts";

const { traveller } = finished({});
const [leak] = traveller.characteristics;

/** A fail with this reason, whose leak rate was measured, estimated or not known. */
function fail(code: string, leakRate: Partial<Traveller["characteristics"][number]>): Traveller {
  if (!leak) throw new Error("There is a leak rate.");
  return {
    ...traveller,
    verdict: "fail",
    reasons: [{ code, sentence: "Why." }],
    characteristics: [{ ...leak, verdict: "fail", ...leakRate }],
  };
}

const measured = fail("OUT_OF_LIMITS", { value: 900 });
const gross = fail("GROSS_LEAK", { value: 6000, uncertainty: null });
const notSealed = fail("UNIT_NOT_SEALED", { value: null, uncertainty: null });

describe("what a unit failed by", () => {
  it("is the leak rate whether it could be measured, estimated or was too large for either", () => {
    for (const one of [measured, gross, notSealed]) expect(failureNames(one)).toEqual(["leak rate"]);
    expect(failureNames(fail("MOTOR_DID_NOT_START", { verdict: "pass" }))).toEqual(["motor did not start"]);
  });

  it("stops the station after as many leaks in a row, a gross one among them", () => {
    const attempts = [measured, gross, notSealed].map((it, at) => ({
      recordKind: "unit" as const,
      serial: `POD${at}`,
      draft: false,
      verdict: "fail" as const,
      causes: failureNames(it),
    }));
    expect(sameFail(attempts, 3)).toMatchObject({ cause: "leak rate" });
  });

  it("says in the line of a unit how a leak too large to be measured was found", () => {
    expect(shortReason(measured)).toBe("leak rate");
    expect(shortReason(gross)).toBe("leak rate (gross leak)");
    expect(shortReason(notSealed)).toBe("leak rate (unit not sealed)");
  });
});
