import { spawnSync } from "node:child_process";
import { createRequire } from "node:module";
import { dirname, join } from "node:path";
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { printable } from "../../station/yield-page/printable-text.ts";
import { yieldDocument } from "../../station/yield-page/yield-document.ts";
import { yieldPdf } from "../../station/yield-page/yield-pdf.ts";
import { madeEmptyReport, madeYieldReport } from "../yield/made-yield-report.ts";
import { madeDetail } from "./made-detail.ts";

const MADE_AT = new Date("2026-01-06T05:00:00Z");
const NO_DETAIL = { measured: [], failures: [], failuresLeftOut: 0, notes: [] };
const SOFTWARE = "drumtight 0.1.0";

function textOf(pdf: Buffer): string {
  const { stdout, status } = spawnSync("pdftotext", ["-layout", "-", "-"], { input: pdf, encoding: "utf8" });
  if (status !== 0) throw new Error("pdftotext (Debian poppler-utils) can't read it");
  return stdout;
}

describe("the report on paper", () => {
  it("has the page's headline, charts, tables and failures, numbered pages, and the same bytes each time", async () => {
    const [failure] = madeDetail().failures;
    if (!failure) throw new Error("no failure");
    const failures = Array.from({ length: 90 }, (_, k) => ({ ...failure, serial: `POD${100_000 + k}` }));
    const report = madeYieldReport({ breakdowns: madeYieldReport().breakdowns.slice(0, 1) });
    const document = yieldDocument(report, madeDetail({ failures }), SOFTWARE);
    const pdf = await yieldPdf(document, MADE_AT, SOFTWARE);
    const text = textOf(pdf);
    expect(text).toContain("Yield of 2026-01-05");
    expect(text.replace(/\s+/g, " ")).toContain("139 of 151 units were good at first");
    for (const { serial } of failures) expect(text).toContain(serial);
    for (const { heading } of document.sections) expect(text).toContain(heading);
    // Words of drawings are words on paper, too.
    expect(text).toContain("guard band");
    const pages = text.split("\f").filter((page) => page.trim() !== "");
    expect(text).toMatch(new RegExp(`${pages.length} ?/ ?${pages.length}`));
    // A long table says on each page what its columns are.
    const withFailures = pages.filter((page) => /POD1000\d\d/.test(page));
    expect(withFailures.length).toBeGreaterThan(1);
    for (const page of withFailures) expect(page).toContain("first suspect");
    expect((await yieldPdf(document, MADE_AT, SOFTWARE)).equals(pdf)).toBe(true);
  });

  it("shows letters of the plant's languages, and writes others as numbers", async () => {
    const held = [
      {
        serial: "Ł-ß-Ω-Ж",
        model: "漢",
        since: "2026-01-05T09:00:00Z",
        by: "Jörg Żak",
        reason: "σπασμένο 🔧",
      },
    ];
    const document = yieldDocument({ ...madeEmptyReport(), heldUnits: held }, NO_DETAIL, SOFTWARE);
    const text = textOf(await yieldPdf(document, MADE_AT, SOFTWARE));
    for (const word of ["Ł-ß-Ω-Ж", "\\u6f22", "Jörg Żak", "σπασμένο", "\\u{1f527}"])
      expect(text).toContain(word);
  });

  it("says of a day without units that there were none", async () => {
    const document = yieldDocument(madeEmptyReport(), NO_DETAIL, SOFTWARE);
    expect(textOf(await yieldPdf(document, MADE_AT, SOFTWARE))).toContain(
      "No unit was inspected on 2026-01-05.",
    );
  });
});

describe("a printable text", () => {
  it("has only letters that each of the paper's fonts has", () => {
    // The fonts' reader, of those who lay out the paper.
    const require = createRequire(createRequire(import.meta.url).resolve("pdfmake"));
    const fontkit = require("fontkit") as { openSync(path: string): { characterSet: number[] } };
    const folder = join(dirname(require.resolve("pdfmake/package.json")), "fonts", "Roboto");
    for (const name of ["Regular", "Medium", "Italic", "MediumItalic"]) {
      const has = new Set(fontkit.openSync(join(folder, `Roboto-${name}.ttf`)).characterSet);
      const shown = new Set(
        Array.from({ length: 0x3000 }, (_, code) => printable(String.fromCodePoint(code))).join(""),
      );
      const missing = [...shown].filter((character) => !has.has(character.codePointAt(0) ?? 0));
      expect([name, missing]).toEqual([name, []]);
      expect(shown.size).toBeGreaterThan(700);
    }
  });

  it("drops nothing: a character is there, or its number is", () => {
    fc.assert(
      fc.property(fc.string({ unit: "grapheme" }), (text) => {
        const shown = printable(text);
        for (const character of text) {
          const code = (character.codePointAt(0) ?? 0).toString(16);
          expect(shown.includes(character) || shown.includes(code) || character === "\u202f").toBe(true);
        }
      }),
    );
  });
});
