import { UsageError } from "../explain.ts";
import type { YieldGrouping, YieldReport } from "../yield/yield-report.ts";
import type { DecimalSign } from "../yield-export/csv.ts";
import type { YieldTableName } from "../yield-export/yield-tables.ts";
import { pageGroupings } from "../yield-page/page-groupings.ts";

/** What was asked of a format beside its name. */
export interface FormatOptions {
  /** Of CSV only. */
  readonly decimal?: DecimalSign | undefined;
  readonly what?: YieldTableName | undefined;
  /** Where somebody opens it; undefined for standard output, which a program reads. */
  readonly file: string | undefined;
}

export interface YieldFormat {
  /** What it is called in sentences. */
  readonly what: string;
  readonly isBinary?: true;
  /** Early warnings are looked for, and told; that takes longer than to count. */
  readonly tellsWarnings?: true;
  /** What is told apart where `--by` says nothing; nothing unless stated. */
  groupings?(from: string | null, to: string | null): readonly YieldGrouping[];
  /** Loads what writes it, and writes it. */
  write(report: YieldReport, options: FormatOptions): Promise<string | Uint8Array>;
}

/** The first one is taken where none is asked for. */
export const YIELD_FORMATS: Readonly<Record<string, YieldFormat>> = {
  table: {
    what: "table",
    async write(report) {
      const { yieldText } = await import("../yield-export/yield-text.ts");
      return yieldText(report);
    },
  },
  json: { what: "JSON object", tellsWarnings: true, write: async (report) => `${JSON.stringify(report)}\n` },
  csv: {
    what: "table",
    async write(report, { decimal = "point", what = "groups", file }) {
      const { yieldCsv } = await import("../yield-export/csv.ts");
      return yieldCsv(report, { decimal, table: what, byteOrderMark: file !== undefined });
    },
  },
  html: {
    what: "page",
    tellsWarnings: true,
    groupings: pageGroupings,
    write: async (report, { file }) => (await import("../yield-page/made-page.ts")).yieldPage(report, file),
  },
  pdf: {
    what: "PDF",
    tellsWarnings: true,
    isBinary: true,
    groupings: pageGroupings,
    write: async (report) => (await import("../yield-page/made-page.ts")).yieldPaper(report),
  },
  xlsx: {
    what: "workbook",
    isBinary: true,
    async write(report) {
      const { yieldWorkbook } = await import("../yield-export/workbook.ts");
      return await yieldWorkbook(report);
    },
  },
};

/** @throws UsageError for an option that this format knows nothing of */
export function requireOptionsOf(format: string, { decimal, what }: Omit<FormatOptions, "file">): void {
  if (format === "csv") return;
  const odd = decimal !== undefined ? "--decimal" : what !== undefined ? "--what" : null;
  if (odd === null) return;
  throw new UsageError(`${odd} is for --format csv: add that, or leave ${odd} out.`);
}
