import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { type Plot, traceRows } from "../../station/screen/trace.ts";

const BRAILLE = /[\u2801-\u28ff]/;

function plot(values: readonly number[], more: Partial<Plot> = {}): Plot {
  const length_s = more.length_s ?? 10;
  const samples = values.map((value, i) => ({ t_s: (i * length_s) / Math.max(1, values.length), value }));
  return { samples, length_s, lines: [], unit: "kPa", leastSpan: 0.02, captions: [], ...more };
}

/** Of each column of cells: the rows in which it has dots of the curve. */
function curveRows(rows: readonly string[]): number[][] {
  const cells = rows.slice(0, -1).map((row) => [...row.slice(row.indexOf("│") + 1)]);
  return (cells[0] ?? []).map((_, column) =>
    cells.flatMap((row, i) => (BRAILLE.test(row[column] ?? "") ? [i] : [])),
  );
}

describe("the trace", () => {
  const value = fc.oneof(
    fc.double({ noNaN: true }),
    fc.double({ min: -10, max: 10, noNaN: true }),
    fc.constantFrom(0, -8, Number.MAX_VALUE, -Number.MAX_VALUE, Number.MIN_VALUE),
  );
  it("of any samples and lines fills just the rows it was given, none longer than the columns", () => {
    fc.assert(
      fc.property(
        fc.array(value, { maxLength: 300 }),
        fc.array(fc.record({ from: value, to: value, since_s: fc.nat({ max: 20 }) }), { maxLength: 3 }),
        fc.double({ min: 0, max: 1e6, noNaN: true }),
        fc.integer({ min: 40, max: 120 }),
        fc.integer({ min: 5, max: 20 }),
        (values, lines, length_s, columns, rows) => {
          const drawn = traceRows(plot(values, { lines, length_s }), columns, rows);
          expect(drawn).toHaveLength(rows);
          for (const row of drawn) {
            expect(row.length).toBeLessThanOrEqual(columns);
            expect(row).not.toMatch(/NaN|undefined|Infinity|\n/);
          }
          const finite = values.some((it) => Number.isFinite(it));
          expect(drawn.some((row) => BRAILLE.test(row))).toBe(finite);
        },
      ),
    );
  });

  it("rises from left to right where the values do, without a hole in it", () => {
    const rows = traceRows(plot(Array.from({ length: 400 }, (_, i) => -8 + i / 100)), 60, 12);
    const columns = curveRows(rows);
    expect(columns.every((found) => found.length > 0)).toBe(true);
    expect(columns[0]).toContain(10);
    expect(columns.at(-1)).toContain(0);
    for (let i = 1; i < columns.length; i++) {
      expect(Math.max(...(columns[i] ?? []))).toBeLessThanOrEqual(Math.max(...(columns[i - 1] ?? [])));
    }
  });

  it("joins what jumps, so that a burst reads as one curve", () => {
    const rows = traceRows(plot([...Array(200).fill(-8), ...Array(200).fill(0)]), 60, 10);
    expect(curveRows(rows).some((found) => found.length === 9)).toBe(true);
  });

  it("of a test just begun leaves the time to come empty", () => {
    const samples = [0, 0.5, 1].map((t_s) => ({ t_s, value: -8 + t_s }));
    const columns = curveRows(traceRows(plot([], { samples, length_s: 10 }), 60, 8));
    expect(columns.findLastIndex((found) => found.length > 0)).toBeLessThanOrEqual(6);
  });

  it("draws a limit in dashes that no curve hides or is mistaken for", () => {
    const rows = traceRows(plot(Array(100).fill(12), { lines: [{ from: 13, to: 13 }] }), 60, 8);
    const dashed = rows.slice(0, -1).findIndex((row) => row.includes("- - - -"));
    const drawn = rows.slice(0, -1).findIndex((row) => BRAILLE.test(row));
    expect(dashed).toBeGreaterThanOrEqual(0);
    expect(drawn).toBeGreaterThan(dashed);
  });

  it("slopes the line of the limit leak", () => {
    const rows = traceRows(plot([5, 5, 5], { lines: [{ from: 5, to: 4.8 }] }), 60, 10).slice(0, -1);
    const ends = rows.flatMap((row, i) => (/ -/.test(row) ? [i] : []));
    expect(ends.length).toBeGreaterThan(4);
  });

  it("draws a line that begins later only from there on", () => {
    const rows = traceRows(plot([5, 5, 5], { lines: [{ from: 4, to: 4.8, since_s: 5 }] }), 60, 10);
    const columns = rows
      .slice(0, -1)
      .flatMap((row) => [...row.slice(row.indexOf("│") + 1)].flatMap((cell, i) => (cell === "-" ? [i] : [])));
    const width = (rows[0]?.length ?? 0) - (rows[0]?.indexOf("│") ?? 0) - 1;
    expect(columns.length).toBeGreaterThan(10);
    expect(Math.min(...columns)).toBeGreaterThanOrEqual(0.48 * width);
    expect(Math.max(...columns)).toBeGreaterThan(0.9 * width);
  });

  it("names both ends of the values with their unit and the time it takes, to as many digits as tell them apart", () => {
    const rows = traceRows(plot([-7.996, -7.99], { length_s: 13 }), 60, 6);
    expect(rows[0]).toMatch(/^-7\.98\d* kPa│/);
    expect(rows[4]).toMatch(/^-8\.00\d* kPa│/);
    expect(rows.at(-1)).toMatch(/^ +0 +13 s$/);
  });

  it("makes no mountain of noise", () => {
    const rows = traceRows(plot([-8, -8.0001, -7.9999, -8]), 60, 10);
    expect(curveRows(rows).every((found) => found.length <= 1)).toBe(true);
  });

  it("lengthens its time for a phase that takes longer than expected", () => {
    const samples = [0, 5, 20].map((t_s) => ({ t_s, value: t_s }));
    expect(traceRows(plot([], { samples, length_s: 10 }), 60, 6).at(-1)).toContain("20 s");
  });

  it("gives up where no curve could be read", () => {
    expect(traceRows(plot([1, 2]), 8, 5)).toEqual([]);
    expect(traceRows(plot([1, 2]), 40, 1)).toEqual([]);
  });
});
