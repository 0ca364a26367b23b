import { spawnSync } from "node:child_process";
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { type PageSize, sheetPdf } from "../../station/print/sheet-page.ts";
import { symbolOf } from "../../station/print/symbol.ts";
import { type UnitSheet, unitSheet } from "../../station/print/unit-sheet.ts";
import { encodeCurve } from "../../station/records/curve.ts";
import { Traveller } from "../../station/records/traveller.ts";
import { airflow, facts, outcome, SUSPECTS } from "../records/example-attempt.ts";
import { PRINTED_AT, REAL } from "./made-unit.ts";
import { readCodes } from "./read-code.ts";

const SHA256 = "0123456789abcdef".repeat(4);
const GTIN = "04012345678901";

describe("a printed page", () => {
  it("says what was measured and all that proves it, and its code is the serial", async () => {
    const sheet = sheetWith({ ...leakCurve(-8000, 2), airflow: [airflow()] });
    const pdf = await page(sheet, "a5");
    const text = wordsOf(pdf);
    for (const words of [
      "PASS",
      "TUB531812",
      "demo-body",
      "line 1",
      "Ines",
      "demo-body.yaml revision 3, approved by Quentin",
      "22.4 ± 1.2 mL/min",
      "at most 60 mL/min",
      "tub_cavity",
      "482.3 ± 6.8 W",
      "calibration due 2026-06-30",
      SHA256,
      "leaked at the limit of 60 mL/min",
    ]) {
      expect(text).toContain(words);
    }
    expect(await readCodes(pdf)).toMatchObject([{ text: "TUB531812", identifier: "]d1" }]);
  });

  it.each<{ kind: "gs1-datamatrix" | "code128"; text: string; identifier: string }>([
    { kind: "gs1-datamatrix", text: `01${GTIN}21TUB531812`, identifier: "]d2" },
    { kind: "code128", text: "TUB531812", identifier: "]C0" },
  ])("carries a $kind that is read as it comes from a printer of 300 dots an inch", async (expected) => {
    const pdf = await page(sheetWith({}), "a5", symbolOf(expected.kind, "TUB531812", GTIN));
    expect(await readCodes(pdf)).toMatchObject([{ text: expected.text, identifier: expected.identifier }]);
  });

  it("marks a simulated test across the page, under a code that is still read", async () => {
    const pdf = await page(sheetWith({ station: { ...REAL.station, simulated: true } }), "a4");
    expect(wordsOf(pdf).match(/S ?I ?M ?U ?L ?A ?T ?E ?D/g)?.length).toBe(2);
    expect(wordsOf(pdf)).not.toContain("PASS");
    expect(await readCodes(pdf)).toMatchObject([{ text: "TUB531812" }]);
  });

  it("shows what a failed unit failed by before what it passed", async () => {
    const [leak] = outcome().characteristics;
    if (!leak) throw new Error("the example has a characteristic");
    const failed = { ...leak, name: "open flow", value: 81.2345, verdict: "fail" as const, conformance: 0 };
    const sheet = sheetWith({
      verdict: "fail",
      reasons: [{ code: "OUT_OF_LIMITS", sentence: "The open flow is too large." }],
      characteristics: [leak, failed],
      suspects: SUSPECTS,
    });
    expect(sheet.characteristics.map(({ name, verdict }) => [name, verdict])).toEqual([
      ["open flow", "fail"],
      ["leak rate", "pass"],
    ]);
    const text = wordsOf(await page(sheet, "a5"));
    expect(text).toContain("OUT_OF_LIMITS: The open flow is too large.");
    expect(text).toContain("blocked path. Take the unit from the mains");
  });

  it("has letters for German, Polish and Greek, and numbers for what it has no letters for", async () => {
    const text = wordsOf(
      await page(sheetWith({ parts: { lot: "Größe Łódź Ωμέγα", other: "蓋 \u202e\u0007 👍" } }), "a4"),
    );
    expect(text).toContain("Größe Łódź Ωμέγα");
    expect(text).toContain("\\u{84cb}");
    expect(text).toContain("\\u202e\\u0007");
    expect(text).toContain("\\u{1f44d}");
  });

  it("is the same file for the same content", async () => {
    const [first, second] = [await page(sheetWith({}), "a5"), await page(sheetWith({}), "a5")];
    expect(first.equals(second)).toBe(true);
  });

  it("is one page with all of word, serial, code and hash, whatever was recorded", async () => {
    const text = fc
      .string({ unit: "grapheme", minLength: 1, maxLength: 200 })
      .filter((it) => !/\p{Cs}/u.test(it));
    await fc.assert(
      fc.asyncProperty(
        text,
        fc.integer({ min: 1, max: 60 }),
        fc.constantFrom<PageSize>("a5", "a4"),
        async (name, count, size) => {
          const pdf = await page(crowded(name, count), size);
          expect(pagesOf(pdf)).toBe(1);
          const said = wordsOf(pdf);
          for (const words of ["FAIL", "TUB531812", SHA256]) expect(said).toContain(words);
          expect((await readCodes(pdf, 200, 60))[0]?.text).toBe("TUB531812");
        },
      ),
      { numRuns: 4, examples: [["W".repeat(200), 60, "a5"]] },
    );
  });

  it("shows all twenty characteristics of a unit with long names, on the smaller paper too", async () => {
    const sheet = crowded("suction power at the working point of the long hose", 20);
    const said = wordsOf(
      await page({ ...sheet, reasons: [], suspects: [], airflow: [], decisions: [] }, "a5"),
    );
    for (let i = 0; i < 20; i++) expect(said).toContain(`number ${i} `);
  });

  it("says that nothing was measured, rather than show a table without a row", async () => {
    const pdf = await page({ ...sheetWith({}), characteristics: [] }, "a5");
    expect(wordsOf(pdf)).toMatch(/measured\s+value ± U \(k = 2\)\s+limit\s+verdict\s+nothing\s+-/);
  });

  it("ends a reason that is cut under the large word in three dots", async () => {
    const stamp = {
      word: "ON HOLD",
      isPass: false,
      lines: ["the gaskets are too hard; ".repeat(40)],
    } as const;
    const said = wordsOf(await page({ ...sheetWith({}), stamp }, "a5"));
    expect(said.slice(0, said.indexOf("model"))).toContain("…");
  });

  it("keeps a serial of 200 letters whole", async () => {
    const serial = Array.from({ length: 200 }, (_, i) => (i % 36).toString(36)).join("");
    const pdf = await page({ ...sheetWith({}), serial }, "a5", symbolOf("datamatrix", serial));
    expect(wordsOf(pdf).replace(/\s/g, "")).toContain(serial);
    expect((await readCodes(pdf))[0]?.text).toBe(serial);
  });

  it("is refused where the code would be too small to be read", async () => {
    expect(await sheetPdf(sheetWith({}), symbolOf("code128", "A".repeat(120)), "a5", PRINTED_AT)).toBeNull();
  });
});

describe("the curve at the limit", () => {
  it.each([
    { name: "a body under pressure loses it sooner", test_Pa: 5000, side: -1 },
    { name: "a body under suction loses it sooner", test_Pa: -8000, side: 1 },
  ])("is that of the same body with more leak: $name", ({ test_Pa, side }) => {
    const [plot] = sheetWith(leakCurve(test_Pa, 2)).plots;
    const last = plot?.curve.at(-1);
    const atLimit = plot?.atLimit.at(-1);
    // (60 - 22.4) mL/min at 7.5 mL/min for 1 Pa/s, over the last 5.7 s.
    expect((atLimit?.pressure_Pa ?? 0) - (last?.pressure_Pa ?? 0)).toBeCloseTo((side * 5.7 * 37.6) / 7.5, 0);
    expect(plot?.limit).toBe("60 mL/min");
  });

  it("is on the other side of a body that leaks more", () => {
    const [plot] = sheetWith(leakCurve(5000, 2, 97.6)).plots;
    const [last, atLimit] = [plot?.curve.at(-1), plot?.atLimit.at(-1)];
    expect((atLimit?.pressure_Pa ?? 0) - (last?.pressure_Pa ?? 0)).toBeGreaterThan(20);
  });
});

function sheetWith(more: Partial<Traveller>): UnitSheet {
  const traveller = Traveller.parse({
    format: "drumtight/traveller/1",
    id: "0".repeat(32),
    ...facts("TUB531812", 1, REAL),
    ...outcome(),
    chain: { sequence: 1, previous: null },
    ...more,
  });
  const unit = { attempts: [{ path: "", sha256: SHA256, problem: null, traveller }], open: [], gaps: [] };
  const sheet = unitSheet({ unit, serial: "TUB531812", dispositions: [], printed_at: PRINTED_AT });
  if (!sheet) throw new Error("the unit has a test");
  return sheet;
}

/** A body filled within a second and measured from 0.3 s to 6 s after that. */
function leakCurve(test_Pa: number, slope_Pa_s: number, value = 22.4): Partial<Traveller> {
  const [leak] = outcome().characteristics;
  if (!leak) throw new Error("the example has a characteristic");
  const samples = Array.from({ length: 600 }, (_, i) => ({
    t_s: 1 + i * 0.01,
    value: test_Pa - Math.sign(test_Pa) * slope_Pa_s * i * 0.01,
  }));
  const budget = [{ component: "fit", value: 0.1, unit: "Pa/s", sensitivity: 7.5, contribution: 0.75 }];
  const how = { method: "fitted" as const, from_s: 0.3, to_s: 6, samples: 570, left_out: 0 };
  const isFail = value > 60;
  return {
    ...(isFail
      ? {
          verdict: "fail" as const,
          reasons: [{ code: "OUT_OF_LIMITS", sentence: "The leak rate is too large." }],
        }
      : {}),
    characteristics: [{ ...leak, value, budget, how, verdict: isFail ? "fail" : "pass" }],
    phases: [{ step: "leak", phase: "fill", at_s: 0, seconds: 1 }],
    curves: [{ step: "leak", phase: "measure", channel: "leak_pressure", ...encodeCurve(samples, "mPa") }],
  };
}

/** Everything a traveller may have, so much of each. */
function crowded(text: string, count: number): UnitSheet {
  const [leak] = outcome().characteristics;
  if (!leak) throw new Error("the example has a characteristic");
  const many = <T>(make: (i: number) => T) => Array.from({ length: count }, (_, i) => make(i));
  const sheet = sheetWith({
    ...leakCurve(5000, 2),
    verdict: "fail",
    reasons: many((i) => ({ code: `REASON_${i}`, sentence: text })),
    characteristics: many((i) => ({
      ...leak,
      name: `number ${i} ${text}`.slice(0, 200),
      verdict: "fail",
      why: text,
    })),
    parts: Object.fromEntries(many((i) => [`part ${i}`, text])),
    gauges: many((i) => ({
      name: `gauge ${i}`,
      profile: "any",
      identity: text,
      calibration_due: "2026-06-30",
    })),
    suspects: many(() => ({ cause: text, look_at: text, evidence: [] })),
    airflow: [airflow(), airflow()],
  });
  return { ...sheet, decisions: many((i) => `decision ${i}: ${text}`) };
}

async function page(
  sheet: UnitSheet,
  size: PageSize,
  symbol = symbolOf("datamatrix", sheet.serial),
): Promise<Buffer> {
  const pdf = await sheetPdf(sheet, symbol, size, PRINTED_AT);
  if (!pdf) throw new Error("the code has no room");
  return pdf;
}

/** What a reader of PDF that is none of ours finds on it, in one line. */
function wordsOf(pdf: Buffer): string {
  const { stdout, status } = spawnSync("pdftotext", ["-raw", "-", "-"], { input: pdf, encoding: "utf8" });
  if (status !== 0) throw new Error("pdftotext (Debian poppler-utils) can't read it");
  return stdout.replace(/\s+/g, " ");
}

function pagesOf(pdf: Buffer): number {
  return pdf.toString("latin1").match(/\/Type \/Page\b(?!s)/g)?.length ?? 0;
}
