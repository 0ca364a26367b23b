import { expect, test } from "vitest";
import { readLimitFile } from "../../limits/limit-file.ts";
import { changed, EARLY, GOOD, lineOf, METHOD, problemsIn } from "./good-file.ts";

test.each([
  [
    "a serial that does not fit its own pattern",
    [["example: TUB000123", "example: TUB123"]],
    "serial.example",
    "TUB123",
  ],
  ["a pattern that is not anchored", [["^TUB[0-9]{6}$", "TUB[0-9]{6}"]], "serial.pattern", "TUB[0-9]{6}"],
  ["a pattern without end", [["^TUB[0-9]{6}$", "^TUB[0-9]+$"]], "serial.pattern", "^TUB[0-9]+$"],
  ["a day that is none", [["2026-01-05", "2026-02-30"]], "effective_date", "2026-02-30"],
  [
    "a test pressure beyond the rating",
    [["test_pressure: -8 kPa", "test_pressure: -26 kPa"]],
    "steps[0].test_pressure",
    "-26 kPa",
  ],
  [
    "a test pressure of the other sign",
    [["test_pressure: -8 kPa", "test_pressure: 8 kPa"]],
    "steps[0].test_pressure",
    "8 kPa",
  ],
  [
    "no test pressure at all",
    [["test_pressure: -8 kPa", "test_pressure: 0 kPa"]],
    "steps[0].test_pressure",
    "0 kPa",
  ],
  [
    "a tolerance as large as the test pressure",
    [["fill_tolerance: 0.2 kPa", "fill_tolerance: 8 kPa"]],
    "steps[0].fill_tolerance",
    "fill_tolerance: 8 kPa",
  ],
  [
    "a settle time before the fill's end",
    [["settle: 28 s", "settle: -1 s"]],
    "steps[0].settle",
    "settle: -1 s",
  ],
  [
    "a shortest fill as long as the longest",
    [["fill_shortest: 2 s", "fill_shortest: 8 s"]],
    "steps[0].fill_shortest",
    "fill_shortest: 8 s",
  ],
  [
    "a shortest fill of no time",
    [["fill_shortest: 2 s", "fill_shortest: 0 s"]],
    "steps[0].fill_shortest",
    "fill_shortest: 0 s",
  ],
  [
    "a shortest vent as long as the longest",
    [["vent_shortest: 0.5 s", "vent_shortest: 8 s"]],
    "steps[0].vent_shortest",
    "vent_shortest: 8 s",
  ],
  [
    "a shortest vent of no time",
    [["vent_shortest: 0.5 s", "vent_shortest: 0 s"]],
    "steps[0].vent_shortest",
    "vent_shortest: 0 s",
  ],
  ["no shortest vent", [["    vent_shortest: 0.5 s\n", ""]], "steps[0].vent_shortest", "- step: leak"],
  ["no shortest fill", [["    fill_shortest: 2 s\n", ""]], "steps[0].fill_shortest", "- step: leak"],
  ["no method", [[`    ${METHOD}\n`, ""]], "steps[0].method", "- step: leak"],
  ["an unknown method", [["kind: fitted", "kind: guessed"]], "steps[0].method.kind", "guessed"],
  [
    "a mean curve for a fit",
    [["kind: fitted", "kind: fitted, subtract_mean_curve: true"]],
    "steps[0].method.subtract_mean_curve",
    "kind: fitted",
  ],
  [
    "a fixed timer that leaves the mean curve open",
    [
      ["kind: fitted", "kind: slope"],
      [EARLY, "early_verdict: off\n"],
    ],
    "steps[0].method.subtract_mean_curve",
    "kind: slope",
  ],
  ["no word on early verdicts", [[`    ${EARLY}`, ""]], "steps[0].early_verdict", "- step: leak"],
  [
    "another word than off",
    [[EARLY, "early_verdict: never\n"]],
    "steps[0].early_verdict",
    "early_verdict: never",
  ],
  [
    "an early verdict without its risk",
    [["      false_reject: 0.1 %\n", ""]],
    "steps[0].early_verdict.false_reject",
    "early_verdict:",
  ],
  [
    "an unknown key of an early verdict",
    [["look_every: 0.25 s", "look_every: 0.25 s\n      hurry: true"]],
    "steps[0].early_verdict.hurry",
    "hurry",
  ],
  [
    "a shortest measuring time as long as the longest",
    [["measure_shortest: 3 s", "measure_shortest: 10 s"]],
    "steps[0].early_verdict.measure_shortest",
    "measure_shortest: 10 s",
  ],
  [
    "looks further apart than there is time for",
    [["look_every: 0.25 s", "look_every: 7.01 s"]],
    "steps[0].early_verdict.look_every",
    "look_every: 7.01 s",
  ],
  [
    "looks closer than the gauge can fill",
    [["look_every: 0.25 s", "look_every: 0.049 s"]],
    "steps[0].early_verdict.look_every",
    "look_every: 0.049 s",
  ],
  [
    "no risk at all",
    [["false_accept: 0.05 %", "false_accept: 0 %"]],
    "steps[0].early_verdict.false_accept",
    "false_accept: 0 %",
  ],
  [
    "a risk over 5 %",
    [["false_reject: 0.1 %", "false_reject: 5.1 %"]],
    "steps[0].early_verdict.false_reject",
    "false_reject: 5.1 %",
  ],
  ...(["slope", "difference"] as const).map(
    (kind) =>
      [
        `an early verdict by ${kind}`,
        [[METHOD, `method: { kind: ${kind}, subtract_mean_curve: true }`]],
        "steps[0].early_verdict",
        "      measure_shortest",
      ] as const,
  ),
] as const)("%s is the one problem, at its place", (_what, changes, path, piece) => {
  const text = changed(...changes);
  const problems = problemsIn(text);
  expect(problems.map((problem) => problem.path)).toEqual([path]);
  expect(problems[0]?.line).toBe(lineOf(text, piece));
});

test.each([
  ["missing", "", "nothing: the key is missing"],
  ["a word", "    method: fitted\n", '"fitted"'],
])("a method that is %s: the kinds there are, as they are written", (_, written, found) => {
  const [problem] = problemsIn(changed([`    ${METHOD}\n`, written]));
  expect(problem?.found).toContain(found);
  expect(problem?.expected).toBe(
    "one of { kind: fitted }, { kind: slope, subtract_mean_curve: ... }, { kind: difference, subtract_mean_curve: ... }",
  );
});

test("why a fixed timer has no early verdict is said", () => {
  const text = changed([METHOD, "method: { kind: slope, subtract_mean_curve: true }"]);
  expect(problemsIn(text)[0]?.expected).toMatch(/^"off" with method slope: only a fit tells heat from leak/);
});

test.each([
  ["3 s", "7 s", "10 s"],
  ["9.8 s", "0.2 s", "10 s"],
  ["0.1 s", "0.2 s", "0.3 s"],
])("a first look after %s and one more after %s fit into %s", (shortest, every, longest) => {
  const text = changed(
    ["measure_shortest: 3 s", `measure_shortest: ${shortest}`],
    ["look_every: 0.25 s", `look_every: ${every}`],
    ["measure_longest: 10 s", `measure_longest: ${longest}`],
  );
  expect(readLimitFile("m.yaml", text).model).toBe("TUB-12");
});

test("all that is wrong with an early verdict is said at once", () => {
  const text = changed(
    ["fill_shortest: 2 s", "fill_shortest: 9 s"],
    [METHOD, "method: { kind: difference, subtract_mean_curve: false }"],
    ["measure_shortest: 3 s", "measure_shortest: 11 s"],
    ["false_accept: 0.05 %", "false_accept: 0.05"],
    ["false_reject: 0.1 %", "false_rejct: 0.1 %"],
  );
  expect(problemsIn(text).map(({ path }) => path)).toEqual([
    "steps[0].fill_shortest",
    "steps[0].early_verdict.false_reject",
    "steps[0].early_verdict",
    "steps[0].early_verdict.measure_shortest",
    "steps[0].early_verdict.false_accept",
    "steps[0].early_verdict.false_rejct",
  ]);
});

test.each([
  ["two steps of one name", [["name: airflow", "name: leak"]], "steps[1].name", "name: leak\n    supply"],
  [
    "two points of one name",
    [["name: open,", "name: working,"]],
    "steps[1].points[2].name",
    "name: working, orifice: open",
  ],
] as const)("%s is named, beside the references it breaks", (_what, changes, path, piece) => {
  const text = changed(...changes);
  const problem = problemsIn(text).find((candidate) => candidate.path === path);
  expect(problem?.line).toBe(lineOf(text, piece));
});

test("a step that nothing judges is refused", () => {
  const from = GOOD.indexOf("  - name: leak rate");
  const text = GOOD.slice(0, from) + GOOD.slice(GOOD.indexOf("  - name: sealed suction"));
  expect(problemsIn(text)).toMatchObject([{ path: "steps[0].name", found: '"leak"' }]);
});

test("mistakes of every kind are named together, contradictions too", () => {
  const text = changed(
    ["author: A. Marsh\n", ""],
    ["effective_date: 2026-01-05", "effective_date: tomorrow"],
    ["example: TUB000123", "example: TUB12"],
    ["settle: 28 s", "setle: 28 s"],
    ["point: working\n    lower: 13 kPa", "point: wrking\n    lower: 13 kpa"],
    ["upper: 1290 W", "upper: 900 W"],
  );
  expect(problemsIn(text).map(({ path }) => path)).toEqual([
    "author",
    "effective_date",
    "serial.example",
    "steps[0].settle",
    "steps[0].setle",
    "characteristics[2].point",
    "characteristics[2].lower",
    "characteristics[4].lower",
  ]);
});
