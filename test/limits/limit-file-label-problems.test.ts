import { expect, test } from "vitest";
import { limitFileJsonSchema, readLimitFile } from "../../limits/limit-file.ts";
import { changed, GOOD, lineOf, problemsIn } from "./good-file.ts";

const REASONS = "  reasons:\n    - hose was not on\n    - lid was not seated\n";
const CHECKED = "example: TUB000123\n  check: mod-37-36";

test("check characters, reasons and pause come out of the file, and without them nothing is asked", () => {
  const asked = readLimitFile(
    "m.yaml",
    changed(["example: TUB000123", "example: TUB000121\n  check: mod-97-10"]),
  );
  expect(asked.serialCheck).toBe("mod-97-10");
  expect(asked.parts.map(({ check }) => check)).toEqual([null, null, null, "mod-37-36"]);
  expect(asked.retest).toEqual({
    afterFail: 1,
    afterVoid: 2,
    reasons: ["hose was not on", "lid was not seated"],
    pause_s: 30,
  });
  const plain = readLimitFile(
    "m.yaml",
    changed([REASONS, ""], ["  pause: 30 s\n", ""], ["check: mod-37-36, ", ""]),
  );
  expect(plain.serialCheck).toBeNull();
  expect(plain.parts.map(({ check }) => check)).toEqual([null, null, null, null]);
  expect(plain.retest).toEqual({ afterFail: 1, afterVoid: 2, reasons: [], pause_s: 0 });
});

test.each([
  [
    "a serial whose check character is wrong",
    [["example: TUB000123", CHECKED]],
    "serial.example",
    "example: TUB000123",
    /a serial that ends in its MOD 37,36 check character, which is [0-9A-Z]$/,
  ],
  [
    "a serial that no GS1 check digit covers",
    [["example: TUB000123", "example: TUB000123\n  check: gs1"]],
    "serial.example",
    "example: TUB000123",
    /a serial that can have a GS1 check digit: digits only/,
  ],
  [
    "an unknown scheme",
    [["example: TUB000123", "example: TUB000123\n  check: luhn"]],
    "serial.check",
    "check: luhn",
    /one of "gs1", "mod-97-10", "mod-37-36"/,
  ],
  [
    "a part whose numbers can't have the check",
    [["check: mod-37-36", "check: gs1"]],
    "parts[3].check",
    "gs1",
    /one that a part number of this pattern can have/,
  ],
  [
    "a part named as the reason of a retest",
    [["name: lid_cavity", "name: retest"]],
    "parts[1].name",
    "name: retest",
    /another name/,
  ],
  [
    "two parts of one pattern",
    [['"^L[1-4]$"', '"^T[1-4]$"']],
    "parts[1].pattern",
    "name: lid_cavity",
    /part numbers that no other part has/,
  ],
  [
    "a part that may look like another",
    [['"^G[0-9]{4}$"', '"^[GL][0-9]{1,4}$"']],
    "parts[2].pattern",
    "name: gasket_lot",
    /part numbers that no other part has/,
  ],
  [
    "a part that takes the model's own serial",
    [['"^M[0-9]{6}$"', '"^[A-Z]{1,3}[0-9]{6}$"']],
    "parts[3].pattern",
    "name: motor_serial",
    /part numbers that are no serial of this model/,
  ],
  [
    "no reason in the list",
    [[REASONS, "  reasons: []\n"]],
    "retest.reasons",
    "reasons: []",
    /at least 1 entries/,
  ],
  [
    "ten reasons",
    [[REASONS, `  reasons: [${Array.from({ length: 10 }, (_, i) => `r${i}`).join(", ")}]\n`]],
    "retest.reasons",
    "reasons: [r0",
    /at most 9 entries/,
  ],
  [
    "a reason of 61 characters",
    [["hose was not on", "h".repeat(61)]],
    "retest.reasons[0]",
    "hhhh",
    /at most 60 characters/,
  ],
  [
    "a reason that turns the direction of writing",
    [["- hose was not on", '- "hose \\u202Ewas not on"']],
    "retest.reasons[0]",
    "hose",
    /text in one line, without control characters/,
  ],
  ["an empty reason", [["- hose was not on", '- " "']], "retest.reasons[0]", '- " "', /text in one line/],
  [
    "one reason twice but for a capital",
    [["lid was not seated", "Hose was not on"]],
    "retest.reasons[1]",
    "- Hose was not on",
    /a text that another reason has not/,
  ],
  ["a pause without its unit", [["pause: 30 s", "pause: 30"]], "retest.pause", "pause: 30", /./],
  ["a pause below zero", [["pause: 30 s", "pause: -1 s"]], "retest.pause", "pause: -1 s", /at least 0 s/],
  ["a pause over an hour", [["pause: 30 s", "pause: 61 min"]], "retest.pause", "61 min", /at most 1 h/],
] as const)(
  "%s is the one problem, at its place, with what would be right",
  (_what, changes, path, piece, right) => {
    const text = changed(...changes);
    const problems = problemsIn(text);
    expect(problems.map((problem) => problem.path)).toEqual([path]);
    expect(problems[0]?.line).toBe(lineOf(text, piece));
    expect(problems[0]?.expected).toMatch(right);
  },
);

test("reasons and a pause where no retest is allowed are both refused", () => {
  expect(
    problemsIn(changed(["after_fail: 1", "after_fail: 0"])).map(({ path, expected }) => [path, expected]),
  ).toEqual([
    ["retest.reasons", "no such key, because after_fail allows no retest"],
    ["retest.pause", "no such key, because after_fail allows no retest"],
  ]);
  const without = changed(["after_fail: 1", "after_fail: 0"], [REASONS, ""], ["pause: 30 s", "pause: 0 s"]);
  expect(readLimitFile("m.yaml", without).retest.afterFail).toBe(0);
});

test("an editor is told of them by the JSON Schema", () => {
  const schema = JSON.stringify(limitFileJsonSchema());
  expect(schema).toContain('"enum":["gs1","mod-97-10","mod-37-36"]');
  expect(limitFileJsonSchema()).toMatchObject({
    properties: {
      serial: { properties: { check: {} }, required: ["pattern", "example"] },
      retest: {
        properties: { reasons: { type: "array", minItems: 1, maxItems: 9 }, pause: { type: "string" } },
        required: ["after_fail", "after_void"],
      },
    },
  });
});

test("the good file is good", () => {
  expect(readLimitFile("m.yaml", GOOD).model).toBe("TUB-12");
});
