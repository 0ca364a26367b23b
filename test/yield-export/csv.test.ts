import { parse } from "csv-parse/sync";
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { UnitLine } from "../../station/yield/yield-report.ts";
import { csvOf, type DecimalSign, guarded, yieldCsv } from "../../station/yield-export/csv.ts";
import { YIELD_TABLES, yieldTable } from "../../station/yield-export/yield-tables.ts";
import { madeEmptyReport, madeYieldReport } from "../yield/made-yield-report.ts";
import { anyText, HOSTILE_TEXTS } from "./hostile-texts.ts";

function rowsOf(csv: string, decimal: DecimalSign = "point"): string[][] {
  return parse(csv, { delimiter: decimal === "comma" ? ";" : ",", bom: true });
}

/** A reader's way back, as README tells it. */
function unguarded(text: string): string {
  return text.startsWith("'") ? text.slice(1) : text;
}

const TEXTS = {
  columns: [
    { heading: "text", kind: "text" },
    { heading: "number", kind: "number" },
  ],
} as const;

const groups = { table: "groups", decimal: "point", byteOrderMark: false } as const;

describe("a report's CSV", () => {
  it("has one line of headings with units, a row for each group, and a last one for all units", () => {
    const [headings = [], ...rows] = rowsOf(yieldCsv(madeYieldReport(), groups));
    expect(headings).toEqual(
      expect.arrayContaining(["inspected, units", "first pass yield, %", "cycle time median, s"]),
    );
    expect(rows).toHaveLength(8 + 2 + 5 + 1);
    const byHeading = (row: readonly string[] = []) =>
      Object.fromEntries(headings.map((heading, k) => [heading, row[k]]));
    expect(byHeading(rows[3])).toMatchObject({
      "grouped by": "hour",
      group: "2026-01-05 09:00",
      "inspected, units": "24",
      "good at first pass, units": "21",
      "first pass yield, %": "87.5",
      "cycle time median, s": "",
    });
    expect(byHeading(rows.at(-1))).toMatchObject({
      "grouped by": "total",
      "inspected, units": "151",
      "first pass yield, %": "92.05298",
      "good, units": "140",
      "failed, units": "8",
      "failed 95 % to, %": "10.172159",
      "on hold, units": "2",
      "on hold 95 % from, %": "0.160808",
      "scrapped, units": "1",
      "void tests": "3",
      "step airflow: first pass yield, %": expect.any(String),
      "cycle time median, s": "21.4",
    });
  });

  it("has in its summary every figure of all units, with its interval, as the groups' last row has", () => {
    const [headings = [], ...rows] = rowsOf(yieldCsv(madeYieldReport(), groups));
    const total = headings.map((heading, k) => [heading, rows.at(-1)?.[k] ?? ""] as const);
    const summary = new Map(
      rowsOf(yieldCsv(madeYieldReport(), { ...groups, table: "summary" })).map(([what, value]) => [
        what,
        value,
      ]),
    );
    const figures = total.filter(([heading]) =>
      /^(?!step).*(?:, units|, %|, of \w+|tests|defects.*)$/.test(heading),
    );
    expect(figures.length).toBeGreaterThan(30);
    for (const [heading, value] of figures) expect([heading, summary.get(heading)]).toEqual([heading, value]);
    expect(summary.get("scrap ratio 95 % to, %")).toMatch(/^3\.\d+$/);
  });

  it("lists every unit with how it stands, one on hold in capitals, and a column for each tracked part", () => {
    const unit = { model: "POD-4", station: "line 1", first_at: "2026-01-05T05:02:11.000Z", tests: 1 };
    const units: readonly UnitLine[] = [
      {
        ...{ ...unit, serial: "0001", first: "pass", state: "held", reason: "scratch" },
        ...{ failedBy: [], parts: { lid_lot: "L7", tub_cavity: "T1" } },
      },
      {
        ...{ ...unit, serial: "0002", first: "fail", state: "good", reason: null, tests: 3 },
        ...{ failedBy: ["leak rate", "airflow"], parts: { tub_cavity: "T2" } },
      },
      {
        ...unit,
        serial: "0003",
        first: null,
        state: "in_doubt",
        reason: "check failed",
        failedBy: [],
        parts: {},
      },
    ];
    expect(rowsOf(yieldCsv(madeYieldReport({ units }), { ...groups, table: "units" }))).toEqual([
      [
        ...["serial", "model", "station", "first inspection ended (Europe/Berlin)", "first verdict"],
        ...["failed at first by", "stands now", "because", "tests", "part lid_lot", "part tub_cavity"],
      ],
      [
        ...["0001", "POD-4", "line 1", "2026-01-05 06:02:11 +01:00", "pass", ""],
        ...["ON HOLD", "scratch", "1", "L7", "T1"],
      ],
      [
        ...["0002", "POD-4", "line 1", "2026-01-05 06:02:11 +01:00", "fail", "leak rate, airflow"],
        ...["good", "", "3", "", "T2"],
      ],
      [
        ...["0003", "POD-4", "line 1", "2026-01-05 06:02:11 +01:00", "none that can be trusted", ""],
        ...["ON HOLD, in doubt", "check failed", "1", "", ""],
      ],
    ]);
  });

  it("leaves a field empty where nothing was inspected", () => {
    const [headings = [], ...rows] = rowsOf(yieldCsv(madeYieldReport(), groups));
    const empty = rows[4] ?? [];
    expect(empty[headings.indexOf("inspected, units")]).toBe("0");
    for (const heading of [
      "first pass yield, %",
      "first pass yield 95 % from, %",
      "defects per million opportunities",
    ]) {
      expect(empty[headings.indexOf(heading)]).toBe("");
    }
  });

  it("has its decimal commas between semicolons where asked for, and says the same", () => {
    const point = rowsOf(yieldCsv(madeYieldReport(), groups));
    const comma = yieldCsv(madeYieldReport(), { ...groups, decimal: "comma" });
    expect(comma).toContain(";92,05298;");
    const back = rowsOf(comma, "comma").map((row, line) =>
      row.map((it) => (line > 0 && /^\d+,\d+$/.test(it) ? it.replace(",", ".") : it)),
    );
    expect(back).toEqual(point);
  });

  it("begins with a byte order mark only where asked for", () => {
    expect(yieldCsv(madeYieldReport(), groups).codePointAt(0)).toBe("g".codePointAt(0));
    expect([
      ...Buffer.from(yieldCsv(madeYieldReport(), { ...groups, byteOrderMark: true })).subarray(0, 3),
    ]).toEqual([0xef, 0xbb, 0xbf]);
  });

  it("shows times as the plant's clocks do, with their offset, and names the zone above", () => {
    const [headings = [], row = []] = rowsOf(yieldCsv(madeYieldReport(), { ...groups, table: "held" }));
    expect(headings[2]).toBe("on hold since (Europe/Berlin)");
    expect(row[2]).toBe("2026-01-05 12:00:00 +01:00");
  });

  it.each(YIELD_TABLES)("has as many fields in every line of the table %s, also of an empty day", (table) => {
    for (const report of [madeYieldReport(), madeEmptyReport()]) {
      const rows = rowsOf(yieldCsv(report, { ...groups, table }));
      const { columns, rows: cells } = yieldTable(report, table);
      expect(rows).toHaveLength(cells.length + 1);
      expect(new Set(rows.map((row) => row.length))).toEqual(new Set([columns.length]));
      expect(rows.flat().join()).not.toMatch(/NaN|undefined|null|Infinity|\[object/);
    }
  });

  it("writes numbers without exponents, at full precision", () => {
    const rows = [1e-7, 1e-12, 0.1 + 0.2, 123456789.25, -4.5].map((value) => ["", value] as const);
    const csv = csvOf({ columns: TEXTS.columns, rows }, "UTC", "point");
    expect(
      rowsOf(csv)
        .slice(1)
        .map(([, shown]) => shown),
    ).toEqual(["0.0000001", "0.000000000001", "0.30000000000000004", "123456789.25", "-4.5"]);
  });

  it("leaves out nothing that somebody wrote, and lets no spreadsheet take it for a formula", () => {
    fc.assert(
      fc.property(
        fc.array(anyText, { minLength: 1, maxLength: 8 }),
        fc.constantFrom("point", "comma"),
        (texts, decimal) => {
          const csv = csvOf(
            { columns: TEXTS.columns, rows: texts.map((text, k) => [text, -k - 0.5]) },
            "UTC",
            decimal,
          );
          const [, ...rows] = rowsOf(csv, decimal);
          expect(rows.map(([text = ""]) => unguarded(text))).toEqual(
            texts.map((text) => text.replaceAll("\0", "\u2400")),
          );
          for (const [text = ""] of rows)
            expect(text.replace(/^[\s\p{C}\p{Z}]+/u, "")).not.toMatch(/^[=+\-@\uFF0B\uFF0D\uFF1D\uFF20]/);
          for (const [text = ""] of rows) expect(text).not.toMatch(/^[\t\r\n]/);
          expect(rows.map(([, number = ""]) => Number(number.replace(",", ".")))).toEqual(
            texts.map((_, k) => -k - 0.5),
          );
        },
      ),
      { numRuns: 300 },
    );
  });

  it("is safe wherever a free text may come: groups, parts' lots, steps, reasons, names, paths, notes", () => {
    const full = madeYieldReport();
    for (const hostile of HOSTILE_TEXTS) {
      const report = madeYieldReport({
        breakdowns: [{ by: "lot", groups: [{ name: hostile, from: null, to: null, counts: full.total }] }],
        total: { ...full.total, steps: full.total.steps.map((it) => ({ ...it, step: hostile })) },
        failingCharacteristics: [{ name: hostile, count: 1, rate: 1, share: 1, cumulative: 1 }],
        heldUnits: [
          {
            serial: hostile,
            model: hostile,
            since: "2026-01-05T09:01:00.000Z",
            by: hostile,
            reason: hostile,
          },
        ],
        units: [
          {
            ...{ serial: hostile, model: hostile, station: hostile, reason: hostile },
            ...{ first_at: "2026-01-05T09:01:00.000Z", first: "fail", state: "held", tests: 1 },
            failedBy: [hostile],
            parts: { [hostile]: hostile },
          },
        ],
        source: {
          ...full.source,
          folder: hostile,
          stations: [hostile],
          broken: [{ path: hostile, problem: hostile }],
        },
        notes: [hostile],
      });
      for (const table of YIELD_TABLES) {
        const [headings = [], ...rows] = rowsOf(yieldCsv(report, { ...groups, table }));
        const texts = yieldTable(report, table).columns.flatMap(({ kind }, k) =>
          kind === "text" ? [k] : [],
        );
        for (const cell of [...headings, ...rows.flatMap((row) => texts.map((k) => row[k] ?? ""))]) {
          expect(cell).not.toMatch(/^[\s\p{C}]*[=+\-@\uFF1D]/u);
        }
      }
    }
  });

  it("puts no apostrophe where none is needed", () => {
    for (const text of ["POD000123", "a=b", "Gehäuse", "2026-01-05", "1-2", "\u00B112"])
      expect(guarded(text)).toBe(text);
  });
});
