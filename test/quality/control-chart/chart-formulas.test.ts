import { describe, expect, it } from "vitest";
import { attributeChart } from "../../../station/quality/control-chart/attributes.ts";
import { individualsChart } from "../../../station/quality/control-chart/individuals.ts";
import { lineThrough } from "../../../station/quality/control-chart/stability.ts";
import { subgroupChart } from "../../../station/quality/control-chart/subgroups.ts";

// Reckoned by hand from the printed constants of the tables.

it("limits two sigma wide are two sigma wide, of the moving ranges too", () => {
  const { figures } = individualsChart([10, 11, 9, 10.5], { target: 10, sigma: 1, width: 2 });
  expect(figures).toMatchObject({ UCL: 12, LCL: 8 });
  expect(figures.MR_UCL).toBeCloseTo(1.1284 + 2 * 0.8525, 3);
});

describe("subgroups of unequal size", () => {
  const subgroups = [
    { name: "a", values: [0.5, 1.5] },
    { name: "b", values: [6.5, 8, 8, 8, 9.5] },
  ];

  it("count in the grand mean by their values", () => {
    expect(subgroupChart(subgroups, { by: "range" }).figures.grand_mean).toBeCloseTo(42 / 7, 12);
  });

  it("count in sigma by how well their range tells it, (d2 / d3)^2", () => {
    const [two, five] = [(1.1284 / 0.8525) ** 2, (2.3259 / 0.8641) ** 2];
    const sigma = (two * (1 / 1.1284) + five * (3 / 2.3259)) / (two + five);
    expect(subgroupChart(subgroups, { by: "range" }).figures.sigma).toBeCloseTo(sigma, 3);
  });
});

it("samples in which fewer than five are to be expected are said to be small", () => {
  const notes = (count: number) =>
    attributeChart(
      Array.from({ length: 20 }, () => ({ count, size: 50 })),
      { kind: "p" },
    ).notes.join(" ");
  expect(notes(4)).toContain("under 5 the limits are rough");
  expect(notes(6)).not.toContain("rough");
});

it("a slope has the interval of Student's t with two degrees of freedom less than points", () => {
  const { slope, standardError, CI95 } = lineThrough([0, 1, 2, 3], [0, 1, 2, 4]);
  expect(slope).toBeCloseTo(1.3, 12);
  expect(standardError).toBeCloseTo(Math.sqrt(0.3 / 2 / 5), 12);
  expect(CI95[1] - CI95[0]).toBeCloseTo(2 * 4.302653 * Math.sqrt(0.03), 5);
});
