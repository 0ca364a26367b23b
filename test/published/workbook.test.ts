import { beforeAll, describe, expect, it } from "vitest";
import { yieldWorkbook } from "../../station/yield-export/workbook.ts";
import { madeEmptyReport, madeYieldReport } from "../yield/made-yield-report.ts";
import { HOSTILE_TEXTS } from "../yield-export/hostile-texts.ts";
import { type ReadSheet, sheetsOfWorkbooks } from "./spreadsheet-readers.ts";

// Read back by openpyxl, an implementation of Office Open XML (ECMA-376) that shares nothing with the writer.

function sheet(sheets: readonly ReadSheet[] | undefined, name: string): ReadSheet {
  const found = sheets?.find((it) => it.name === name);
  if (!found) throw new Error(`no sheet ${name}`);
  return found;
}

/** @returns the cell under a heading */
function cellOf({ rows }: ReadSheet, row: number, heading: string) {
  const at = rows[0]?.findIndex(([, value]) => value === heading) ?? -1;
  return rows.at(row)?.[at];
}

/** Of the made report, an empty day, and one whose held units are named by hostile texts. */
let [full, empty, hostile]: (readonly ReadSheet[])[] = [];

beforeAll(async () => {
  const [one] = madeYieldReport().heldUnits;
  if (!one) throw new Error("no held unit");
  const heldUnits = HOSTILE_TEXTS.map((text) => ({ ...one, serial: `x${text}`, reason: text }));
  const reports = [madeYieldReport(), madeEmptyReport(), madeYieldReport({ heldUnits })];
  [full, empty, hostile] = sheetsOfWorkbooks(await Promise.all(reports.map(yieldWorkbook)));
});

describe("a report's workbook, read by openpyxl", () => {
  it("has a sheet for each table with rows, the headings of each in sight and wide enough to be read", () => {
    const sheets = full ?? [];
    expect(sheets.map(({ name }) => name)).toEqual([
      "Summary",
      "Groups",
      "Pareto",
      "Reference checks",
      "Limit revisions",
      "Down time",
      "On hold",
    ]);
    for (const { frozen, widths, rows } of sheets) {
      expect(frozen).toBe("A2");
      expect(widths).toHaveLength(rows[0]?.length ?? 0);
      for (const width of widths) expect(width).toBeGreaterThanOrEqual(8);
    }
  });

  it("has numbers as numbers at full precision, percentages as such, and nothing where there is nothing", () => {
    const groups = sheet(full, "Groups");
    expect(cellOf(groups, 4, "group")).toEqual(["s", "2026-01-05 09:00", "@"]);
    expect(cellOf(groups, 4, "inspected, units")).toEqual(["n", 24, "#,##0"]);
    expect(cellOf(groups, -1, "first pass yield, %")).toEqual(["n", 139 / 151, "0.00%"]);
    expect(cellOf(groups, -1, "cycle time median, s")).toEqual(["n", 21.4, "#,##0.00"]);
    expect(cellOf(groups, 5, "first pass yield, %")?.[1]).toBeNull();
  });

  it("has times as the plant's clocks showed them", () => {
    const held = sheet(full, "On hold");
    expect(cellOf(held, 1, "on hold since (Europe/Berlin)")).toEqual([
      "d",
      "2026-01-05T12:00:00",
      "yyyy-mm-dd hh:mm:ss",
    ]);
  });

  it("takes no text for a formula or a number, and leaves none out", () => {
    const held = sheet(hostile, "On hold");
    const reasons = held.rows.slice(1).map((row) => row.at(-1));
    // XML has no carriage returns and control characters: they are spelled.
    const expected = HOSTILE_TEXTS.map((text) =>
      text.replaceAll("\r", "\\u000d").replaceAll("\u0007", "\\u0007").replaceAll("\u001b", "\\u001b"),
    );
    expect(reasons.map((cell) => cell?.[1] ?? "")).toEqual(expected);
    for (const [at, cell] of reasons.entries()) if (HOSTILE_TEXTS[at] !== "") expect(cell?.[0]).toBe("s");
    for (const row of held.rows) for (const [type] of row) expect(type).not.toBe("f");
  });

  it("has summary and total only on a day without units, and no figure in them that is none", () => {
    const sheets = empty ?? [];
    expect(sheets.map(({ name }) => name)).toEqual(["Summary", "Groups"]);
    expect(JSON.stringify(sheets)).not.toMatch(/NaN|undefined|Infinity|#[A-Z]/);
  });
});
