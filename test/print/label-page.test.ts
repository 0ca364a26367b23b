import { spawnSync } from "node:child_process";
import { describe, expect, it } from "vitest";
import { UsageError } from "../../station/explain.ts";
import { labelPdf, readLabelSize } from "../../station/print/label-page.ts";
import { type SymbolKind, symbolOf } from "../../station/print/symbol.ts";
import { decision, test as tested } from "../records/held-units.ts";
import { openStore, PRINTED_AT, REAL, sheetOf } from "./made-unit.ts";
import { readCodes } from "./read-code.ts";

const GTIN = "04012345678901";
const LABEL = readLabelSize(undefined);

describe("a label", () => {
  it.each<{ kind: SymbolKind; text: string; identifier: string }>([
    { kind: "datamatrix", text: "TUB531812", identifier: "]d1" },
    { kind: "gs1-datamatrix", text: `01${GTIN}21TUB531812`, identifier: "]d2" },
    { kind: "code128", text: "TUB531812", identifier: "]C0" },
  ])(
    "carries a $kind that is read from a printer of 203 dots an inch, with word, serial and date",
    async (it) => {
      const pdf = await label(await passed(), it.kind);
      expect(await readCodes(pdf, 203)).toMatchObject([{ text: it.text, identifier: it.identifier }]);
      const words = wordsOf(pdf);
      for (const word of ["PASS", "TUB531812", "demo-body", "2026-01-05"]) expect(words).toContain(word);
      if (it.kind === "gs1-datamatrix") expect(words).toContain(`(01)${GTIN}(21)TUB531812`);
    },
  );

  it("is 57 mm by 32 mm", async () => {
    const { stdout } = spawnSync("pdftoppm", ["-r", "25.4", "-mono", "-"], {
      input: await label(await passed(), "datamatrix"),
    });
    expect(stdout.toString("latin1", 0, 12)).toMatch(/^P4\s57 32\s/);
  });

  it("of a unit on hold says so, and PASS nowhere", async () => {
    const { folder, store } = await openStore();
    const test = await tested(store, "TUB531812", "pass", REAL);
    await store.dispose(decision("hold", test));
    const words = wordsOf(await label(await sheetOf(folder, "TUB531812"), "datamatrix"));
    expect(words).toContain("ON HOLD");
    expect(words).toContain("DOES NOT SHIP");
    expect(words).not.toContain("PASS");
  });

  it("is black where it is no pass, and white where it is", async () => {
    const { folder, store } = await openStore();
    await tested(store, "TUB531812", "fail", REAL);
    expect(darkOf(await label(await sheetOf(folder, "TUB531812"), "datamatrix"))).toBeGreaterThan(0.15);
    expect(darkOf(await label(await passed(), "datamatrix"))).toBeLessThan(0.15);
  });

  it("is refused where the serial has no room for letters that are read", async () => {
    const sheet = { ...(await passed()), serial: "A".repeat(200) };
    expect(await labelPdf(sheet, symbolOf("datamatrix", sheet.serial), LABEL, PRINTED_AT)).toBeNull();
    const roomy = { width_mm: 100, height_mm: 70 };
    const pdf = await labelPdf(sheet, symbolOf("datamatrix", sheet.serial), roomy, PRINTED_AT);
    expect((await readCodes(pdf ?? Buffer.alloc(0)))[0]?.text).toBe(sheet.serial);
  });
});

describe("a label's size", () => {
  it("is read in millimetres", () => {
    expect(readLabelSize("50.5x25")).toEqual({ width_mm: 50.5, height_mm: 25 });
  });

  it.each(["57", "57x", "10x32", "57x301", "-57x32", "57x32mm", "1e2x50", ""])("is refused as %j", (text) => {
    expect(() => readLabelSize(text)).toThrow(UsageError);
  });
});

async function passed() {
  const { folder, store } = await openStore();
  await tested(store, "TUB531812", "pass", REAL);
  return sheetOf(folder, "TUB531812");
}

async function label(sheet: Awaited<ReturnType<typeof sheetOf>>, kind: SymbolKind): Promise<Buffer> {
  const pdf = await labelPdf(sheet, symbolOf(kind, sheet.serial, GTIN), LABEL, PRINTED_AT);
  if (!pdf) throw new Error("there is no room");
  return pdf;
}

function wordsOf(pdf: Buffer): string {
  const { stdout } = spawnSync("pdftotext", ["-raw", "-", "-"], { input: pdf, encoding: "utf8" });
  return stdout.replace(/\s+/g, " ");
}

/** The part of a label that is black. */
function darkOf(pdf: Buffer): number {
  const { stdout } = spawnSync("pdftoppm", ["-r", "100", "-gray", "-"], { input: pdf });
  const head = /^P5\s\d+ \d+\s\d+\s/.exec(stdout.toString("latin1", 0, 32))?.[0].length ?? 0;
  const levels = stdout.subarray(head);
  return levels.filter((level) => level < 128).length / levels.length;
}
