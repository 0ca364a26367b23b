import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { FindingCode } from "../../limits/finding-code.ts";
import type { Characteristic, SuspectCondition, SuspectRule } from "../../limits/model.ts";
import type { CharacteristicResult } from "../../station/cycle/characteristic-result.ts";
import type { Reason } from "../../station/cycle/reason.ts";
import { suspectsOf } from "../../station/cycle/suspects.ts";

const openFlow: Characteristic = {
  name: "open flow",
  step: "airflow",
  measurand: "flow",
  point: "open",
  lower: 0.049,
  upper: 0.0585,
  unit: "L/s",
  rule: { kind: "simple" },
};
const leakRate: Characteristic = {
  name: "leak_rate",
  step: "leak",
  measurand: "leak_rate",
  upper: 1e-6,
  unit: "mL/min",
  rule: { kind: "simple" },
};

function measured(
  characteristic: Characteristic,
  value: number | null,
  more: Partial<CharacteristicResult> = {},
): CharacteristicResult {
  const { lower = Number.NEGATIVE_INFINITY, upper = Number.POSITIVE_INFINITY } = characteristic;
  const conforms = value !== null && value >= lower && value <= upper;
  const verdict = value === null ? "void" : conforms ? "pass" : "fail";
  return { characteristic, value, uncertainty: 1e-9, budget: [], verdict, conformance: null, ...more };
}

function rule(cause: string, ...when: SuspectCondition[]): SuspectRule {
  return { cause, lookAt: `Look at ${cause}.`, when };
}

const lowFlow: SuspectCondition = { kind: "ratio", of: "open flow", to: "lower", atMost: 0.97 };
const outOfLimits: Reason = { code: "OUT_OF_LIMITS", sentence: "open flow is below the lower limit." };

/** Evidence for one condition, null where it does not hold. */
function evidence(
  condition: SuspectCondition,
  results: readonly CharacteristicResult[],
  reasons: readonly Reason[] = [],
  parts: Readonly<Record<string, string>> = {},
): string | null {
  return suspectsOf([rule("it", condition)], results, reasons, parts)[0]?.evidence[0] ?? null;
}

describe("a suspected cause", () => {
  it("says what is wrong, where to look and every condition that points at it", () => {
    const blocked = rule("blocked path", lowFlow, { kind: "verdict", of: "leak_rate", is: "pass" });
    const results = [measured(leakRate, 3.5e-7), measured(openFlow, 0.0412)];
    expect(suspectsOf([blocked], results, [outOfLimits], {})).toEqual([
      {
        cause: "blocked path",
        lookAt: "Look at blocked path.",
        evidence: [
          "open flow 41.20 L/s is 0.841 of its lower limit 49 L/s",
          "leak rate passes with 21.00 mL/min",
        ],
      },
    ]);
  });

  it.each([
    [1.3e-6, "leak rate 78.00 mL/min is 1.3 times its upper limit 60 mL/min"],
    [1.000_04e-6, "leak rate 60.002 mL/min is 1.00004 times its upper limit 60 mL/min"],
    [1e-6, "leak rate 60.00 mL/min is 1 times its upper limit 60 mL/min"],
    [0.999e-6, null],
  ])("of a leak of %d m3/s, looked for from the limit up, has the evidence %s", (value, phrase) => {
    const leaking: SuspectCondition = { kind: "ratio", of: "leak_rate", to: "upper", atLeast: 1 };
    expect(evidence(leaking, [measured(leakRate, value)])).toBe(phrase);
  });

  it.each([
    [0.0529, null],
    [0.05292, "open flow 52.92 L/s is 1.08 times its lower limit 49 L/s"],
    [0.0539, "open flow 53.90 L/s is 1.1 times its lower limit 49 L/s"],
    [0.054, null],
  ])("of a flow of %d m3/s, looked for between two bounds, has the evidence %s", (value, phrase) => {
    const between: SuspectCondition = {
      kind: "ratio",
      of: "open flow",
      to: "lower",
      atLeast: 1.08,
      atMost: 1.1,
    };
    expect(evidence(between, [measured(openFlow, value)])).toBe(phrase);
  });

  it("takes the rough size of a gross leak for a value", () => {
    const gross = measured(leakRate, 1e-4, {
      uncertainty: null,
      verdict: "fail",
      why: "gross leak: hardly any pressure was left",
    });
    const condition: SuspectCondition = { kind: "ratio", of: "leak_rate", to: "upper", atLeast: 30 };
    expect(evidence(condition, [gross])).toBe("leak rate 6000 mL/min is 100 times its upper limit 60 mL/min");
    expect(evidence({ kind: "verdict", of: "leak_rate", is: "fail" }, [gross])).toBe(
      "leak rate fails with 6000 mL/min (gross leak: hardly any pressure was left)",
    );
  });

  it.each([
    ["nothing was measured", [measured(openFlow, null)]],
    ["the value is no number", [measured(openFlow, Number.NaN)]],
    ["the value is void", [measured(openFlow, 0.04, { verdict: "void" })]],
    ["the characteristic is another", [measured(leakRate, 1e-9)]],
    ["the limit is not there", [measured({ ...openFlow, lower: undefined } as never, 0.04)]],
    ["the limit and the value are zero", [measured({ ...openFlow, lower: 0 }, 0)]],
    ["the limit is zero", [measured({ ...openFlow, lower: 0 }, -0.01)]],
    ["there is nothing at all", []],
  ])("is not seen in a ratio when %s", (_, results) => {
    expect(evidence(lowFlow, results)).toBeNull();
  });

  it("is not seen in the verdict of what was not measured", () => {
    for (const is of ["pass", "fail"] as const) {
      expect(evidence({ kind: "verdict", of: "open flow", is }, [measured(openFlow, null)])).toBeNull();
    }
  });

  it("is seen in the verdict of a unit that could not even be sealed", () => {
    const open = measured(leakRate, null, { verdict: "fail", why: "the unit is not sealed" });
    expect(evidence({ kind: "verdict", of: "leak_rate", is: "fail" }, [open])).toBe(
      "leak rate fails (the unit is not sealed)",
    );
  });

  it("is seen in what the test found", () => {
    const condition: SuspectCondition = { kind: "finding", codes: ["GROSS_LEAK", "UNIT_NOT_SEALED"] };
    const reason: Reason = { code: "UNIT_NOT_SEALED", sentence: "The pressure did not rise." };
    expect(evidence(condition, [], [outOfLimits, reason])).toBe("found: unit not sealed");
    expect(evidence(condition, [], [outOfLimits])).toBeNull();
  });

  it("is seen in a tracked part, and not in one that was not scanned", () => {
    const condition: SuspectCondition = { kind: "part", part: "tub_cavity", pattern: /^T3$/u };
    expect(evidence(condition, [], [], { tub_cavity: "T3" })).toBe("tub cavity T3");
    expect(evidence(condition, [], [], { tub_cavity: "T2" })).toBeNull();
    expect(evidence(condition, [], [], {})).toBeNull();
    expect(evidence({ ...condition, part: "constructor", pattern: /^.*$/su }, [], [], {})).toBeNull();
  });

  it("named by two rules stands once, at its first place", () => {
    const found: SuspectCondition = { kind: "finding", codes: ["GROSS_LEAK"] };
    const grossLeak: Reason = { code: "GROSS_LEAK", sentence: "It leaks." };
    const rules = [rule("blocked path", found), rule("weak motor", found), rule("blocked path", lowFlow)];
    const suspects = suspectsOf(rules, [measured(openFlow, 0.04)], [grossLeak], {});
    expect(suspects.map(({ cause }) => cause)).toEqual(["blocked path", "weak motor"]);
    expect(suspects[0]?.evidence).toEqual(["found: gross leak"]);
  });
});

const anyCondition: fc.Arbitrary<SuspectCondition> = fc.oneof(
  fc
    .record({
      of: fc.constantFrom("open flow", "leak_rate", "nowhere"),
      to: fc.constantFrom("lower" as const, "upper" as const),
      bounds: fc.record(
        { atLeast: fc.double({ min: 0, max: 2 }), atMost: fc.double({ min: 0, max: 2 }) },
        { requiredKeys: [] },
      ),
    })
    .map(({ of, to, bounds }): SuspectCondition => ({ kind: "ratio", of, to, ...bounds })),
  fc.record({
    kind: fc.constant("verdict" as const),
    of: fc.constantFrom("open flow", "leak_rate"),
    is: fc.constantFrom("pass" as const, "fail" as const),
  }),
  fc.record({
    kind: fc.constant("finding" as const),
    codes: fc.subarray<FindingCode>(["GROSS_LEAK", "UNIT_NOT_SEALED"], { minLength: 1 }),
  }),
  fc.record({
    kind: fc.constant("part" as const),
    part: fc.constantFrom("tub_cavity", "toString"),
    pattern: fc.constantFrom(/^T3$/u, /^T[1-4]$/u),
  }),
);
const anyRule = fc.record({
  cause: fc.constantFrom("a", "b", "c", "d"),
  lookAt: fc.constant("Look."),
  when: fc.array(anyCondition, { minLength: 1, maxLength: 4 }),
});
const anyResult = fc
  .record({
    characteristic: fc.constantFrom(openFlow, leakRate),
    value: fc.oneof(fc.constant(null), fc.double(), fc.double({ min: 0, max: 0.1, noNaN: true })),
    uncertainty: fc.option(fc.double({ min: 0, max: 1 })),
    isVoid: fc.boolean(),
  })
  .map(({ characteristic, value, uncertainty, isVoid }) =>
    measured(characteristic, value, { uncertainty, ...(isVoid ? { verdict: "void" } : {}) }),
  );
const anyFindings = fc.record({
  rules: fc.array(anyRule, { maxLength: 8 }),
  results: fc.uniqueArray(anyResult, { selector: ({ characteristic: { name } }) => name }),
  reasons: fc.subarray<Reason>([outOfLimits, { code: "GROSS_LEAK", sentence: "It leaks." }]),
  parts: fc.constantFrom<Readonly<Record<string, string>>>({}, { tub_cavity: "T3" }, { tub_cavity: "T1" }),
});

describe("whatever the rules and whatever was measured, suspects", () => {
  it("keep the order of the rules, and each has evidence for every condition of its first rule that fits", () => {
    fc.assert(
      fc.property(anyFindings, ({ rules, results, reasons, parts }) => {
        const fits = (one: SuspectRule) => one.when.every((it) => evidence(it, results, reasons, parts));
        const expected = new Map<string, SuspectRule>();
        for (const one of rules) if (fits(one) && !expected.has(one.cause)) expected.set(one.cause, one);
        const suspects = suspectsOf(rules, results, reasons, parts);
        expect(suspects.map(({ cause }) => cause)).toEqual([...expected.keys()]);
        expect(suspects.map((suspect) => suspect.evidence.length)).toEqual(
          [...expected.values()].map(({ when }) => when.length),
        );
      }),
    );
  });

  it("only appear where each ratio is within its bounds", () => {
    fc.assert(
      fc.property(anyFindings, ({ rules, results, reasons, parts }) => {
        const onlyRatios = rules.filter(({ when }) => when.every(({ kind }) => kind === "ratio"));
        for (const one of onlyRatios) {
          const holds = one.when.every((condition) => {
            if (condition.kind !== "ratio") return false;
            const result = results.find(({ characteristic: { name } }) => name === condition.of);
            const limit = result?.characteristic[condition.to];
            if (!result || limit === undefined || result.value === null || result.verdict === "void")
              return false;
            const { atLeast = Number.NEGATIVE_INFINITY, atMost = Number.POSITIVE_INFINITY } = condition;
            const ratio = result.value / limit;
            return Number.isFinite(ratio) && ratio >= atLeast && ratio <= atMost;
          });
          expect(suspectsOf([one], results, reasons, parts)).toHaveLength(holds ? 1 : 0);
        }
      }),
    );
  });
});
