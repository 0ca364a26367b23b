import { expect } from "vitest";
import type { StudyReport } from "../../../station/quality/study-report.ts";

/** No NaN and no infinity anywhere in what a program, a page or a person would get. */
export function expectFinite(report: StudyReport): void {
  for (const [where, value] of numbersIn({ ...report.figures, charts: report.charts }))
    if (!Number.isFinite(value)) expect.fail(`${where} is ${value}`);
  const words = [report.conclusion, ...report.notes, ...report.tables.flatMap(({ rows }) => rows.flat())];
  for (const text of words) expect(text).not.toMatch(/NaN|Infinity|undefined|no value/);
  for (const { columns, rows } of [...report.tables, report.data])
    for (const row of rows) expect(row).toHaveLength(columns.length);
}

function numbersIn(value: unknown, where = ""): (readonly [string, number])[] {
  if (typeof value === "number") return [[where, value]];
  if (typeof value !== "object" || value === null) return [];
  return Object.entries(value).flatMap(([name, inner]) => numbersIn(inner, `${where}.${name}`));
}
