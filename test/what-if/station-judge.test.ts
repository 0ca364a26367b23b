import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { Characteristic, DecisionRule, ModelLimits } from "../../limits/model.ts";
import { fromSI } from "../../limits/units.ts";
import { type AirflowResult, judgeAirflow } from "../../station/cycle/airflow-judging.ts";
import { StoredFromTravellers } from "../../station/records/read-stored-values.ts";
import type { StoredForm } from "../../station/records/stored-values.ts";
import { Rejudging } from "../../station/what-if/rejudge.ts";
import { bodyCurve, madeTraveller, mLmin, podLeak } from "../made-traveller.ts";
import { pod, podForm, podNumbers } from "./made-stored.ts";

const rule = fc.oneof(
  fc.constant<DecisionRule>({ kind: "simple" }),
  fc
    .double({ min: 0.5, max: 0.999, noNaN: true })
    .map((conformance): DecisionRule => ({ kind: "guarded", conformance })),
);
const leakLimits = fc.record({
  // Down to limits so low that the value is too uncertain for them.
  upper: fc.oneof(fc.double({ min: 0.05, max: 3, noNaN: true }), fc.double({ min: 3, max: 40, noNaN: true })),
  lower: fc.option(fc.double({ min: -20, max: 0, noNaN: true }), { nil: undefined }),
  rule,
  unit: fc.constantFrom("mL/min @ 20 degC", "L/h @ 20 degC", "mL/min @ 0 degC", "Pa m3/s"),
});

type LeakLimits = typeof leakLimits extends fc.Arbitrary<infer T> ? T : never;

/** A file of its own, so that nothing is taken over unseen. */
function judgedBy(it: LeakLimits, sha256: string): ModelLimits {
  return {
    ...podLeak,
    source: { ...podLeak.source, sha256 },
    characteristics: podLeak.characteristics.map(({ lower: _, ...one }) => ({
      ...one,
      upper: mLmin(it.upper),
      ...(it.lower === undefined ? {} : { lower: mLmin(it.lower) }),
      rule: it.rule,
      unit: it.unit,
    })),
  };
}

function verdictBy(limits: ModelLimits, traveller: ReturnType<typeof madeTraveller>) {
  const { form, numbers } = new StoredFromTravellers().attemptOf(traveller, false);
  const rejudging = new Rejudging(limits);
  return rejudging.rejudge(rejudging.planOf(form), numbers).verdict;
}

describe("other limits against recorded values", () => {
  it("say what the station would have said, whatever limit, rule and unit either file has", () => {
    const body = fc.record({ seed: fc.integer({ min: 1, max: 1e6 }), leak: fc.double({ min: 0, max: 30 }) });
    const seen = new Set<string>();
    fc.assert(
      fc.property(body, leakLimits, leakLimits, ({ seed, leak }, a, b) => {
        const curve = bodyCurve(Number.isNaN(leak) ? 3 : leak, { seed, seconds: 17 });
        const [old, other] = [judgedBy(a, "a".repeat(64)), judgedBy(b, "b".repeat(64))];
        const recorded = madeTraveller({ limits: old, curve });
        const would = madeTraveller({ limits: other, curve });
        const said = verdictBy(other, recorded);
        // An attempt that was void and would be is one that no limits judge.
        expect(said ?? "void").toBe(would.verdict);
        expect(verdictBy(old, would) ?? "void").toBe(recorded.verdict);
        expect(verdictBy(old, recorded) ?? "void").toBe(recorded.verdict);
        seen.add(`${recorded.verdict} ${would.verdict}`).add(`${would.verdict} ${recorded.verdict}`);
      }),
      { numRuns: 60, seed: 7 },
    );
    // Void attempts too, whose value was too uncertain for the limits of their day.
    expect([...seen]).toEqual(expect.arrayContaining(["pass fail", "fail pass", "void pass", "pass void"]));
  });

  it("say of an airflow figure what the station would have said", () => {
    const [suction] = pod.characteristics.filter(({ measurand }) => measurand === "suction");
    if (!suction) throw new Error("The compact body has no suction.");
    const value = fc.double({ min: 8_000, max: 16_000, noNaN: true });
    const limits = fc.record({ rule, lower: fc.double({ min: 9_000, max: 14_000, noNaN: true }) });
    fc.assert(
      fc.property(value, fc.double({ min: 0, max: 4_000, noNaN: true }), limits, (kPa, u, other) => {
        const characteristic: Characteristic = { ...suction, ...other };
        const found = { value: kPa, uncertainty: u, budget: [] };
        const points = [{ point: suction.point, suction: found }];
        const station = judgeAirflow(characteristic, { performance: { points } } as unknown as AirflowResult);
        const rejudging = new Rejudging({
          ...pod,
          characteristics: pod.characteristics.map((it) => (it === suction ? characteristic : it)),
        });
        const numbers = podNumbers(5);
        const at = 2 * pod.characteristics.indexOf(suction);
        const kilopascal = { symbol: "kPa", numerator: 1000, denominator: 1, zero: 0 };
        numbers[at] = fromSI(kPa, kilopascal);
        numbers[at + 1] = fromSI(u, kilopascal);
        const { verdict } = rejudging.rejudge(rejudging.planOf(podForm()), numbers);
        expect(verdict).toBe(station.verdict);
      }),
      { numRuns: 200 },
    );
  });

  it("never pass a unit of which something they judge has no value", () => {
    const place = fc.integer({ min: 0, max: pod.characteristics.length - 1 });
    fc.assert(
      fc.property(place, fc.boolean(), (at, isGone) => {
        const numbers = podNumbers(5);
        let form: StoredForm = podForm();
        if (isGone) {
          form = { ...form, characteristics: form.characteristics.filter((_, i) => i !== at) };
          const kept = [...numbers].filter((_, i) => i !== 2 * at && i !== 2 * at + 1);
          numbers.fill(0);
          numbers.set(kept);
        } else numbers[2 * at] = Number.NaN;
        const rejudging = new Rejudging(pod);
        expect(rejudging.rejudge(rejudging.planOf(form), numbers).verdict).not.toBe("pass");
      }),
    );
  });
});
