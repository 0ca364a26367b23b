import { createRequire } from "node:module";
import pdfmake from "pdfmake";
import type {
  Content,
  ContentTable,
  CustomTableLayout,
  TableCell,
  TFontDictionary,
} from "pdfmake/interfaces.js";
import { chartSvg } from "../study-page/chart-svg.ts";
import type { DocumentBlock, DocumentTable, HeadlineFigure, PageDocument } from "./page-document.ts";
import { printableThroughout } from "./printable-text.ts";

const INK = "#1c2b33";
const SOFT = "#56646b";
const LINE = "#b9c2bf";
const HAIR = "#dde2df";
/** Points: A4 less its margins. */
const WIDTH_pt = 515;
/** Three to a page. */
const CHART_pt = 370;
/** Numbers of a chart that take no more lines than this are worth their paper. */
const MOST_FOLDED = 40;
const WIDE = 7;
/** A word of more letters is broken anywhere. */
const LONGEST_WORD = 18;

/**
 * A report on A4, with what its page has: headline, charts, tables, failures. The same document and time give the same bytes.
 * @param madeAt stands in the file as the time of its making
 * @param software program and version
 */
export async function yieldPdf(given: PageDocument, madeAt: Date, software: string): Promise<Buffer> {
  const document = printableThroughout(given);
  const { title, sentence, about, headline, sections } = document;
  // Only its own fonts are read, and nothing is fetched, whatever a text says.
  const fonts = paperFonts();
  const own = new Set(Object.values(fonts).flatMap((kinds) => Object.values(kinds)));
  pdfmake.setFonts(fonts);
  pdfmake.setUrlAccessPolicy(() => false);
  pdfmake.setLocalAccessPolicy((path) => own.has(path));
  let charts = 0;
  const content: Content[] = [
    { text: title, style: "title" },
    { text: sentence, style: "sentence" },
    ...(headline.length === 0 ? [] : [ledger(headline)]),
    {
      columns: [
        { width: 62, stack: about.map(([name]) => ({ text: name })) },
        { width: "*", stack: about.map(([, value]) => ({ text: value, noWrap: false })) },
      ],
      style: "about",
    },
    ...sections.flatMap(({ heading, blocks }): Content[] => {
      const [first, ...others] = blocks.map((block) => blockContent(block, () => `chart${++charts}`));
      const head: Content[] = [
        {
          canvas: [{ type: "line", x1: 0, y1: 0, x2: WIDTH_pt, y2: 0, lineWidth: 0.8, lineColor: LINE }],
          margin: [0, 8, 0, 0],
        },
        { text: heading, style: "heading", headlineLevel: 1 },
      ];
      // A drawing is not broken, and goes to the next page whole: so does the heading above it.
      const isDrawing = blocks[0]?.kind === "chart";
      return [
        ...(isDrawing
          ? [{ stack: [...head, ...(first ?? [])], unbreakable: true }]
          : [...head, ...(first ?? [])]),
        ...others.flat(),
      ];
    }),
  ];
  return pdfmake
    .createPdf({
      pageSize: "A4",
      pageMargins: [40, 42, 40, 46],
      info: { title, creator: software, producer: software, creationDate: madeAt },
      defaultStyle: { font: "Roboto", fontSize: 9, lineHeight: 1.15, color: INK },
      styles: {
        title: { fontSize: 19, bold: true, margin: [0, 0, 0, 4] },
        sentence: { fontSize: 12, margin: [0, 0, 0, 8] },
        about: { fontSize: 8, color: SOFT, margin: [0, 6, 0, 4] },
        heading: { fontSize: 12.5, bold: true, margin: [0, 6, 0, 5] },
        caption: { italics: true, margin: [0, 2, 0, 3] },
      },
      content,
      footer: (page, pages) => ({
        columns: [
          { text: `${printableThroughout(software)}: ${title}`, fontSize: 7.5, color: SOFT },
          { text: `${page} / ${pages}`, alignment: "right", fontSize: 7.5, color: SOFT },
        ],
        margin: [40, 14, 40, 0],
      }),
      // Headings at a page's foot belong to what follows them.
      pageBreakBefore: (node, nodes) =>
        node.headlineLevel !== undefined &&
        nodes.getFollowingNodesOnPage().every(({ headlineLevel }) => headlineLevel !== undefined),
    })
    .getBuffer();
}

function paperFonts(): TFontDictionary {
  return createRequire(import.meta.url)("pdfmake/fonts/Roboto.js") as TFontDictionary;
}

const PER_ROW = 4;

function ledger(figures: readonly HeadlineFigure[]): ContentTable {
  const rows: TableCell[][] = [];
  for (let first = 0; first < figures.length; first += PER_ROW) {
    const row = figures.slice(first, first + PER_ROW).map((figure) => figureCell(figure, first > 0));
    rows.push([...row, ...Array.from({ length: PER_ROW - row.length }, (): TableCell => ({ text: "" }))]);
  }
  return {
    table: { widths: Array.from({ length: PER_ROW }, () => "*"), body: rows, dontBreakRows: true },
    layout: {
      hLineWidth: (row) => (row === 0 ? 1.2 : 0.6),
      hLineColor: (row) => (row === 0 ? INK : LINE),
      vLineWidth: () => 0,
      paddingLeft: () => 5,
      paddingRight: () => 5,
      paddingTop: () => 4,
      paddingBottom: () => 5,
    },
  };
}

function figureCell({ name, value, made, interval, isAlarm }: HeadlineFigure, isSmall: boolean): TableCell {
  const soft = isAlarm ? "#ffffff" : SOFT;
  return {
    stack: [
      { text: name, italics: true },
      { text: `${isAlarm ? "\u25a0 " : ""}${value}`, fontSize: isSmall ? 13 : 17, bold: true },
      ...[made, interval ?? ""]
        .filter((text) => text !== "")
        .map((text) => ({ text, fontSize: 7.5, color: soft })),
    ],
    ...(isAlarm ? { fillColor: INK, color: "#ffffff" } : {}),
  };
}

function blockContent(block: DocumentBlock, nextId: () => string): Content[] {
  switch (block.kind) {
    case "text":
      return [{ text: block.text, margin: [0, 0, 0, 6] }];
    case "list":
      return [{ ul: [...block.items], margin: [0, 0, 0, 6] }];
    case "chart": {
      const { svg, leftOut } = chartSvg(block.chart, nextId());
      const thin = `${leftOut} values lie where others are drawn already, and have no ink of their own.`;
      return [
        {
          stack: [
            { text: block.chart.title, style: "caption" },
            { svg, width: CHART_pt },
            ...(leftOut === 0 ? [] : [{ text: thin, fontSize: 7.5, color: SOFT }]),
          ],
          unbreakable: true,
          margin: [0, 0, 0, 8],
        },
      ];
    }
    case "table":
      return tableContent(block.table);
  }
}

function tableContent(table: DocumentTable): Content[] {
  const { caption, columns, rows, isFolded } = table;
  if (isFolded && rows.length > MOST_FOLDED) return [];
  const size = columns.length > WIDE ? 7 : 8.5;
  const alignment = (kind: "text" | "number") => (kind === "number" ? ("right" as const) : ("left" as const));
  return [
    {
      table: {
        headerRows: 1,
        keepWithHeaderRows: 1,
        dontBreakRows: true,
        widths: columns.map(() => "auto"),
        body: [
          columns.map(({ heading, kind }) => ({ text: heading, bold: true, alignment: alignment(kind) })),
          ...rows.map((row) => columns.map(({ kind }, k) => cell(row[k] ?? "", alignment(kind)))),
        ],
      },
      layout: RULED,
      fontSize: size,
      margin: [0, 0, 0, 8],
    } as ContentTable,
  ].flatMap((content): Content[] => [{ text: caption, style: "caption", headlineLevel: 2 }, content]);
}

function cell(text: string, alignment: "left" | "right"): TableCell {
  const isLong = text.split(" ").some((word) => word.length > LONGEST_WORD);
  return { text, alignment, ...(isLong ? { wordBreak: "break-all" as const } : {}) };
}

const RULED: CustomTableLayout = {
  hLineWidth: (row, { table }) => (row <= 1 || row === table.body.length ? 1 : 0.5),
  hLineColor: (row, { table }) => (row <= 1 || row === table.body.length ? INK : HAIR),
  vLineWidth: () => 0,
  paddingLeft: (column) => (column === 0 ? 0 : 4),
  paddingRight: () => 4,
  paddingTop: () => 1.5,
  paddingBottom: () => 1.5,
};
