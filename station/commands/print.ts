import { Command, Option } from "@commander-js/extra-typings";
import type { CodeSymbol } from "../print/symbol.ts";
import type { UnitSheet } from "../print/unit-sheet.ts";

interface PrintOptions {
  readonly attempt?: string;
  readonly pdf?: string;
  readonly printer?: string;
  readonly size: "a5" | "a4" | "label";
  readonly labelSize?: string;
  readonly code?: "gs1-datamatrix" | "datamatrix" | "code128";
  readonly force?: true;
  readonly records?: string;
  readonly station?: string;
}

/** `drumtight print`: 0 written or printed, 1 unknown, or not as recorded, 2 used wrongly or cannot run. */
export function printCommand() {
  return new Command("print")
    .description("print a unit's test on one page, or a label for it, as PDF or on a printer queue")
    .argument("<serial>", "the unit's serial, as scanned")
    .option("--attempt <number>", "this test of the unit, instead of its newest valid one")
    .option("--pdf <file>", 'the PDF to write; "-" for standard output')
    .option("--printer <queue>", "print on this queue, through CUPS' lp")
    .addOption(
      new Option("--size <paper>", "the paper")
        .choices(["a5", "a4", "label"] as const)
        .default("a5" as const),
    )
    .option("--label-size <WxH>", 'of a label, in millimetres; "57x32" without')
    .addOption(
      new Option(
        "--code <kind>",
        "the code; without, gs1-datamatrix where the station file has the model's GTIN, else datamatrix",
      ).choices(["gs1-datamatrix", "datamatrix", "code128"] as const),
    )
    .option("--force", "replace the file")
    .option("--records <dir>", 'records folder, instead of the station file\'s; "records" without either')
    .option("--station <file>", "station file: its records, and its models' GTINs")
    .addHelpText(
      "after",
      `
The largest word is what may be done with the unit: PASS, in a frame, only where its newest valid test passed and nothing was
decided against it; any other word is white on black. What is not as it was recorded is not printed. The station may be running.

Print at actual size: a page that is fitted to the paper changes the size of its code.

Examples:
  $ drumtight print POD000123 --pdf pod123.pdf --station line-2.yaml
  $ drumtight print POD000123 --size label --printer labels --station line-2.yaml`,
    )
    .action(async (serial, options) => {
      process.exitCode = await print(serial, options);
    });
}

async function print(serial: string, options: PrintOptions): Promise<0 | 1> {
  const { UsageError } = await import("../explain.ts");
  const { pdf: file, printer, force } = options;
  if ((file === undefined) === (printer === undefined)) {
    throw new UsageError("Say where the page goes: --pdf FILE, or --printer QUEUE.");
  }
  if (force && file === undefined) throw new UsageError("--force is for --pdf FILE: leave it out.");
  const paper = await paperOf(options);
  const attempt = await attemptOf(options);
  const { recordsAt } = await import("./records-at.ts");
  const at = recordsAt(options);
  const { requireOutputPlace, writeOutput } = await import("./output-file.ts");
  const place = { out: file, force, what: "page", option: "--pdf", isBinary: true, records: at.folder };
  if (file !== undefined) await requireOutputPlace(place);
  const { printOn, requireQueueName } = await import("../print/print-queue.ts");
  if (printer !== undefined) requireQueueName(printer);

  const { recordedSheet } = await import("../print/recorded-sheet.ts");
  const printed_at = new Date().toISOString();
  const found = await recordedSheet({ folder: at.folder, serial, attempt, printed_at });
  if (found.kind === "not printable") {
    const { escaped } = await import("../../limits/escaped-text.ts");
    process.stderr.write(found.why.map((line) => `${escaped(line)}\n`).join(""));
    return 1;
  }
  const { sheet } = found;
  const { symbolOf } = await import("../print/symbol.ts");
  const gtin = at.station?.gtins.get(sheet.model);
  if (options.code === "gs1-datamatrix" && gtin === undefined) {
    throw new UsageError(
      `No GTIN of ${sheet.model} is known, and a GS1 symbol begins with it: give --station FILE with labels: { gtins: { ${sheet.model}: "..." } }, or --code datamatrix.`,
    );
  }
  const kind = options.code ?? (gtin === undefined ? "datamatrix" : "gs1-datamatrix");
  const page = await paper.draw(sheet, symbolOf(kind, serial, gtin), printed_at);
  if (page === null) {
    const smaller = kind === "code128" ? ", or --code datamatrix, which takes less room" : "";
    throw new UsageError(
      `${serial} is too long for ${paper.name} with a ${kind}: take a larger one${smaller}.`,
    );
  }
  const { escaped } = await import("../../limits/escaped-text.ts");
  const what = `${sheet.stamp.word}: ${escaped(serial)}`;
  if (printer === undefined) {
    await writeOutput(page, place);
    if (file !== "-") process.stdout.write(`${what} written to ${file}\n`);
    return 0;
  }
  const answer = await printOn({ queue: printer, pdf: page, title: what, media: paper.media });
  process.stdout.write(`${what} sent to ${printer}${answer === "" ? "" : ` (${escaped(answer)})`}\n`);
  return 0;
}

async function attemptOf({ attempt }: PrintOptions): Promise<number | undefined> {
  if (attempt === undefined) return undefined;
  if (/^[1-9]\d{0,8}$/.test(attempt)) return Number(attempt);
  const { UsageError } = await import("../explain.ts");
  throw new UsageError(`--attempt ${attempt}: expected the number of a test of this unit, such as 2.`);
}

/** What is drawn on, and what a printer calls it. */
async function paperOf({ size, labelSize }: PrintOptions) {
  const { UsageError } = await import("../explain.ts");
  if (size !== "label") {
    if (labelSize !== undefined) throw new UsageError("--label-size is for --size label: leave it out.");
    const { PAGE_SIZES, sheetPdf } = await import("../print/sheet-page.ts");
    const { width_mm, height_mm } = PAGE_SIZES[size];
    return {
      name: `${size.toUpperCase()} paper`,
      // PWG 5101.1, media size self-describing names.
      media: `iso_${size}_${width_mm}x${height_mm}mm`,
      draw: (...[sheet, symbol, made_at]: Drawn) => sheetPdf(sheet, symbol, size, made_at),
    };
  }
  const { labelPdf, readLabelSize } = await import("../print/label-page.ts");
  const label = readLabelSize(labelSize);
  const text = `${label.width_mm}x${label.height_mm}mm`;
  return {
    name: `a label of ${text}`,
    media: `Custom.${text}`,
    draw: (...[sheet, symbol, made_at]: Drawn) => labelPdf(sheet, symbol, label, made_at),
  };
}

type Drawn = readonly [sheet: UnitSheet, symbol: CodeSymbol, made_at: string];
