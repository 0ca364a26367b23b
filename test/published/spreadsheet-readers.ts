import { spawnSync } from "node:child_process";
import { join } from "node:path";
import { z } from "zod";
import { packageRoot } from "../../station/package-root.ts";

/** Debian's, where python3-openpyxl is. */
const PYTHON = "/usr/bin/python3";

const Rows = z.array(z.array(z.string()));
const Sheets = z.array(
  z.strictObject({
    name: z.string(),
    frozen: z.string().nullable(),
    widths: z.array(z.number()),
    rows: z.array(z.array(z.tuple([z.string(), z.union([z.string(), z.number(), z.null()]), z.string()]))),
  }),
);
export type ReadSheet = z.infer<typeof Sheets>[number];

/** @returns the rows of each text, as Python's csv module reads them in its strict mode */
export function rowsOfCsv(
  texts: readonly { readonly text: string; readonly delimiter: string }[],
): string[][][] {
  return z.array(Rows).parse(asked(texts.map((it) => ({ read: "csv", ...it }))));
}

/** @returns the sheets of each workbook, as openpyxl reads them */
export function sheetsOfWorkbooks(workbooks: readonly Uint8Array[]): ReadSheet[][] {
  const jobs = workbooks.map((bytes) => ({ read: "xlsx", base64: Buffer.from(bytes).toString("base64") }));
  return z.array(Sheets).parse(asked(jobs));
}

/** @throws Error with what Python said */
function asked(jobs: readonly unknown[]): unknown {
  const script = join(packageRoot(), "test", "published", "spreadsheet_readers.py");
  const { status, stdout, stderr, error } = spawnSync(PYTHON, [script], {
    input: JSON.stringify(jobs),
    encoding: "utf8",
    maxBuffer: 1e8,
  });
  if (error || status !== 0) {
    throw new Error(
      `${PYTHON} with openpyxl (Debian: python3-openpyxl) is needed: ${error?.message ?? stderr}`,
    );
  }
  return JSON.parse(stdout);
}
