import type { StudyTable } from "../quality/study-report.ts";
import { cellLook } from "./cell-look.ts";
import { htmlText } from "./html-text.ts";

/** What a page shows of the values: some six printed pages at most, and a file of no more than some tens of megabytes. */
const MOST_LINES = 300;
const MOST_ROWS = 200_000;
/** About how many characters a line of values holds. */
const LINE_WIDTH = 112;

/**
 * The studied values: side by side, read line by line, where they fit a few pages; else as CSV in a block that is closed
 * until somebody opens it, and that no printer prints.
 */
export function dataSection({ caption, columns, rows }: StudyTable): string {
  const blocks = blocksBeside({ caption, columns, rows });
  if (rows.length <= MOST_LINES * blocks) return besideTable({ caption, columns, rows }, blocks);
  const count = rows.length.toLocaleString("en-GB");
  if (rows.length > MOST_ROWS) {
    return `<p>${htmlText(caption)}: ${count} lines, too many for a page. They stay where they came from.</p>`;
  }
  const csv = [columns.map(({ heading }) => heading), ...rows].map(csvLine).join("\n");
  return `<p>${htmlText(caption)}: ${count} lines, more than anybody reads on paper. They are in this file in full, in the block below, which is not printed.</p>
<details><summary>${count} lines as CSV</summary><pre>${csv.split("\n").map(htmlText).join("\n")}</pre></details>`;
}

function blocksBeside({ columns, rows }: StudyTable): number {
  const widths = columns.map(({ heading }, k) =>
    rows.slice(0, 1000).reduce((most, row) => Math.max(most, (row[k] ?? "").length), heading.length),
  );
  const width = widths.reduce((sum, one) => sum + one + 1.6, Math.max(3, String(rows.length).length) + 3.6);
  return Math.max(1, Math.min(8, Math.floor(LINE_WIDTH / width), rows.length));
}

function besideTable({ caption, columns, rows }: StudyTable, blocks: number): string {
  const headings = `<th scope="col" class="number">No.</th>${columns
    .map(({ heading, kind }) => `<th scope="col" class="${kind}">${htmlText(heading)}</th>`)
    .join("")}`;
  const cells = (k: number) => {
    const row = rows[k];
    if (!row) return `<td colspan="${columns.length + 1}"></td>`;
    const values = columns.map(
      ({ kind }, c) => `<td class="${cellLook(kind, row[c])}">${htmlText(row[c] ?? "")}</td>`,
    );
    return `<th scope="row" class="number">${k + 1}</th>${values.join("")}`;
  };
  const lines = Array.from(
    { length: Math.ceil(rows.length / blocks) },
    (_, line) => `<tr>${Array.from({ length: blocks }, (__, b) => cells(line * blocks + b)).join("")}</tr>`,
  );
  const reading = blocks > 1 ? ", read line by line" : "";
  return `${captionHtml(`${caption}${reading}`, "values")}<table class="values" aria-labelledby="values">
<thead><tr>${headings.repeat(blocks)}</tr></thead>
<tbody>
${lines.join("\n")}
</tbody></table>`;
}

/** Before its table, not in it: a browser that prints would leave a caption of the table at the end of the page before. */
export function captionHtml(caption: string, id: string): string {
  return `<p class="caption" id="${id}">${htmlText(caption)}</p>`;
}

/** RFC 4180. */
function csvLine(cells: readonly string[]): string {
  return cells.map((cell) => (/[",\r\n]/.test(cell) ? `"${cell.replaceAll('"', '""')}"` : cell)).join(",");
}
