import { describe, expect, it } from "vitest";
import {
  chosenRules,
  RUN_RULES,
  type RunRule,
  signalsOf,
} from "../../../station/quality/control-chart/run-rules.ts";

/** Signals as rule and point, with limits at three sigma about 0. */
function found(values: readonly number[], rules: readonly RunRule[] = RUN_RULES): string[] {
  const chart = { name: "values", noun: "point", values, first: 1, CL: 0, UCL: 3, LCL: -3, sigma: 1 };
  return signalsOf(chart, rules).map(
    ({ rule, index, to }) => `${rule} @ ${index}${to > index ? ` to ${to}` : ""}`,
  );
}

const run = (length: number, value: number) => Array.from({ length }, () => value);
const turns = (length: number, size: number) =>
  Array.from({ length }, (_, i) => (i % 2 === 0 ? size : -size));

const CASES: readonly (readonly [RunRule, readonly number[], string | null])[] = [
  ["beyond a control limit", [0, 3.01], "@ 2"],
  ["beyond a control limit", [0, -3.01], "@ 2"],
  ["beyond a control limit", [0, 3, -3], null],
  ["nine in a row on one side", run(9, 0.5), "@ 9"],
  ["nine in a row on one side", run(12, -0.5), "@ 9 to 12"],
  ["nine in a row on one side", run(8, 0.5), null],
  ["nine in a row on one side", [...run(8, 0.5), 0, 0.5], null],
  ["six in a row rising or falling", [-1, -0.5, 0, 0.5, 1, 1.5], "@ 6"],
  ["six in a row rising or falling", [1, 0.9, 0.8, 0.7, 0.6, 0.5, 0.4], "@ 6 to 7"],
  ["six in a row rising or falling", [-1, -0.5, 0, 0, 1, 1.5], null],
  ["six in a row rising or falling", [-0.5, 0, 0.5, 1, 1.5], null],
  ["fourteen in a row alternating", turns(14, 0.4), "@ 14"],
  ["fourteen in a row alternating", turns(13, 0.4), null],
  ["fourteen in a row alternating", [...turns(7, 0.4), 0.5, ...turns(7, 0.4)], null],
  ["two of three beyond two sigma", [2.1, 0, 2.1], "@ 3"],
  ["two of three beyond two sigma", [2.1, 2.1, 0], null],
  ["two of three beyond two sigma", [0, 2.1, 2.1], "@ 3"],
  ["two of three beyond two sigma", [2.1, 0, -2.1], null],
  ["two of three beyond two sigma", [2, 0, 2], null],
  ["four of five beyond one sigma", [-1.1, -1.1, 0, -1.1, -1.1], "@ 5"],
  ["four of five beyond one sigma", [1.1, 1.1, 0, 0, 1.1], null],
  ["four of five beyond one sigma", [1.1, 1.1, -1.1, 1.1, 0.9], null],
  ["fifteen in a row within one sigma", turns(15, 0.9), "@ 15"],
  ["fifteen in a row within one sigma", turns(14, 0.9), null],
  ["fifteen in a row within one sigma", [...turns(14, 0.9), 1], null],
  ["eight in a row beyond one sigma on both sides", turns(8, 1.2), "@ 8"],
  ["eight in a row beyond one sigma on both sides", run(8, 1.2), null],
  ["eight in a row beyond one sigma on both sides", [...turns(7, 1.2), 0.9], null],
];

describe("the run rules", () => {
  it.each(CASES)("%s, of %j: %s", (rule, values, where) => {
    expect(found(values, [rule])).toEqual(where === null ? [] : [`${rule} ${where}`]);
  });

  it("say of a whole run once where it was complete and how far it went", () => {
    const chart = {
      name: "means",
      noun: "subgroup",
      values: run(12, 0.5),
      first: 1,
      CL: 0,
      UCL: 3,
      LCL: -3,
      sigma: 1,
    };
    const [signal, ...more] = signalsOf(chart, ["nine in a row on one side"]);
    expect(more).toEqual([]);
    expect(signal?.sentence).toBe(
      "Subgroups 1 to 12 of the means all lie above the centre line: the process has moved.",
    );
  });

  it("use each point's own sigma where it has one", () => {
    const chart = {
      name: "p",
      noun: "sample",
      values: [1.5, 1.5],
      first: 1,
      CL: 0,
      UCL: [3, 1.2],
      LCL: [-3, -1.2],
      sigma: [1, 0.4],
    };
    expect(signalsOf(chart, RUN_RULES).map(({ index }) => index)).toEqual([2]);
  });

  it("show a value that is beyond its limit by little as different from it", () => {
    const chart = {
      name: "values",
      noun: "point",
      values: [50.004],
      first: 1,
      CL: 0,
      UCL: 50,
      LCL: -50,
      sigma: 50 / 3,
    };
    expect(signalsOf(chart, RUN_RULES)[0]?.sentence).toMatch(/50\.004, is above its control limit, 50.00./);
  });
});

describe("rules by name", () => {
  it("are known by any beginning that fits one alone, with hyphens or spaces, in any order", () => {
    expect(chosenRules("two-of-three, Nine,beyond")).toEqual({
      rules: ["beyond a control limit", "nine in a row on one side", "two of three beyond two sigma"],
    });
    expect(chosenRules("all")).toEqual({ rules: RUN_RULES });
    expect(chosenRules("four,fourteen")).toMatchObject({ rules: { length: 2 } });
  });

  it.each(["", "rule 1", "nin", "beyond,,six"])("are asked for again where %j fits none", (text) => {
    expect(chosenRules(text)).toHaveProperty("fault");
  });
});
