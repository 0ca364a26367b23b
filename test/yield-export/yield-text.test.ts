import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { countText, durationText, percentText, spanText } from "../../station/yield-export/figures-text.ts";
import { yieldText } from "../../station/yield-export/yield-text.ts";
import { madeEmptyReport, madeYieldReport } from "../yield/made-yield-report.ts";
import { anyText } from "./hostile-texts.ts";

/** Without what breaks lines only. */
function read(text: string): string {
  return text.replace(/\s+/g, " ");
}

describe("a report on a terminal", () => {
  it("says first what must not be shipped, each unit with who and why", () => {
    const lines = yieldText(madeYieldReport()).split("\n");
    const held = lines.indexOf("HELD: 2 units must not ship.");
    expect(held).toBeGreaterThan(0);
    expect(held).toBeLessThan(5);
    expect(lines.slice(held).join("\n")).toMatch(/TUB000121 +TUB-12 +2026-01-05 12:00 +J\. Brandt +scratch/);
    expect(lines.slice(held).join("\n")).toMatch(
      /POD000077 +POD-4 +2026-01-05 10:01 +station +reference check failed/,
    );
    expect(yieldText(madeYieldReport({ heldUnits: [] }))).not.toContain("HELD");
  });

  it("says what became of the units", () => {
    const text = read(yieldText(madeYieldReport()));
    for (const words of [
      "Yield of 2026-01-05 (Europe/Berlin)",
      "simulated tests among them",
      "151 inspected",
      "139 good at first pass: first pass yield 92.1 % 86.5 to 95.8 %",
      "140 good now: quality ratio 92.7 %",
      "8 failed 5.3 % 2.3 to 10.2 %",
      "2 ON HOLD 1.3 % 0.2 to 4.7 %",
      "1 scrapped: scrap ratio 0.7 %",
      "Rolled throughput yield 92.1 %: leak 94.7 % (143 of 151, 89.8 to 97.7 %), airflow 97.2 % (139 of 143, 93.0 to 99.2 %).",
      "12 defects in 1,057 opportunities: 11,353 per million.",
      "155 tests, 3 of them void (1.9 %, 0.4 to 5.6 %).",
      "Tested again after a fail: 1 unit, of which 1 then passed (100.0 %, 2.5 to 100.0 %).",
      "Reworked: 1 unit (rework ratio 0.7 %, 0.02 to 3.6 %), of which 0 passed since (0.0 %, 0.0 to 97.5 %).",
      "Cycle time: median 21.4 s, 95 % within 33.9 s (152 valid tests).",
      "leak rate 8 66.7 % 66.7 % 66.7 %",
      "Down time by fault: 12 min 34 s in all, faults at the same time counted once",
      "GAUGE_SILENT 2 12 min 34 s leak_gauge does not answer; check its supply and the cable.",
      "REF-LEAK-POD-4 POD-4 2 0 1 PASS 2026-01-05 10:01: 12.61, certified 12.5 +- 2.5 mL/min @ 20 degC",
      "Source: records, 155 travellers read and found as recorded; left out: 4 drafts, 6 tests of reference pieces.",
    ]) {
      expect(text).toContain(words);
    }
  });

  it("tells parts of units apart from parts of findings, of which a unit may have several", () => {
    const of = (count: number, cumulative: number) => ({
      count,
      rate: count / 9,
      share: count / 20,
      cumulative,
    });
    const failingCharacteristics = [
      { name: "leak rate", ...of(8, 0.4) },
      { name: "airflow", ...of(7, 0.75) },
      { name: "vacuum", ...of(5, 1) },
    ];
    const text = read(yieldText(madeYieldReport({ failingCharacteristics })));
    expect(text).toContain(
      "Failed at first inspection by units of failed units of findings with those above" +
        " leak rate 8 88.9 % 40.0 % 40.0 % airflow 7 77.8 % 35.0 % 75.0 % vacuum 5 55.6 % 25.0 % 100.0 %",
    );
  });

  it("has a line for each group, under its grouping", () => {
    const text = yieldText(madeYieldReport());
    expect(text).toMatch(/By hour: .*\n/);
    expect(text).toMatch(/\n {2}2026-01-05 09:00 +24 +21 +87\.5 % +67\.6 to 97\.3 % +3 +0 +0\n/);
    expect(text).toMatch(/\n {2}2026-01-05 10:00 +0 +0 +- +- +0/);
    expect(text).toMatch(/\nBy cavity: /);
  });

  it("says plainly that a traveller is not as recorded, that the index was believed, and every note", () => {
    const { source } = madeYieldReport();
    const broken = [{ path: "records/2026/01/05/x.json", problem: "it was changed after it was recorded" }];
    const text = read(
      yieldText(
        madeYieldReport({
          source: { ...source, travellersCompared: null, broken },
          notes: ["The clock was put back."],
        }),
      ),
    );
    expect(text).toContain("NOT AS RECORDED, and part of no figure: 1 record. Tell the quality engineer.");
    expect(text).toContain("records/2026/01/05/x.json: it was changed after it was recorded");
    expect(text).toContain("the index was taken at its word");
    expect(text).toContain("Note: The clock was put back.");
  });

  it("says where the rest of a long list is", () => {
    const [held] = madeYieldReport().heldUnits;
    const heldUnits = Array.from({ length: 25 }, (_, k) => ({ ...held, serial: `U${k}` })) as never;
    const text = yieldText(madeYieldReport({ heldUnits }));
    expect(text).toContain("HELD: 25 units must not ship.");
    expect(text).toContain("and 5 more: --format csv --what held lists all.");
    expect(text).toContain("U19 ");
    expect(text).not.toContain("U20 ");
  });

  it("has no figures for a day without units, and no gaps in place of them", () => {
    const text = yieldText(madeEmptyReport());
    expect(text).not.toMatch(/NaN|undefined|null|Infinity|Pareto|good at first/);
    expect(text).not.toContain("\n\n\n");
  });

  it("stays within 80 columns and obeys nothing that somebody wrote", () => {
    const full = madeYieldReport();
    fc.assert(
      fc.property(anyText, anyText, (a, b) => {
        const text = yieldText(
          madeYieldReport({
            breakdowns: [{ by: "lot", groups: [{ name: a, from: null, to: null, counts: full.total }] }],
            failingCharacteristics: [{ name: b, count: 3, rate: 0.25, share: 0.25, cumulative: 0.25 }],
            heldUnits: [{ serial: a, model: b, since: "2026-01-05T09:01:00.000Z", by: b, reason: a }],
            source: { ...full.source, folder: a, stations: [b], broken: [{ path: a, problem: b }] },
            notes: [a],
          }),
        );
        for (const line of text.split("\n")) expect(line.length).toBeLessThanOrEqual(80);
        expect(text.replaceAll("\n", "")).not.toMatch(/[\p{Cc}\p{Cf}]/u);
      }),
      { numRuns: 60 },
    );
  });
});

describe("figures for people", () => {
  it("never call all or nothing what is not", () => {
    expect(percentText(1)).toBe("100.0 %");
    expect(percentText(0)).toBe("0.0 %");
    expect(percentText(0.92052)).toBe("92.1 %");
    expect(percentText(0.99996)).toBe("99.996 %");
    expect(percentText(0.00002)).toBe("0.002 %");
    expect(percentText(null)).toBe("-");
    fc.assert(
      fc.property(
        fc.double({ min: 0, max: 1, minExcluded: true, maxExcluded: true, noNaN: true }),
        (value) => {
          expect(percentText(value)).not.toMatch(/^(?:100|0)(?:\.0+)? %/);
        },
      ),
    );
  });

  it("say a span's unit once, and a time in its larger units", () => {
    expect(spanText(0.866, 0.958)).toBe("86.6 to 95.8 %");
    expect([0, 59.4, 754, 3599.9, 7500].map(durationText)).toEqual([
      "0 s",
      "59 s",
      "12 min 34 s",
      "1 h 00 min",
      "2 h 05 min",
    ]);
    expect([countText(1, "unit"), countText(12057, "test")]).toEqual(["1 unit", "12,057 tests"]);
  });
});
