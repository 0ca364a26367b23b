import { expect, test } from "vitest";
import { readLimitFile } from "../../limits/limit-file.ts";
import { CORRECTION, changed, GOOD, lineOf, problemsIn, STEADY } from "./good-file.ts";

// What an airflow step, characteristics and suspects may not say.

test.each([
  [
    "a supply tolerance over 15 % of the supply",
    [["supply_tolerance: 5 V", "supply_tolerance: 34.6 V"]],
    "steps[1].supply_tolerance",
    "supply_tolerance: 34.6 V",
  ],
  [
    "a motor switched off at the most it may take",
    [["power_highest: 1600 W", "power_highest: 1.29 kW"]],
    "steps[1].power_highest",
    "power_highest: 1.29 kW",
  ],
  [
    "a motor switched off below what its rated input allows",
    [
      ["power_highest: 1600 W", "power_highest: 1280 W"],
      ["    upper: 1290 W", "    rated_input: 1120 W"],
    ],
    "steps[1].power_highest",
    "power_highest: 1280 W",
  ],
  [
    "two characteristics of one name",
    [["name: sealed suction", "name: leak rate"]],
    "characteristics[1].name",
    "name: leak rate\n    step: airflow",
  ],
  [
    "a step that is not there",
    [["step: leak\n    measure", "step: leek\n    measure"]],
    "characteristics[0].step",
    "step: leek",
  ],
  [
    "a measure of another step",
    [
      ["measure: leak_rate", "measure: flow"],
      ["upper: 60 mL/min @ 20 degC", "upper: 60 mL/min"],
    ],
    "characteristics[0].measure",
    "measure: flow",
  ],
  [
    "a point that is not there",
    [["point: closed", "point: clsed"]],
    "characteristics[1].point",
    "point: clsed",
  ],
  ["a missing point", [["    point: closed\n", ""]], "characteristics[1]", "- name: sealed"],
  [
    "a point in a leak step",
    [["measure: leak_rate", "measure: leak_rate\n    point: open"]],
    "characteristics[0].point",
    "point: open",
  ],
  ["no limit", [["    lower: 13 kPa\n", ""]], "characteristics[2]", "- name: working suction"],
  [
    "a lower limit above the upper",
    [["lower: 1010 W", "lower: 1.3 kW"]],
    "characteristics[4].lower",
    "1.3 kW",
  ],
  ["a limit without its unit", [["lower: 13 kPa", "lower: 13"]], "characteristics[2].lower", "lower: 13\n"],
  [
    "a limit in another quantity's unit",
    [["lower: 13 kPa", "lower: 13 L/s"]],
    "characteristics[2].lower",
    "13 L/s",
  ],
  ["a negative limit", [["lower: 13 kPa", "lower: -13 kPa"]], "characteristics[2].lower", "-13 kPa"],
  [
    "a conformance that is certainty",
    [["conformance: 95 %", "conformance: 100 %"]],
    "characteristics[0].rule.conformance",
    "100 %",
  ],
  ["an unknown rule", [["kind: guarded", "kind: lenient"]], "characteristics[0].rule.kind", "lenient"],
  [
    "a rule that is missing",
    [["    rule: { kind: simple }\n", ""]],
    "characteristics[2].rule",
    "- name: working suction",
  ],
  [
    "two parts of one name",
    [["name: lid_cavity", "name: tub_cavity"]],
    "parts[1].name",
    'name: tub_cavity, pattern: "^L',
  ],
  ["another kind of file", [["limits/1", "limits/2"]], "drumtight", "limits/2"],
  [
    "a motor that has stopped while it runs",
    [["stopped_below: 5 W", "stopped_below: 100 W"]],
    "steps[1].stopped_below",
    "stopped_below: 100 W",
  ],
  [
    "a motor that runs only where it draws too much",
    [["running_above: 100 W", "running_above: 1.6 kW"]],
    "steps[1].running_above",
    "running_above: 1.6 kW",
  ],
  [
    "an inrush as long as the run-up",
    [["inrush_longest: 2 s", "inrush_longest: 6 s"]],
    "steps[1].inrush_longest",
    "inrush_longest: 6 s",
  ],
  [
    "a steady window as long as the run-up",
    [["window: 0.4 s", "window: 6 s"]],
    "steps[1].steady.window",
    "window: 6 s",
  ],
  [
    "a steady window as long as a point is held",
    [["samples_least: 8, hold_longest: 5 s", "samples_least: 8, hold_longest: 0.4 s"]],
    "steps[1].steady.window",
    "window: 0.4 s",
  ],
  ["nothing said of steadiness", [[STEADY, ""]], "steps[1].steady", "- step: airflow"],
  [
    "a point known to no part",
    [["within: 0.3 %", "within: 0 %"]],
    "steps[1].points[0].known_within",
    "within: 0 %",
  ],
  [
    "a point of three samples",
    [["samples_least: 8", "samples_least: 3"]],
    "steps[1].points[0].samples_least",
    "samples_least: 3",
  ],
  [
    "one orifice at two points",
    [["name: open, orifice: open", "name: open, orifice: working"]],
    "steps[1].points[2].orifice",
    "name: open, orifice: working",
  ],
  [
    "a motor that denser air makes faster",
    [["speed_per_density: -0.17", "speed_per_density: 0.17"]],
    "steps[1].correction.speed_per_density",
    "speed_per_density: 0.17",
  ],
  [
    "a motor that more voltage makes slower",
    [["speed_per_voltage: 0.55", "speed_per_voltage: -0.55"]],
    "steps[1].correction.speed_per_voltage",
    "speed_per_voltage: -0.55",
  ],
  [
    "a correction without its uncertainty",
    [["      exponent_uncertainty: 0.05\n", ""]],
    "steps[1].correction.exponent_uncertainty",
    "correction:",
  ],
  ["no word on correction", [[CORRECTION, ""]], "steps[1].correction", "- step: airflow"],
  [
    "rated input of something else than power",
    [["    lower: 13 kPa", "    rated_input: 1120 W\n    lower: 13 kPa"]],
    "characteristics[2].rated_input",
    "rated_input",
  ],
  [
    "rated input beside an upper limit",
    [["    upper: 1290 W", "    rated_input: 1120 W\n    upper: 1290 W"]],
    "characteristics[4].rated_input",
    "rated_input",
  ],
  [
    "a lower limit above what the rated input allows",
    [["    lower: 1010 W\n    upper: 1290 W", "    lower: 1010 W\n    rated_input: 878 W"]],
    "characteristics[4].lower",
    "1010 W",
  ],
  [
    "a rated input of nothing",
    [["    upper: 1290 W", "    rated_input: 0 W"]],
    "characteristics[4].rated_input",
    "rated_input: 0 W",
  ],
  [
    "a point for what the curve gives",
    [["measure: largest_suction_power", "measure: largest_suction_power\n    point: open"]],
    "characteristics[5].point",
    "point: open\n    lower: 240 W",
  ],
  ["a negative suction power", [["lower: 240 W", "lower: -240 W"]], "characteristics[5].lower", "-240 W"],
  ["an efficiency over 100 %", [["upper: 40 %", "upper: 101 %"]], "characteristics[6].upper", "101 %"],
  [
    "an efficiency without point",
    [["    measure: efficiency\n    point: working\n", "    measure: efficiency\n"]],
    "characteristics[6]",
    "- name: working efficiency",
  ],
  [
    "a finding that no phase makes",
    [["UNIT_NOT_SEALED", "UNIT_NOT_SEELED"]],
    "suspects[0].when[0].codes[1]",
    "UNIT_NOT_SEELED",
  ],
  [
    "a suspicion without conditions",
    [[/when:\n {6}- kind: finding\n.*/.exec(GOOD)?.[0] ?? "", "when: []"]],
    "suspects[0].when",
    "when: []",
  ],
  [
    "a suspicion by a verdict on nothing",
    [["of: working suction\n        is", "of: working suctoin\n        is"]],
    "suspects[1].when[0].of",
    "working suctoin",
  ],
  [
    "a suspicion by a part that is not tracked",
    [["part: tub_cavity", "part: tub_cavty"]],
    "suspects[1].when[1].part",
    "tub_cavty",
  ],
  [
    "a part pattern that is not anchored",
    [["pattern: ^T3$", "pattern: T3"]],
    "suspects[1].when[1].pattern",
    "pattern: T3",
  ],
  ["a ratio of nothing", [["of: open flow", "of: opn flow"]], "suspects[2].when[0].of", "opn flow"],
  [
    "a ratio to a limit that is not there",
    [["to: lower\n        at_most", "to: upper\n        at_most"]],
    "suspects[2].when[0].to",
    "to: upper",
  ],
  [
    "a ratio to a limit of zero",
    [["lower: 49 L/s", "lower: 0 L/s"]],
    "suspects[2].when[0].to",
    "to: lower\n        at_most",
  ],
  ["a ratio without a bound", [["        at_most: 0.97\n", ""]], "suspects[2].when[0]", "kind: ratio"],
  [
    "bounds of a ratio in the wrong order",
    [["at_most: 1.25", "at_most: 0.98"]],
    "suspects[2].when[1].at_least",
    "at_least: 0.98",
  ],
  [
    "a negative ratio",
    [["at_most: 0.97", "at_most: -0.97"]],
    "suspects[2].when[0].at_most",
    "at_most: -0.97",
  ],
] as const)("%s is the one problem, at its place", (_what, changes, path, piece) => {
  const text = changed(...changes);
  const problems = problemsIn(text);
  expect(problems.map((problem) => problem.path)).toEqual([path]);
  expect(problems[0]?.line).toBe(lineOf(text, piece));
});

test.each([
  [
    "speed_per_density: -0.17",
    "speed_per_density: -17",
    "a number from -0.5 to 0: the exponent of the motor's speed",
  ],
  [
    "speed_per_voltage: 0.55",
    "speed_per_voltage: 55",
    "a number from 0 to 1: the exponent of the motor's speed",
  ],
  [
    "exponent_uncertainty: 0.05",
    "exponent_uncertainty: 5",
    "a number from 0 to 0.5: the standard uncertainty of either exponent",
  ],
  ["at_most: 0.97", "at_most: -0.97", "a number, at least 0: how many times the limit"],
  ["supply_tolerance: 5 V", "supply_tolerance: 40 V", "at most 15 % of supply_voltage, 34.5 V"],
  ["power_highest: 1600 W", "power_highest: 1200 W", 'more than the upper limit of "input power", 1290 W'],
])("for %s, %s is refused with the words %s", (from, to, words) => {
  expect(problemsIn(changed([from, to])).map(({ expected }) => expected)).toEqual([words]);
});

test("a supply tolerance of just 15 % of the supply is taken, and power a watt above its upper limit", () => {
  const text = changed(
    ["supply_tolerance: 5 V", "supply_tolerance: 34.5 V"],
    ["power_highest: 1600 W", "power_highest: 1291 W"],
  );
  expect(readLimitFile("m.yaml", text).model).toBe("TUB-12");
});

test("the points there are, one of them twice, are named once each", () => {
  const text = changed(["name: open,", "name: closed,"]);
  const problem = problemsIn(text).find(({ path }) => path === "characteristics[3].point");
  expect(problem?.expected).toBe('one of the points "closed", "working"');
});
