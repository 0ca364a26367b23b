import { relative, sep } from "node:path";
import { cellLook } from "../study-page/cell-look.ts";
import { chartSvg } from "../study-page/chart-svg.ts";
import { htmlText } from "../study-page/html-text.ts";
import type { DocumentBlock, DocumentTable, HeadlineFigure, PageDocument } from "./page-document.ts";
import { withPageTones } from "./page-tones.ts";
import { YIELD_STYLE } from "./yield-style.ts";

export interface HtmlPlace {
  /** Program and version, like "drumtight 0.1.0". */
  readonly software: string;
  /** Of the page, absolute: links lead from there. Null where nobody knows: serials lead nowhere then. */
  readonly pageFolder: string | null;
  /** Of the travellers, absolute. */
  readonly recordsFolder: string;
}

/** A report as one page that needs no network and no script; the same document and place give the same text. */
export function yieldHtml(document: PageDocument, place: HtmlPlace): string {
  const { title, about, sentence, headline, sections } = document;
  const ids = new Ids();
  const parts = sections.map(({ heading, blocks }) => {
    const id = ids.next("section");
    return `<section aria-labelledby="${id}">
<h2 id="${id}">${htmlText(heading)}</h2>
${blocks.map((block) => blockHtml(block, ids, place)).join("\n")}
</section>`;
  });
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<meta name="generator" content="${htmlText(place.software)}">
<title>${htmlText(title)}</title>
<style>${YIELD_STYLE}</style>
</head>
<body>
<main>
<header>
<h1>${htmlText(title)}</h1>
<p class="sentence">${htmlText(sentence)}</p>
${headline.length === 0 ? "" : `<ul class="ledger">\n${headline.map(figureHtml).join("\n")}\n</ul>`}
<dl>
${about.map(([name, value]) => `<dt>${htmlText(name)}</dt><dd>${htmlText(value)}</dd>`).join("\n")}
</dl>
</header>
${parts.join("\n")}
</main>
</body>
</html>
`;
}

/** Of what is named for something: each is used once on its page. */
class Ids {
  #count = 0;

  next(kind: string): string {
    this.#count++;
    return `${kind}${this.#count}`;
  }
}

/** Those of the first row are read from afar, those that follow are smaller. */
const LARGE = 4;

function figureHtml({ name, value, made, interval, isAlarm }: HeadlineFigure, k: number): string {
  const looks = [...(isAlarm ? ["alarm"] : []), ...(k >= LARGE ? ["small"] : [])].join(" ");
  const line = (kind: string, text: string | null) =>
    text === null || text === "" ? "" : `<span class="${kind}">${htmlText(text)}</span>`;
  return `<li${looks === "" ? "" : ` class="${looks}"`}>${line("name", name)}<strong>${htmlText(value)}</strong>${line("made", made)}${line("interval", interval)}</li>`;
}

function blockHtml(block: DocumentBlock, ids: Ids, place: HtmlPlace): string {
  switch (block.kind) {
    case "text":
      return `<p>${htmlText(block.text)}</p>`;
    case "list":
      return `<ul>${block.items.map((item) => `<li>${htmlText(item)}</li>`).join("\n")}</ul>`;
    case "chart": {
      const { svg, leftOut } = chartSvg(block.chart, ids.next("chart"));
      const thin =
        leftOut === 0
          ? ""
          : `<p>${leftOut} values lie where others are drawn already, and have no ink of their own.</p>`;
      return `<figure>
<figcaption>${htmlText(block.chart.title)}</figcaption>
${withPageTones(svg)}${thin}
</figure>`;
    }
    case "table":
      return tableHtml(block.table, ids.next("table"), place);
  }
}

/** Tables shorter than this are not broken between two sheets. */
const KEPT_WHOLE_ROWS = 16;

function tableHtml(table: DocumentTable, id: string, place: HtmlPlace): string {
  const { caption, columns, rows, isFolded } = table;
  const looks = [
    ...(columns.length > 7 ? ["wide"] : []),
    ...(rows.length <= KEPT_WHOLE_ROWS ? ["short"] : []),
  ].join(" ");
  const headings = columns.map(
    ({ heading, kind }) => `<th scope="col" class="${kind}">${htmlText(heading)}</th>`,
  );
  const lines = rows.map((row, r) => {
    const cells = columns.map(({ kind }, k) => {
      const text = htmlText(row[k] ?? "");
      const look = cellLook(kind, row[k]);
      if (k > 0 || kind === "number") return `<td class="${look}">${text}</td>`;
      return `<th scope="row" class="${look}">${linked(text, table.files?.[r], place)}</th>`;
    });
    return `<tr>${cells.join("")}</tr>`;
  });
  const html = `<div class="scrolls"><table${looks === "" ? "" : ` class="${looks}"`} aria-labelledby="${id}">
<thead><tr>${headings.join("")}</tr></thead>
<tbody>
${lines.join("\n")}
</tbody></table></div>`;
  return isFolded
    ? `<details><summary id="${id}">${htmlText(caption)}: the numbers, ${rows.length} ${rows.length === 1 ? "line" : "lines"}</summary>${html}</details>`
    : `<p class="caption" id="${id}">${htmlText(caption)}</p>${html}`;
}

function linked(text: string, file: string | undefined, place: HtmlPlace): string {
  if (file === undefined || place.pageFolder === null) return text;
  return `<a href="${htmlText(linkTo(file, place.pageFolder, place.recordsFolder))}">${text}</a>`;
}

/**
 * A file's address from where the page lies, so that both can be moved or copied together.
 * @example linkTo("2026/01/05/x.json", "/srv/reports", "/srv/records") // "../records/2026/01/05/x.json"
 */
function linkTo(file: string, pageFolder: string, recordsFolder: string): string {
  const folder = relative(pageFolder, recordsFolder);
  const path = [...(folder === "" ? ["."] : folder.split(sep)), ...file.split("/")];
  return path.map((part) => (/^[A-Za-z]:$/.test(part) ? part : encodeURIComponent(part))).join("/");
}
