import { expect, it } from "vitest";
import { chartReport } from "../../../station/quality/control-chart/chart-report.ts";

it("tells points that follow each other beyond a limit in one line, each chart and side by itself, and all in the figures", () => {
  const values = Array.from({ length: 60 }, (_, k) => {
    const scatter = k % 2 === 0 ? 0.1 : -0.1;
    if (k >= 30 && k < 36) return 5 + scatter;
    return k >= 36 && k < 38 ? -5 + scatter : scatter;
  });
  const { tables, figures, conclusion } = chartReport(
    { kind: "individuals", values },
    { rules: ["beyond a control limit"], baseline: 30 },
  );
  const rows = tables.find(({ caption }) => caption === "Signals")?.rows ?? [];
  expect(rows.map(([points]) => points)).toEqual(["31 to 36", "31", "37 to 38", "37", "39"]);
  expect(rows[0]?.at(-1)).toBe(
    "Points 31 to 36 of the individual values, 6 in a row, are above their control limit.",
  );
  expect(rows[2]?.at(-1)).toMatch(/^Points 37 to 38 .* below their control limit\.$/);
  expect(figures.signals).toHaveLength(11);
  expect(conclusion).toContain("11 signals in 60 points, the first at point 31");
});
