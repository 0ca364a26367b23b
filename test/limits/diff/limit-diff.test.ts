import fc from "fast-check";
import { expect, test } from "vitest";
import { parse, stringify } from "yaml";
import { FileProblems } from "../../../limits/checked-yaml.ts";
import { changeText } from "../../../limits/diff/change-text.ts";
import { limitDiff } from "../../../limits/diff/limit-diff.ts";
import { hasWords } from "../../../limits/diff/place-words.ts";
import { limitFileJsonSchema, readWrittenLimits } from "../../../limits/limit-file.ts";
import { formatNumber } from "../../../limits/print-quantity.ts";
import { type Dimension, dimensionHelp, parseQuantity, toUnit } from "../../../limits/quantity.ts";
import { changed, GOOD } from "../good-file.ts";

const read = (text: string) => readWrittenLimits("m.yaml", text);
const told = (to: string, from = GOOD) => limitDiff(read(from), read(to)).map(changeText);

test.each([
  [
    "60 mL/min @ 20 degC",
    "55 mL/min @ 20 degC",
    "upper limit of the leak rate 60 -> 55 mL/min @ 20 degC (tighter, 8.3 %)",
  ],
  [
    "lower: 19.5 kPa",
    "lower: 200 mbar",
    "lower limit of the sealed suction 19.5 kPa -> 200 mbar (= 20 kPa, tighter, 2.6 %)",
  ],
  ["lower: 49 L/s", "lower: 48 L/s", "lower limit of the open flow 49 -> 48 L/s (looser, 2 %)"],
  ["settle: 28 s", "settle: 0.5 min", "settling time of step leak 28 s -> 0.5 min (= 30 s, longer, 7.1 %)"],
  [
    "test_pressure: -8 kPa",
    "test_pressure: -10 kPa",
    "test pressure of step leak -8 -> -10 kPa (more, 25 %)",
  ],
  [
    "method: { kind: fitted }",
    "method: { kind: slope, subtract_mean_curve: true }",
    "method of step leak fitted -> slope",
  ],
  ["after_fail: 1", "after_fail: 2", "retests after a fail 1 -> 2 (more, 100 %)"],
  ["orifice: working", "orifice: small", "orifice of point working of step airflow working -> small"],
  ["cause: porous tub", "cause: thin tub", "cause of suspect number 2 porous tub -> thin tub"],
  [
    "at_most: 0.97",
    "at_most: 0.96",
    'conditions of suspect "blocked path", number 3 open flow over its lower limit is at most 0.97 -> open flow over its lower limit is at most 0.96',
  ],
  ["revision: 1", "revision: 2", "revision 1 -> 2 (raised)"],
])("%s made %s is told as a colleague would", (from, to, line) => {
  let text = changed([from, to]);
  if (to.includes("slope")) text = text.replace(/early_verdict:\n(?: {6}.*\n)+/, "early_verdict: off\n");
  expect(told(text)).toContain(line);
});

test.each([
  [
    "reasons",
    "    - hose was not on\n",
    "",
    ['reason for a retest "hose was not on" removed: hose was not on'],
  ],
  [
    "a tracked part",
    '  - { name: gasket_lot, pattern: "^G[0-9]{4}$", required: false }\n',
    "",
    ["tracked part gasket_lot removed: pattern ^G[0-9]{4}$, required false"],
  ],
  [
    "a limit",
    "    lower: 49 L/s\n",
    "    lower: 49 L/s\n    upper: 60 L/s\n",
    ["upper limit of the open flow added: 60 L/s (tighter)"],
  ],
  [
    "a characteristic",
    "  - name: working efficiency\n    step: airflow\n    measure: efficiency\n    point: working\n    lower: 18 %\n    upper: 40 %\n    rule: { kind: simple }\n",
    "",
    [
      "characteristic working efficiency removed: step airflow, measure efficiency, point working, lower 18 %, upper 40 %, rule.kind simple",
    ],
  ],
  [
    "a point",
    "      - { name: open, orifice: open, known",
    "      - { name: more, orifice: small, known_within: 1 %, samples_least: 8, hold_longest: 5 s }\n      - { name: open, orifice: open, known",
    ["point more of step airflow added: orifice small, known_within 1 %, samples_least 8, hold_longest 5 s"],
  ],
])("%s added or removed is told whole, once", (_, from, to, lines) => {
  expect(told(changed([from, to]))).toEqual(lines);
});

test("a step and its characteristic added are one line each", () => {
  const from = GOOD.slice(GOOD.indexOf("  - name: leak rate"), GOOD.indexOf("  - name: sealed suction"));
  const step = GOOD.slice(GOOD.indexOf("  - step: leak"), GOOD.indexOf("  - step: airflow"));
  const lines = told(GOOD.replace(from, "").replace(step, ""));
  expect(lines.map((line) => line.split(":")[0])).toEqual([
    "step leak removed",
    "characteristic leak rate removed",
  ]);
});

test("a suspect that is moved, added or removed is told, the others are not", () => {
  const suspect = GOOD.slice(GOOD.indexOf("  - cause: porous tub"), GOOD.indexOf("  - cause: blocked path"));
  expect(told(GOOD.replace(suspect, ""))).toEqual([
    'suspect "porous tub" removed: when working suction is fail and tub_cavity fits ^T3$: Try the unit with another tub.',
  ]);
  expect(told(GOOD.replace(suspect, "").trimEnd().concat("\n", suspect))).toEqual([
    'order of the suspects, from where they first differ "porous tub" (number 3) -> "blocked path" (number 2)',
  ]);
});

test("another order of retest reasons is told, since they are chosen by their numbers", () => {
  const swapped = changed([
    "    - hose was not on\n    - lid was not seated\n",
    "    - lid was not seated\n    - hose was not on\n",
  ]);
  expect(told(swapped)).toEqual([
    "order of the reasons for a retest hose was not on, lid was not seated -> lid was not seated, hose was not on",
  ]);
});

test("a leak limit whose text stays and whose reference conditions change is told with what it means now", () => {
  const bare = changed(["60 mL/min @ 20 degC", "60 mL/min"]);
  const cold = bare.replace(
    "\nsteps:",
    "\nreference: { temperature: 0 degC, pressure: 101.325 kPa }\n\nsteps:",
  );
  const lines = limitDiff(read(bare), read(cold)).map(changeText);
  expect(lines).toEqual([
    "reference temperature 20 -> 0 degC (less)",
    "upper limit of the leak rate 60 -> 60 mL/min (= 64.3932 mL/min @ 20 degC, looser, 7.3 %)",
  ]);
});

test("defaults written out, comments, quotes and the order of keys are no difference", () => {
  const written = GOOD.replace("\nsteps:", "\nreference: { temperature: 68 degF, pressure: 1 atm }\nsteps:");
  expect(told(written)).toEqual([]);
  const { model, ...rest } = parse(GOOD);
  expect(told(stringify({ ...rest, model }))).toEqual([]);
});

test("early verdicts switched off are told as that", () => {
  const off = GOOD.replace(/early_verdict:\n(?: {6}.*\n)+/, "early_verdict: off\n");
  expect(told(off)[0]).toBe("early verdict of step leak on -> off");
});

test("every key a limit file may have has words of its own", () => {
  const places = placesOf(limitFileJsonSchema(), "");
  expect(places.size).toBeGreaterThan(60);
  const wordless = [...places].filter(
    (place) => !place.startsWith("suspects") && !isMapping(place) && !hasWords(place),
  );
  expect(wordless).toEqual([]);

  function isMapping(place: string): boolean {
    return [...places].some((other) => other.startsWith(`${place}.`));
  }
});

test("any file differs from itself in nothing", () => {
  fc.assert(
    fc.property(mutatedText(), (text) => {
      if (text !== null) expect(limitDiff(read(text), read(text))).toEqual([]);
    }),
    { numRuns: 8 },
  );
});

test("every value that is changed is told, and at its place only", () => {
  const before = read(GOOD);
  const content = parse(GOOD);
  let tried = 0;
  for (const path of leafPaths(content)) {
    for (const other of otherValues(valueAt(content, path), path.at(-1))) {
      if (other === valueAt(content, path)) continue;
      const text = stringify(withValue(content, path, other), { aliasDuplicateObjects: false });
      const after = readOrNull(text);
      if (!after) continue;
      tried++;
      const changes = limitDiff(before, after);
      expect(changes.length, `${path.join(".")} = ${JSON.stringify(other)}`).toBeGreaterThan(0);
      const isNaming = path.at(-1) === "name" || path[0] === "suspects" || path.at(-2) === "reasons";
      if (!isNaming)
        expect(changes.map(({ place }) => lastKey(place))).toEqual(
          changes.map(() => lastKey(String(path.at(-1)))),
        );
    }
  }
  expect(tried).toBeGreaterThan(80);
});

test("quantities written in other units are no difference, however many", () => {
  fc.assert(
    fc.property(fc.array(fc.nat(), { minLength: 60, maxLength: 60 }), (choices) => {
      let at = 0;
      const content = parse(GOOD);
      for (const path of leafPaths(content)) {
        const value = valueAt(content, path);
        if (typeof value !== "string") continue;
        const kind = dimensionOf(path, value);
        const units = kind ? UNITS[kind] : undefined;
        if (!kind || !units) continue;
        const unit = units[(choices[at++ % choices.length] ?? 0) % units.length] ?? "";
        const parsed = parseQuantity(value, kind);
        if (parsed.ok)
          setValue(
            content,
            path,
            `${formatNumber(toUnit(parsed.value.value_SI, kind, unit), { significant: 15 })} ${unit}`,
          );
      }
      expect(at).toBeGreaterThan(30);
      expect(limitDiff(read(GOOD), read(stringify(content)))).toEqual([]);
    }),
    { numRuns: 8 },
  );
});

const UNITS: Partial<Record<Dimension, readonly string[]>> = {
  pressure: ["Pa", "kPa", "mbar", "bar", "inH2O", "psi"],
  time: ["s", "ms", "min"],
  volume: ["L", "mL", "m3"],
  power: ["W", "kW"],
  voltage: ["V", "mV"],
  flow: ["L/s", "m3/h", "cfm"],
  leakRate: ["mL/min @ 20 degC", "Pa.m3/s @ 20 degC", "cm3/s @ 0 degC", "umol/s"],
  ratio: ["%", "fraction"],
};

function dimensionOf(path: readonly (string | number)[], value: string): Dimension | null {
  if (path.includes("suspects")) return null;
  for (const kind of Object.keys(UNITS) as Dimension[]) {
    dimensionHelp(kind);
    if (parseQuantity(value, kind).ok) return kind;
  }
  return null;
}

function placesOf(schema: unknown, at: string, found = new Set<string>()): Set<string> {
  if (typeof schema !== "object" || schema === null) return found;
  const { properties, items, anyOf, oneOf } = schema as Record<string, unknown>;
  for (const [key, inner] of Object.entries((properties as object) ?? {})) {
    const place = at === "" ? key : `${at}.${key}`;
    found.add(place);
    placesOf(inner, place, found);
  }
  if (items) placesOf(items, `${at}[]`, found);
  for (const inner of [...((anyOf as unknown[]) ?? []), ...((oneOf as unknown[]) ?? [])])
    placesOf(inner, at, found);
  return found;
}

type Path = readonly (string | number)[];

function leafPaths(from: unknown, at: Path = []): Path[] {
  if (typeof from !== "object" || from === null) return [at];
  const keys = Array.isArray(from) ? from.map((_, i) => i) : Object.keys(from);
  return keys.flatMap((key) => leafPaths((from as Record<string | number, unknown>)[key], [...at, key]));
}

function valueAt(from: unknown, path: Path): unknown {
  return path.reduce((inner, key) => (inner as Record<string | number, unknown>)[key], from);
}

function setValue(from: unknown, path: Path, value: unknown): void {
  const parent = valueAt(from, path.slice(0, -1)) as Record<string | number, unknown>;
  parent[path.at(-1) ?? ""] = value;
}

function withValue(from: unknown, path: Path, value: unknown): unknown {
  const copy = structuredClone(from);
  setValue(copy, path, value);
  return copy;
}

const OTHER_CHOICES: Readonly<Record<string, string>> = {
  effective_date: "2026-02-01",
  kind: "simple",
  if_failed: "continue",
  is: "pass",
  check: "gs1",
  example: "TUB000124",
  to: "upper",
};

/** Such as the value might become; many are refused by the reader. */
function otherValues(value: unknown, key: string | number | undefined): unknown[] {
  if (typeof value === "boolean") return [!value];
  if (typeof value === "number") return [value + 1];
  const text = String(value);
  const number = /^(-?[\d.]+)( .*)$/.exec(text);
  if (number) return [`${Number(number[1]) * 1.01}${number[2]}`];
  return [OTHER_CHOICES[String(key)] ?? `${text}x`];
}

function readOrNull(text: string) {
  try {
    return read(text);
  } catch (error) {
    if (error instanceof FileProblems) return null;
    throw error;
  }
}

function mutatedText(): fc.Arbitrary<string | null> {
  const content = parse(GOOD);
  const paths = leafPaths(content);
  return fc.tuple(fc.nat(paths.length - 1), fc.nat(2)).map(([i, n]) => {
    const path = paths[i] ?? [];
    const values = otherValues(valueAt(content, path), path.at(-1));
    const text = stringify(withValue(content, path, values[n % values.length]), {
      aliasDuplicateObjects: false,
    });
    return readOrNull(text) ? text : null;
  });
}

function lastKey(place: string): string {
  return place.slice(Math.max(place.lastIndexOf("."), place.lastIndexOf("]")) + 1);
}
