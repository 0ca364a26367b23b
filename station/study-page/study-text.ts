import { escaped } from "../../limits/escaped-text.ts";
import type { StudyReport, StudyTable } from "../quality/study-report.ts";
import { wrapWords } from "../screen/wrap-words.ts";
import { textTable } from "./text-table.ts";

const COLUMNS = 80;

/** A study for people at a terminal of 80 columns; the answer comes last, where the eye is when the prompt is back. */
export function studyText(report: StudyReport, source?: string): string {
  const { title, question, subject, tables, notes, conclusion, bands } = report;
  const answers = bands.flatMap(({ text, source }) => wrapped(`  ${text} (${source})`, "    "));
  return [
    [
      ...wrapped(title),
      ...wrapped(subject),
      ...(source === undefined ? [] : wrapped(`Source: ${source}.`, "  ")),
    ],
    ...tables.map(tableLines),
    ...(notes.length > 0 ? [notes.flatMap((note) => wrapped(note, "  "))] : []),
    [...wrapped(question), ...wrapped(conclusion), ...answers],
  ]
    .map((lines) => lines.join("\n"))
    .join("\n\n");
}

function wrapped(text: string, indent = ""): readonly string[] {
  const lead = /^ */.exec(text)?.[0] ?? "";
  return wrapWords(escaped(text.trim()), COLUMNS - lead.length, indent.slice(lead.length)).map(
    (line) => lead + line,
  );
}

function tableLines(table: StudyTable): string[] {
  return [...wrapped(table.caption), ...textTable(table, COLUMNS)];
}
