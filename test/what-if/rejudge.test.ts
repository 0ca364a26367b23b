import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { judge } from "../../limits/judge.ts";
import type { LeakStep, ModelLimits } from "../../limits/model.ts";
import type { StoredForm } from "../../station/records/stored-values.ts";
import { Rejudging } from "../../station/what-if/rejudge.ts";
import { pod, podForm, podNumbers, withUpper } from "./made-stored.ts";

function rejudged(limits: ModelLimits, form: StoredForm, numbers: Float64Array) {
  const rejudging = new Rejudging(limits);
  return rejudging.rejudge(rejudging.planOf(form), numbers);
}

function podStep(step: Partial<LeakStep>): ModelLimits {
  return {
    ...pod,
    source: { ...pod.source, sha256: "0".repeat(64) },
    steps: pod.steps.map((one) => (one.kind === "leak" ? { ...one, ...step } : one)),
  };
}

const rate = fc.double({ min: -5, max: 80, noNaN: true });
const uncertainty = fc.double({ min: 0, max: 12, noNaN: true });

describe("recorded values against other limits", () => {
  it("whatever the values, a lower upper limit never turns a fail into a pass", () => {
    fc.assert(
      fc.property(rate, uncertainty, rate, rate, (value, u, a, b) => {
        const [tight, loose] = [Math.min(a, b), Math.max(a, b)];
        const numbers = podNumbers(value, u);
        if (rejudged(withUpper(loose), podForm(), numbers).verdict !== "fail") return;
        expect(rejudged(withUpper(tight), podForm(), numbers).verdict).toBe("fail");
      }),
    );
  });

  it("whatever the values, the verdict is the one that the station's judge gives them", () => {
    fc.assert(
      fc.property(rate, uncertainty, (value, u) => {
        const found = rejudged(pod, podForm(), podNumbers(value, u)).verdict;
        const rule = { kind: "guarded" as const, conformance: 0.95 };
        const { verdict } = judge({ value, standardUncertainty: u, upper: 25, rule });
        expect(found).toBe(verdict === "pass" && u > 25 / 3 ? "void" : verdict);
      }),
    );
  });

  it("what fails and what was never measured: a fail is one all the same, a pass would be a guess", () => {
    const numbers = podNumbers(30);
    numbers.fill(Number.NaN, 2, 4);
    const failed = podForm({ verdict: "fail" });
    expect(rejudged(pod, failed, numbers)).toEqual({ verdict: "fail", isKept: false });
    expect(rejudged(withUpper(50), failed, numbers)).toEqual({
      verdict: null,
      why: "not reached",
    });
  });

  it("a body that could not be filled stays failed by any limit", () => {
    const numbers = podNumbers(900);
    numbers[1] = Number.NaN;
    const found = podForm({ verdict: "fail", codes: ["GROSS_LEAK"] });
    expect(rejudged(withUpper(5000), found, numbers)).toEqual({ verdict: "fail", isKept: true });
  });

  it("a void attempt has no verdict by any limit", () => {
    const form = podForm({ verdict: "void", codes: ["ABORTED"] });
    expect(rejudged(withUpper(5000), form, podNumbers(1))).toMatchObject({ verdict: null, why: "void" });
  });

  it("what the limits judge and the history has not is named", () => {
    const form = podForm();
    const without = { ...form, characteristics: form.characteristics.slice(0, -1) };
    const numbers = Float64Array.of(...podNumbers(10).slice(0, 18), 0.3, 2.5, 4_990);
    expect(rejudged(pod, without, numbers)).toEqual({
      verdict: null,
      why: "not in the history",
    });
  });

  it("a characteristic under a new name is found by what it is", () => {
    const renamed: ModelLimits = {
      ...pod,
      characteristics: pod.characteristics.map((it) => ({ ...it, name: `new ${it.name}` })),
    };
    expect(rejudged(renamed, podForm(), podNumbers(10)).verdict).toBe("pass");
  });

  it.each([
    ["another method", { method: { kind: "slope", subtractsMeanCurve: false } }, "other method"],
    ["another settling time", { settle_s: 1 }, "other settling time"],
    ["a measuring time that ends before", { measureLongest_s: 1.5 }, "other measuring time"],
    ["no early verdict", { earlyVerdict: null }, "other early verdict"],
    ["another test pressure", { testPressure_Pa: 8000 }, "other test pressure"],
  ] as const)("%s asks for the curves", (_, step, why) => {
    expect(rejudged(podStep(step), podForm(), podNumbers(10))).toEqual({
      verdict: null,
      why,
    });
  });

  it("another file with the same times and method does not", () => {
    expect(rejudged(podStep({}), podForm(), podNumbers(10)).verdict).toBe("pass");
  });
});
