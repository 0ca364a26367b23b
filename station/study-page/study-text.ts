import type { StudyReport, StudyTable } from "../quality/study-report.ts";

/** A study for people at a terminal. */
export function studyText(report: StudyReport): string {
  const answers = report.bands.map(({ text, source }) => `  ${text} (${source})`);
  return [
    [report.title, report.subject],
    ...report.tables.map((table) => tableLines(table)),
    ...(report.notes.length > 0 ? [report.notes] : []),
    [report.conclusion, ...answers],
  ]
    .map((lines) => lines.join("\n"))
    .join("\n\n");
}

function tableLines({ caption, columns, rows }: StudyTable): string[] {
  const headings = columns.map(({ heading }) => heading);
  const widths = columns.map((_, k) => Math.max(...[headings, ...rows].map((row) => (row[k] ?? "").length)));
  const line = (row: readonly string[]) =>
    `  ${columns
      .map(({ kind }, k) =>
        kind === "text" ? (row[k] ?? "").padEnd(widths[k] ?? 0) : (row[k] ?? "").padStart(widths[k] ?? 0),
      )
      .join("  ")
      .trimEnd()}`;
  return [caption, line(headings), ...rows.map(line)];
}
