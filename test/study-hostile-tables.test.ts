import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, expect, it, vi } from "vitest";
import { studyCommand } from "../station/commands/study.ts";
import { explain } from "../station/explain.ts";

/** Studies and the columns they read. */
const STUDIES: readonly (readonly [of: string, columns: string, args: readonly string[]])[] = [
  ["repeatability, anova", "part,appraiser,trial,value", ["repeatability", "--tolerance", "3"]],
  [
    "repeatability, range",
    "part,appraiser,trial,value",
    ["repeatability", "--method", "range", "--upper", "60"],
  ],
  ["repeatability, complete parts", "part,appraiser,trial,value", ["repeatability", "--complete-parts-only"]],
  ["type1", "value", ["type1", "--reference", "6", "--tolerance", "1.2"]],
  ["bias", "reference,value", ["bias", "--tolerance", "1.2", "--range-estimate"]],
  ["agreement", "unit,appraiser,trial,rating,reference", ["agreement"]],
  ["stability", "value,reference,time", ["stability", "--tolerance", "1"]],
  ["stability without references", "value", ["stability"]],
  ["individuals", "value", ["chart", "--kind", "individuals", "--rules", "all"]],
  ["xbar-r", "subgroup,value", ["chart", "--kind", "xbar-r"]],
  ["xbar-s", "subgroup,value", ["chart", "--kind", "xbar-s"]],
  ["ewma", "value", ["chart", "--kind", "ewma"]],
  ["cusum", "value", ["chart", "--kind", "cusum"]],
  ["p", "count,size", ["chart", "--kind", "p"]],
  ["u", "count,size", ["chart", "--kind", "u"]],
  ["capability", "value", ["capability", "--lower", "0", "--upper", "20"]],
  ["capability of subgroups", "value,subgroup", ["capability", "--upper", "20"]],
  ["capability, weibull", "value", ["capability", "--upper", "20", "--distribution", "weibull"]],
  ["compare", "group,value", ["compare", "--upper", "20"]],
];

/** Numbers of a column, by the row's number. */
type Numbers = (k: number) => string;
const usual = (k: number) => (10 + Math.sin(7 * k)).toFixed(3);
const NUMBERS: Readonly<Record<string, Numbers>> = {
  usual,
  "all equal": () => "5.3",
  "all zero": () => "0",
  "one 1e300": (k) => (k === 7 ? "1e300" : usual(k)),
  "all near 1e300": (k) => `${usual(k)}e299`,
  "all near 1e-300": (k) => `${usual(k)}e-300`,
  "one 1e-300": (k) => (k === 3 ? "1e-300" : "0"),
  "at the edge of 1e50": (k) => `${usual(k)}e49`,
  "all near 1e-49": (k) => `${usual(k)}e-50`,
  "one apart": (k) => (k === 4 ? "6" : "5"),
  "the last digit": (k) => (1 + (k % 3) * Number.EPSILON).toPrecision(17),
  "far from zero": (k) => `${101325 + (k % 2) * 1e-9}`,
  "whole and below zero": (k) => String((k % 5) - 2),
  "two values": (k) => String(k % 2),
  "an outlier": (k) => (k === 11 ? "1e15" : usual(k)),
};

const cellOf = (column: string, k: number, numbers: Numbers): string => {
  switch (column) {
    case "value":
      return numbers(k);
    case "reference":
      return ["10", "12", "14"][Math.floor(k / 4) % 3] ?? "";
    case "part":
    case "unit":
      return `P${Math.floor(k / 6)}`;
    case "appraiser":
      return "AB"[Math.floor(k / 3) % 2] ?? "";
    case "trial":
      return String(k % 3);
    case "subgroup":
    case "group":
      return `"G, ${Math.floor(k / 4)}"`;
    case "rating":
      return k % 4 === 0 ? "fail" : "pass";
    case "time":
      return `2026-01-${String(1 + (k % 28)).padStart(2, "0")}`;
    case "count":
      return /^[\d.e+-]+$/.test(numbers(k))
        ? String(Math.min(50, Math.abs(Math.trunc(Number(numbers(k))))))
        : numbers(k);
    default:
      return "50";
  }
};

const ROWS = 30;
function rowsOf(columns: string, numbers: Numbers, rows = ROWS): string[] {
  return Array.from({ length: rows }, (_, k) =>
    columns
      .split(",")
      .map((column) =>
        columns.startsWith("unit") && column === "reference"
          ? Math.floor(k / 6) % 2
            ? "fail"
            : "pass"
          : cellOf(column, k, numbers),
      )
      .join(),
  );
}

/** What befalls a table on its way. */
const TABLES: Readonly<Record<string, (columns: string) => string>> = {
  ...Object.fromEntries(
    Object.entries(NUMBERS).map(([name, numbers]) => [
      name,
      (columns: string) => [columns, ...rowsOf(columns, numbers)].join("\n"),
    ]),
  ),
  "nothing at all": () => "",
  "a header only": (columns) => `${columns}\n`,
  ...Object.fromEntries(
    [1, 2, 3, 4, 5, 6, 12].map((n) => [
      `${n} rows`,
      (columns: string) => [columns, ...rowsOf(columns, usual, n)].join("\n"),
    ]),
  ),
  "a byte order mark, CRLF, spaces and blank lines": (columns) =>
    `\ufeff${[columns, ...rowsOf(columns, usual)].join(" \r\n\r\n ")}\r\n\r\n`,
  "columns in capitals and another order": (columns) => {
    const turn = (line: string) =>
      line
        .split(/,(?! )/)
        .reverse()
        .join();
    return [turn(columns.toUpperCase()), ...rowsOf(columns, usual).map(turn)].join("\n");
  },
  semicolons: (columns) => [columns, ...rowsOf(columns, usual)].join("\n").replaceAll(",", ";"),
  "decimal commas": (columns) =>
    [columns, ...rowsOf(columns, usual).map((row) => row.replaceAll(/(\d+)\.(\d+)/g, '"$1,$2"'))].join("\n"),
  "text among the numbers": (columns) =>
    [columns, ...rowsOf(columns, (k) => (k === 5 ? "n/a" : usual(k)))].join("\n"),
  "NaN and Infinity among the numbers": (columns) =>
    [columns, ...rowsOf(columns, (k) => (k === 5 ? "NaN" : k === 6 ? "-Infinity" : usual(k)))].join("\n"),
  "an empty cell": (columns) => [columns, ...rowsOf(columns, (k) => (k === 5 ? "" : usual(k)))].join("\n"),
  "a row missing": (columns) => [columns, ...rowsOf(columns, usual).filter((_, k) => k !== 4)].join("\n"),
  "rows twice": (columns) => [columns, ...rowsOf(columns, usual), ...rowsOf(columns, usual)].join("\n"),
  "an open quotation": (columns) => [columns, ...rowsOf(columns, usual), `"1,2`].join("\n"),
  "a cell too many": (columns) =>
    [columns, ...rowsOf(columns, usual), `${rowsOf(columns, usual, 1)},9`].join("\n"),
  "no header": (columns) => rowsOf(columns, usual).join("\n"),
  "one of each name": (columns) =>
    [
      columns,
      ...rowsOf(columns, usual).map((row) => row.replaceAll(/P\d/g, "P1").replaceAll(/\bB\b/g, "A")),
    ].join("\n"),
  "each row its own name": (columns) =>
    [columns, ...rowsOf(columns, usual).map((row, k) => row.replaceAll(/P\d|"G, \d"/g, `N${k}`))].join("\n"),
  "names that a terminal or a page would obey": (columns) =>
    [
      columns,
      ...rowsOf(columns, usual).map((row) =>
        row.replaceAll(/P(\d)|"G, (\d)"/g, '"<b>=1+1\u001b[2J\u202e$1$2&NaN"'),
      ),
    ].join("\n"),
};

let folder = "";
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), "drumtight-hostile-"));
});
afterAll(() => rmSync(folder, { recursive: true, force: true }));

interface Told {
  readonly text: string;
  readonly code: number;
}

async function study(args: readonly string[]): Promise<Told> {
  const before = process.exitCode;
  process.exitCode = 0;
  let text = "";
  const spy = vi.spyOn(process.stdout, "write").mockImplementation((piece) => {
    text += String(piece);
    return true;
  });
  try {
    await studyCommand().parseAsync([...args], { from: "user" });
    return { text, code: Number(process.exitCode ?? 0) };
  } catch (error) {
    const { text: says, exitCode } = explain(error);
    return { text: says, code: exitCode };
  } finally {
    process.exitCode = before;
    spy.mockRestore();
  }
}

const UNSAID = /\bNaN\b|\bInfinity\b|\bundefined\b|\[object/;

/** All of them take a minute: each study has another third, unless all are asked for. */
const SHARE = process.env.HOSTILE_TABLES === "all" ? 1 : 3;
const MODES = ["text", "JSON", "page"] as const;

const CASES = STUDIES.flatMap(([of, columns, args], turn) =>
  Object.entries(TABLES).flatMap(([name, table], k) =>
    (k + turn) % SHARE === 0
      ? [{ of, columns, args, name, table, mode: MODES[Math.floor((k + turn) / SHARE) % 3] ?? "text" }]
      : [],
  ),
);

it.each(CASES)("study $of answers or refuses in one clear sentence, as $mode: $name", async (given) => {
  const { columns, args, name, table, mode } = given;
  const [csv, html] = [join(folder, "table.csv"), join(folder, "page.html")];
  writeFileSync(csv, table(columns));
  writeFileSync(html, "");
  const shown = { text: [], JSON: ["--json"], page: ["--html", html] }[mode];
  const told = await study([args[0] ?? "", csv, ...args.slice(1), ...shown]);
  // What the table itself says of NaN may be repeated.
  const own = (text: string) => (/obey|^NaN/.test(name) ? text.replaceAll("NaN", "") : text);
  expect([0, 1, 2], told.text).toContain(told.code);
  expect(own(told.text)).not.toMatch(UNSAID);
  if (told.code === 2) {
    expect(told.text.split("\n"), told.text).toHaveLength(1);
    expect(told.text).toMatch(/^.{20,400}\.$/);
    expect(readFileSync(html, "utf8")).toBe("");
  }
  if (mode === "page") expect(own(readFileSync(html, "utf8"))).not.toMatch(UNSAID);
  if (mode === "JSON" && told.code !== 2) {
    const found = JSON.parse(told.text) as Record<string, unknown>;
    expect(Object.keys(found)).toEqual(expect.arrayContaining(["study", "subject", "answer", "conclusion"]));
    expect(told.code).toBe(found.answer === "no" ? 1 : 0);
  }
});
