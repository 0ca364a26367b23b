import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { z } from "zod";
import { type FileProblem, FileProblems, readCheckedYaml } from "../../limits/checked-yaml.ts";
import { quantity, wholeNumber } from "../../limits/quantity-schema.ts";

const schema = z.strictObject({
  title: z.string(),
  settle: quantity("time", { above: "0 s", atMost: "1 min" }),
  count: wholeNumber({ atLeast: 1 }),
  mode: z.enum(["poll", "stream"]),
  steps: z.array(
    z.discriminatedUnion("kind", [
      z.strictObject({ kind: z.literal("fill"), pressure: quantity("pressure") }),
      z.strictObject({ kind: z.literal("hold"), time: quantity("time") }),
    ]),
  ),
  note: z.union([z.string(), z.strictObject({ text: z.string(), by: z.string() })]).optional(),
});

const GOOD = `title: Demo
settle: 8 s
count: 3
mode: poll
steps:
  - kind: fill
    pressure: -8 kPa
`;

function problemsIn(text: string): readonly FileProblem[] {
  try {
    readCheckedYaml("demo.yaml", text, schema);
  } catch (error) {
    if (error instanceof FileProblems) return error.problems;
    throw error;
  }
  throw new Error("The text was taken as good.");
}

test("a good file comes out in SI", () => {
  expect(readCheckedYaml("demo.yaml", GOOD, schema)).toEqual({
    title: "Demo",
    settle: 8,
    count: 3,
    mode: "poll",
    steps: [{ kind: "fill", pressure: -8000 }],
  });
});

test("a kind under a mistyped key is known all the same, and so are the other mistyped keys beside it", () => {
  const text = GOOD.replace("kind:", "kindx:").replace("pressure:", "pressurex:");
  expect(problemsIn(text).map(({ path }) => path)).toEqual(
    expect.arrayContaining(["steps[0].kindx", "steps[0].pressurex"]),
  );
});

test.each([
  ["a number without unit", "8 s", "8", "2:9: settle: found 8, expected a time with its unit"],
  ["a unit of another kind", "8 s", "8 kPa", '2:9: settle: found "8 kPa", expected a time'],
  ["a unit in the wrong case", "-8 kPa", "-8 kpa", '7:15: steps[0].pressure: found "-8 kpa"'],
  [
    "a value out of bounds",
    "8 s",
    "90 s",
    '2:9: settle: found "90 s", expected a time with its unit, like "8 s", at most 1 min',
  ],
  [
    "a bound that must be exceeded",
    "8 s",
    "0 s",
    '2:9: settle: found "0 s", expected a time with its unit, like "8 s", more than 0 s',
  ],
  [
    "a broken whole number",
    "count: 3",
    "count: 3.5",
    "3:8: count: found 3.5, expected a whole number, at least 1",
  ],
  ["a number too small", "count: 3", "count: 0", "3:8: count: found 0, expected a whole number, at least 1"],
  [
    "text for a number",
    "count: 3",
    "count: three",
    '3:8: count: found "three", expected a whole number, at least 1',
  ],
  ["an empty value", "count: 3", "count:", "3:7: count: found nothing, expected a whole number, at least 1"],
  [
    "a wrong choice",
    "mode: poll",
    "mode: pull",
    '4:7: mode: found "pull", expected one of "poll", "stream" (did you mean poll?)',
  ],
  ["a list for a text", "title: Demo", "title: [a]", "1:8: title: found a list, expected text"],
  [
    "a mapping for a list",
    "steps:\n  - kind: fill\n    pressure: -8 kPa",
    "steps: {}",
    "5:8: steps: found a mapping, expected a list",
  ],
  [
    "an unknown kind",
    "kind: fill",
    "kind: fil",
    '6:11: steps[0].kind: found "fil", expected one of "fill", "hold" (did you mean fill?)',
  ],
  [
    "a key of another kind",
    "pressure: -8 kPa",
    "time: 8 s",
    "6:5: steps[0].pressure: found nothing: the key is missing",
  ],
  [
    "a missing key",
    "count: 3\n",
    "",
    "1:1: count: found nothing: the key is missing, expected a whole number, at least 1",
  ],
  [
    "a mistyped key",
    "settle",
    "setle",
    "2:1: setle: found an unknown key, expected one of title, settle, count, mode, steps, note (did you mean settle?)",
  ],
  [
    "a repeated key",
    "count: 3",
    "count: 3\ncount: 4",
    "4:1: count: found a key that is there already, in line 3, expected each key once",
  ],
  ["a tab", "  - kind", "\t- kind", "6:1: found a tab, expected spaces for indentation"],
  [
    "a second document",
    "title",
    "a: 1\n---\ntitle",
    "found a second document, expected one document in the file",
  ],
  ["an unknown tag", "title: Demo", "title: !x Demo", "1:8: found broken YAML: Unresolved tag: !x"],
  ["an unknown alias", "title: Demo", "title: *x", "expected YAML that can be read"],
  [
    "a half alternative",
    "title: Demo",
    "title: Demo\nnote: { text: hi }",
    "2:1: note.by: found nothing: the key is missing, expected text",
  ],
  [
    "no alternative at all",
    "title: Demo",
    "title: Demo\nnote: 5",
    "2:7: note: found 5, expected one of the allowed forms",
  ],
])("%s is named with line and column", (_what, from, to, expected) => {
  const text = GOOD.replace(from, to);
  expect(text).not.toBe(GOOD);
  const error = (() => {
    try {
      return readCheckedYaml("demo.yaml", text, schema);
    } catch (thrown) {
      return thrown;
    }
  })();
  expect(String(error instanceof Error && error.message)).toContain(expected);
});

describe("several mistakes", () => {
  const text = `titel: Demo
settle: 8
count: 0
mode: poll
steps:
  - kind: fill
    pressure: 8 psy
  - kind: hold
`;

  test("all come at once, in order of position", () => {
    expect(problemsIn(text).map(({ line, column, path }) => [line, column, path])).toEqual([
      [1, 1, "title"],
      [1, 1, "titel"],
      [2, 9, "settle"],
      [3, 8, "count"],
      [7, 15, "steps[0].pressure"],
      [8, 5, "steps[1].time"],
    ]);
  });

  test("the message has one line for each", () => {
    expect(new FileProblems(problemsIn(text)).message.split("\n")).toHaveLength(6);
  });
});

describe("a mistake that could hide others", () => {
  const lines = (text: string) => problemsIn(text).map(({ line, path }) => [line, path]);

  test("a mistyped section is looked into all the same", () => {
    const text = GOOD.replace("steps:", "stesp:").replace("-8 kPa", "-8");
    expect(lines(text)).toEqual([
      [1, "steps"],
      [5, "stesp"],
      [7, "steps[0].pressure"],
    ]);
  });

  test("an entry of no known kind is taken for the kind it is most like", () => {
    for (const kind of ["kind: fil", "kind: seven", "kind: 7"]) {
      const text = GOOD.replace("kind: fill", kind).replace("-8 kPa", "-8");
      expect(lines(text)).toEqual([
        [6, "steps[0].kind"],
        [7, "steps[0].pressure"],
      ]);
    }
    expect(lines(GOOD.replace("kind: fill\n    pressure: -8 kPa", "pressure: -8"))).toEqual([
      [6, "steps[0].kind"],
      [6, "steps[0].pressure"],
    ]);
  });

  test("a repeated key hides mistakes neither in its values nor elsewhere", () => {
    const again = GOOD.slice(GOOD.indexOf("steps:"));
    const text =
      GOOD.replace("count: 3", "count: 0").replace("-8 kPa", "-8") + again.replace("-8 kPa", "-8 kpa");
    expect(lines(`${text}count: 4\ncount: 5.5\n`)).toEqual([
      [3, "count"],
      [7, "steps[0].pressure"],
      [8, "steps"],
      [10, "steps[0].pressure"],
      [11, "count"],
      [12, "count"],
      [12, "count"],
    ]);
  });

  test("an unknown tag leaves the rest to be read", () => {
    expect(lines(GOOD.replace("title: Demo", "title: !x Demo").replace("8 s", "8"))).toEqual([
      [1, ""],
      [2, "settle"],
    ]);
  });

  test("one text behind two keys of different choices is no endless riddle", () => {
    const text = GOOD.replace("title: Demo", "title: &k pol").replace("poll", "*k").replace("fill", "*k");
    expect(lines(text)).toContainEqual([1, "mode"]);
  });
});

test("a value behind an alias is named where it stands", () => {
  const text = "title: &t 5\nsettle: 8 s\ncount: 1\nmode: *t\nsteps: []\n";
  expect(problemsIn(text).map(({ line, path }) => [line, path])).toEqual([
    [1, "title"],
    [1, "mode"],
  ]);
});

test.each([
  ["nothing", ""],
  ["nesting without end", "[".repeat(50_000)],
  [
    "aliases that explode",
    `a: &a [x,x,x,x,x,x,x,x,x,x]\n${"bcdefgh"
      .split("")
      .map((k, i) => `${k}: &${k} [${`*${"abcdefg"[i]},`.repeat(10)}]`)
      .join("\n")}`,
  ],
  ["a key that is a list", "? [a, b]\n: c\n"],
  ["a key of the object prototype", "__proto__: { title: x }\nconstructor: y\n"],
])("%s is a problem of the file, not of the program", (_what, text) => {
  expect(problemsIn(text).length).toBeGreaterThan(0);
});

test("no text whatever makes the reader throw anything but FileProblems", () => {
  const pieces = fc.array(
    fc.oneof(
      fc.constantFrom(
        "title",
        ": ",
        "\n",
        "  ",
        "- ",
        "&a ",
        "*a",
        "!!str ",
        "{",
        "}",
        "[",
        "]",
        "'",
        '"',
        "|",
        "8 s",
        "#",
        "---\n",
        "? ",
        "\t",
      ),
      fc.string({ maxLength: 4, unit: "binary" }),
    ),
    { maxLength: 20 },
  );
  fc.assert(
    fc.property(pieces, (words) => {
      for (const problem of problemsIn(words.join(""))) {
        expect(problem.line).toBeGreaterThanOrEqual(1);
        expect(problem.column).toBeGreaterThanOrEqual(1);
      }
    }),
    { numRuns: 1000 },
  );
});

test("editors get the unit's examples in the JSON Schema", () => {
  expect(z.toJSONSchema(schema, { io: "input" })).toMatchObject({
    properties: { settle: { type: "string", examples: ["8 s", "2 min"] } },
    additionalProperties: false,
  });
});
