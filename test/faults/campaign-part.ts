import { expect } from "vitest";
import { runSeeds } from "./seeds.ts";
import { addTally, emptyTally, failedText, riskOf, tallyOf } from "./tally.ts";

/** Runs some of the seeds that are tried with every change, and wants nothing to have failed and much to have been tried. */
export async function expectSound(first: number, seeds: number): Promise<void> {
  const tally = emptyTally();
  await runSeeds({ first, seeds }, (result) => {
    addTally(tally, tallyOf(result));
    return "go on";
  });
  expect(tally.failed.map(failedText).join("\n")).toBe("");
  expect(riskOf(tally)).toMatchObject({ isKept: true });
  // It has tried something.
  expect(tally.counts.crashes).toBeGreaterThan(seeds / 5);
  expect(tally.counts.holds).toBeGreaterThan(0);
  expect(tally.counts.holds_by_hand).toBeGreaterThan(seeds / 10);
  expect(Object.keys(tally.struck).length).toBeGreaterThan(30);
  for (const verdict of ["pass", "fail", "void"] as const) {
    expect(tally.counts[verdict]).toBeGreaterThan(seeds / 2);
  }
}
