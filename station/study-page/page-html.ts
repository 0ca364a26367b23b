import type { StudyAnswer, StudyReport, StudyTable } from "../quality/study-report.ts";
import { cellLook } from "./cell-look.ts";
import { chartSvg } from "./chart-svg.ts";
import { captionHtml, dataSection } from "./data-section.ts";
import { htmlText } from "./html-text.ts";
import { PAGE_STYLE } from "./page-style.ts";

/** What a page says of its own making. */
export interface PageAbout {
  /** Where the values came from: a file's name, a records folder with its days. */
  readonly source: string;
  readonly madeAt: Date;
  /** Program and version, like "drumtight 0.1.0". */
  readonly software: string;
}

const ANSWERS: Readonly<Record<StudyAnswer, string>> = {
  yes: "Yes",
  marginal: "Marginal",
  no: "No",
  none: "Not judged",
};

/** A study as one page that needs no network and no script; the same report and making give the same text. */
export function studyPage(report: StudyReport, about: PageAbout): string {
  const { title, question, subject, conclusion, answer, bands, notes, tables, charts, data } = report;
  // What is held against nothing has no verdict that could be missing.
  const isJudged = answer !== "none" || bands.length > 0;
  const section = (heading: string, content: string, look = "") =>
    `<section${look === "" ? "" : ` class="${look}"`}>
<h2>${heading}</h2>
${content}
</section>`;
  const figures = charts.map((chart, k) => {
    const { svg, leftOut } = chartSvg(chart, `chart${k + 1}`);
    const thin =
      leftOut === 0
        ? ""
        : `<p>${leftOut.toLocaleString("en-GB")} values lie where others are drawn already, and have no ink of their own.</p>`;
    return `<figure>
<figcaption>${htmlText(chart.title)}</figcaption>
${svg}${thin}
</figure>`;
  });
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<meta name="generator" content="${htmlText(about.software)}">
<title>${htmlText(`${title}: ${subject}`)}</title>
<style>${PAGE_STYLE}</style>
</head>
<body>
<main>
<header>
<h1>${htmlText(title)}</h1>
<p>${htmlText(subject)}</p>
<dl>
<dt>Values from</dt><dd>${htmlText(about.source)}</dd>
<dt>Made</dt><dd>${htmlText(minute(about.madeAt))} by ${htmlText(about.software)}</dd>
</dl>
</header>
${section(
  "Conclusion",
  `<p class="asked">${htmlText(question)}</p>
<div>${isJudged ? `<span class="word">${ANSWERS[answer]}</span>` : ""}<p>${htmlText(conclusion)}</p></div>`,
  `answer ${answer}`,
)}
${bands.length === 0 ? "" : section("Held against", list(bands.map(({ text, source }) => `${htmlText(text)} <cite>${htmlText(source)}</cite>`)))}
${notes.length === 0 ? "" : section("To know", notesHtml(notes))}
${figures.length === 0 ? "" : section("Charts", `<div>${figures.join("\n")}</div>`, "flows")}
${tables.length === 0 ? "" : section("Figures", `<div class="scrolls">${tables.map((table, k) => tableHtml(table, `table${k + 1}`)).join("\n")}</div>`, "flows")}
${section("Values", `<div class="scrolls">${dataSection(data)}</div>`, "flows whole")}
</main>
</body>
</html>
`.replace(/\n{2,}(?=<section|<\/main)/g, "\n");
}

/** Tables shorter than this are not broken at all. */
const KEPT_WHOLE_ROWS = 16;

function tableHtml({ caption, columns, rows }: StudyTable, id: string): string {
  const looks = [
    ...(columns.length > 7 ? ["wide"] : []),
    ...(rows.length <= KEPT_WHOLE_ROWS ? ["short"] : []),
  ].join(" ");
  const headings = columns.map(
    ({ heading, kind }) => `<th scope="col" class="${kind}">${htmlText(heading)}</th>`,
  );
  const lines = rows.map((row) => {
    const cells = columns.map(({ kind }, k) => {
      const text = htmlText(row[k] ?? "");
      // Names in the first column say what their line is of.
      return k === 0 && kind === "text"
        ? `<th scope="row" class="${cellLook(kind, row[k])}">${text}</th>`
        : `<td class="${cellLook(kind, row[k])}">${text}</td>`;
    });
    return `<tr>${cells.join("")}</tr>`;
  });
  return `${captionHtml(caption, id)}<table${looks === "" ? "" : ` class="${looks}"`} aria-labelledby="${id}">
<thead><tr>${headings.join("")}</tr></thead>
<tbody>
${lines.join("\n")}
</tbody></table>`;
}

/** By the computer's calendar, to the minute, with its distance from UTC. @example "2026-01-05 07:00 +01:00" */
function minute(at: Date): string {
  const offset = -at.getTimezoneOffset();
  const two = (part: number) => String(part).padStart(2, "0");
  const zone = `${offset < 0 ? "-" : "+"}${two(Math.floor(Math.abs(offset) / 60))}:${two(Math.abs(offset) % 60)}`;
  return `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())} ${two(at.getHours())}:${two(at.getMinutes())} ${zone}`;
}

/** Lines that begin with a blank are to be copied as they stand. */
function notesHtml(notes: readonly string[]): string {
  const isLine = (note: string | undefined) => note?.startsWith(" ") ?? false;
  const first = notes.findIndex(isLine);
  if (first === -1) return list(notes.map(htmlText));
  const after = notes.findIndex((note, i) => i > first && !isLine(note));
  const end = after === -1 ? notes.length : after;
  const lines = notes.slice(first, end).map((line) => htmlText(line.slice(2)));
  const rest = notes.slice(end);
  return [
    list(notes.slice(0, first).map(htmlText)),
    `<pre>${lines.join("\n")}</pre>`,
    ...(rest.length > 0 ? [list(rest.map(htmlText))] : []),
  ].join("\n");
}

function list(items: readonly string[]): string {
  return `<ul>${items.map((item) => `<li>${item}</li>`).join("\n")}</ul>`;
}
