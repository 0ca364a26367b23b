import { readFileSync } from "node:fs";
import { join } from "node:path";
import fc from "fast-check";
import { expect, test } from "vitest";
import { FileProblems } from "../../limits/checked-yaml.ts";
import { readLimitFile } from "../../limits/limit-file.ts";

const GOOD = readFileSync(join(import.meta.dirname, "good.yaml"), "utf8").split("\n");

/** A mistake at one line of the good file. */
interface Mistake {
  readonly what: string;
  readonly line: number;
  /** What stands there instead, and which of these lines has the mistake. */
  readonly instead: readonly string[];
  readonly wrong: number;
  /** Lines without which it would be no mistake. */
  readonly needs: readonly number[];
}

const KEYED = /^(?<indent> *)(?<dash>- )?(?<key>[a-z_]+):(?: (?<value>[^#]*[^# ]))?/;
const QUANTITY = /^-?[\d.]+ \S+(?: @ .*)?$/;
const WHOLE = /^\d+$/;

function lineOf(piece: string): number {
  const line = GOOD.findIndex((text) => text.includes(piece));
  if (line < 0) throw new Error(`The good file has no ${piece}.`);
  return line;
}

/** Mistakes that a line can have by what is written in it. */
function plainMistakes(text: string, line: number): Mistake[] {
  const { indent = "", dash = "", key = "", value = "" } = KEYED.exec(text)?.groups ?? {};
  if (key === "") return [];
  const inside = indent + " ".repeat(dash.length);
  // A limit's unit is known from what is measured, some lines above.
  const measure = GOOD.slice(0, line).findLastIndex((before) => before.includes("measure: "));
  const needs = /^(lower|upper)$/.test(key) ? [measure] : [];
  const here = (what: string, other: string) => ({ what, line, instead: [other], wrong: 0, needs });
  const after = (what: string, more: string) => ({ what, line, instead: [text, more], wrong: 1, needs });
  const withValue = (what: string, other: string) => here(what, `${indent}${dash}${key}: ${other}`);
  const [digits] = value.split(" ");
  return [
    here("a mistyped key", text.replace(key, `${key}x`)),
    ...(value === ""
      ? [{ what: "an unknown key", line, instead: [`${inside}surplus_${line}: 1`, text], wrong: 0, needs }]
      : [
          after("an unknown key", `${inside}surplus_${line}: 1`),
          after("a repeated key", `${inside}${key}: ${value}`),
        ]),
    ...(QUANTITY.test(value)
      ? [
          withValue("a missing unit", `${digits}`),
          withValue("a wrong unit", `${digits} parsec`),
          withValue("a list for a quantity", "[1]"),
        ]
      : []),
    ...(WHOLE.test(value)
      ? [withValue("a fraction", `${value}.5`), withValue("text for a number", "many")]
      : []),
  ];
}

/** The one place of the good file that has the piece, with something else in it. */
function changed(what: string, piece: string, other: string, needs: readonly number[] = []): Mistake {
  const line = lineOf(piece);
  return { what, line, instead: [(GOOD[line] ?? "").replace(piece, other)], wrong: 0, needs };
}

const stepNames = [lineOf("name: leak"), lineOf("name: airflow")];
const characteristicNames = GOOD.flatMap((text, line) => (/^ {2}- name: /.test(text) ? [line] : []));
const steps = [lineOf("- step: leak"), lineOf("- step: airflow")];
const parts = GOOD.flatMap((text, line) => (/^ {2}- \{ name: /.test(text) ? [line] : []));

const MISTAKES: readonly Mistake[] = [
  ...GOOD.flatMap(plainMistakes),
  changed("a fraction in a flow mapping", "samples_least: 8", "samples_least: 8.5"),
  changed("a repeated key in a flow mapping", "orifice: working", "orifice: working, orifice: working"),
  changed("a missing unit in a flow mapping", "open, known_within: 0.3 %", "open, known_within: 0.3"),
  changed("an unknown key in a flow mapping", "{ kind: simple }", "{ kind: simple, surplus: 1 }"),
  changed("text for a ratio", "at_least: 0.98", "at_least: much"),
  changed("a mistyped kind of condition", "kind: finding", "kind: findin"),
  changed("a mistyped limit of a ratio", "to: lower", "to: lowr"),
  changed("a mistyped verdict", "is: fail", "is: fial"),
  changed("a code in small letters", "[GROSS_LEAK,", "[gross_leak,"),
  changed("an exponent beyond reason", "speed_per_density: -0.17", "speed_per_density: -1.7"),
  changed("a number far too large", "after_fail: 1", "after_fail: 1e99"),
  changed("a mistyped kind of step", "- step: leak", "- step: leek"),
  changed("no kind of step at all", "- step: airflow", "- step: 5"),
  changed("a mistyped measure", "measure: leak_rate", "measure: leak_rte"),
  changed("a mistyped kind of rule", "kind: guarded", "kind: guardd"),
  changed("a date that is none", "2026-01-05", "2026-02-30"),
  changed("a pattern without end", '"^T[1-4]$"', '"^T[1-4]+$"'),
  changed("a serial beside its pattern", "TUB000123", "TUB12", [lineOf("pattern: ^TUB")]),
  changed("a pressure over the rating", "-8 kPa", "-26 kPa", [lineOf("rated_pressure"), ...steps]),
  changed("a tolerance over the pressure", "0.2 kPa", "9 kPa", [lineOf("test_pressure"), ...steps]),
  changed("a shortest fill over the longest", "fill_shortest: 2 s", "fill_shortest: 8 s", [
    lineOf("fill_longest"),
    ...steps,
  ]),
  changed("a shortest vent over the longest", "vent_shortest: 0.5 s", "vent_shortest: 9 s", [
    lineOf("vent_longest"),
    ...steps,
  ]),
  changed("a first look after the end", "measure_shortest: 3 s", "measure_shortest: 10 s", [
    lineOf("early_verdict"),
    lineOf("measure_longest"),
    ...steps,
  ]),
  changed("looks too far apart", "look_every: 0.25 s", "look_every: 7.1 s", [
    lineOf("early_verdict"),
    lineOf("measure_longest"),
    lineOf("measure_shortest"),
    ...steps,
  ]),
  changed("a risk too high", "false_accept: 0.05 %", "false_accept: 6 %", [lineOf("early_verdict")]),
  changed("a mistyped method", "kind: fitted", "kind: fited"),
  changed("a tolerance over the supply", "5 V", "231 V", [lineOf("supply_voltage"), ...steps]),
  changed("a tolerance too wide to correct for", "5 V", "35 V", [lineOf("supply_voltage"), ...steps]),
  changed("a motor off before its limit", "power_highest: 1600 W", "power_highest: 1290 W", [
    lineOf("upper: 1290 W"),
    lineOf("measure: power"),
    ...stepNames,
    ...steps,
  ]),
  changed("a lower limit over the upper", "1010 W", "1300 W", [
    lineOf("upper: 1290 W"),
    lineOf("measure: power"),
  ]),
  changed("a name twice", "name: sealed suction", "name: leak rate", characteristicNames),
  changed("a part twice", "name: lid_cavity", "name: tub_cavity", parts),
  changed("a part of a retest's name", "name: lid_cavity", "name: retest", parts),
  changed("a part that looks like a serial", '"^M[0-9]{6}$"', '"^[MT](UB)?[0-9]{6}$"', [
    lineOf("pattern: ^TUB"),
  ]),
  changed("a part that looks like another", '"^L[1-4]$"', '"^[LT][1-4]$"', parts),
  changed("an unknown kind of check", "check: mod-37-36", "check: mod-11"),
  changed("a check of digits in a text with letters", "check: mod-37-36", "check: gs1", parts),
  changed("one reason twice", "- lid was not seated", "- Hose was not on", [lineOf("- hose was not on")]),
  changed("a reason too long for its line", "hose was not on", "hose was not on ".repeat(4).trim()),
  changed("a reason in two lines", "- hose was not on", '- "hose was\\nnot on"'),
  changed("a pause of a day", "pause: 30 s", "pause: 1 d"),
  changed("a point that is not there", "point: working", "point: wrking", [
    lineOf("{ name: working"),
    ...stepNames,
    ...steps,
  ]),
  changed("a motor that stops above where it runs", "stopped_below: 5 W", "stopped_below: 101 W", [
    lineOf("running_above"),
    ...steps,
  ]),
  changed("an inrush over the run-up", "inrush_longest: 2 s", "inrush_longest: 7 s", [
    lineOf("run_up_longest"),
    ...steps,
  ]),
  changed("one orifice twice", "orifice: open", "orifice: closed", [lineOf("orifice: closed"), ...steps]),
  changed("a limit over 100 %", "upper: 40 %", "upper: 140 %", [lineOf("measure: efficiency")]),
  changed("a rule on nothing", "of: open flow", "of: opn flow", [
    lineOf("- kind: ratio"),
    ...characteristicNames,
  ]),
  changed("a part that is not tracked", "part: tub_cavity", "part: tub_cavty", [
    lineOf("kind: part"),
    ...parts,
  ]),
  changed("bounds in the wrong order", "at_least: 0.98", "at_least: 1.98", [
    lineOf("at_most: 1.25"),
    GOOD.findLastIndex((text) => text.includes("- kind: ratio")),
  ]),
].map((mistake) => ({ ...mistake, needs: mistake.needs.filter((line) => line !== mistake.line) }));

/** As many of the wanted mistakes as do not stand in each other's way. */
function independent(wanted: readonly Mistake[]): Mistake[] {
  const used = new Set<number>();
  const needed = new Set<number>();
  return wanted.filter(({ line, needs }) => {
    if (used.has(line) || needed.has(line) || needs.some((other) => used.has(other))) return false;
    used.add(line);
    for (const other of needs) needed.add(other);
    return true;
  });
}

/** @returns the file with its mistakes, and the line each mistake is in, from 1 */
function planted(mistakes: readonly Mistake[]): { text: string; lines: Map<number, string> } {
  const written: string[] = [];
  const lines = new Map<number, string>();
  for (const [line, text] of GOOD.entries()) {
    const mistake = mistakes.find((candidate) => candidate.line === line);
    if (mistake) lines.set(written.length + mistake.wrong + 1, mistake.what);
    written.push(...(mistake?.instead ?? [text]));
  }
  return { text: written.join("\n"), lines };
}

function problemLines(text: string): number[] {
  try {
    readLimitFile("m.yaml", text);
    return [];
  } catch (error) {
    if (!(error instanceof FileProblems)) throw error;
    return error.problems.map(({ line }) => line);
  }
}

test.each(MISTAKES)("$what (line $line of the good file, from 0) is reported at its line", (mistake) => {
  const { text, lines } = planted([mistake]);
  expect(problemLines(text)).toEqual(expect.arrayContaining([...lines.keys()]));
});

test("of mistakes anywhere in a limit file none hides another: each is reported at its own line", () => {
  fc.assert(
    fc.property(fc.shuffledSubarray([...MISTAKES], { minLength: 2, maxLength: 40 }), (wanted) => {
      const { text, lines } = planted(independent(wanted));
      const reported = new Set(problemLines(text));
      const missed = [...lines].filter(([line]) => !reported.has(line));
      expect(missed).toEqual([]);
    }),
    { numRuns: 400 },
  );
});
