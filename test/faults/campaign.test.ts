import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { CampaignStations } from "./campaign-station.ts";
import { MUTANTS } from "./mutants.ts";
import { tryMutant } from "./mutation.ts";
import { runShift } from "./run-shift.ts";
import { addTally, emptyTally, failedText, riskOf, tallyOf } from "./tally.ts";

/** The first seeds only: many more are run by `npm run faults`. */
const SEEDS = 8;

describe("a shift with random faults", { timeout: 300_000 }, () => {
  let stations: CampaignStations;
  beforeAll(() => {
    stations = new CampaignStations();
  });
  afterAll(() => stations.remove());

  it("passes no bad unit, loses none and leaves nothing live, whatever its seed drew", async () => {
    const tally = emptyTally();
    for (let seed = 1; seed <= SEEDS; seed++) addTally(tally, tallyOf(await runShift(seed, stations)));
    expect(tally.failed.map(failedText).join("\n")).toBe("");
    expect(riskOf(tally)).toMatchObject({ isKept: true });
    // It has tried something.
    expect(tally.counts.crashes).toBeGreaterThan(3);
    expect(Object.keys(tally.struck).length).toBeGreaterThan(10);
    for (const verdict of ["pass", "fail", "void"] as const) {
      expect(tally.counts[verdict]).toBeGreaterThan(2);
    }
  });

  it("tells the same story to the letter when it is run again", async () => {
    const [once, again] = [await runShift(4, stations), await runShift(4, stations)];
    expect(again.story).toEqual(once.story);
    expect(once.story.length).toBeGreaterThan(50);
  });
});

it("fails where the station does not sync what it writes", { timeout: 300_000 }, async () => {
  const mutant = MUTANTS.find(({ name }) => name === "names-not-synced");
  if (!mutant) throw new Error("There is no such mutant.");
  expect(await tryMutant(mutant, { first: 1, jobs: 1, seeds: 3 })).toMatchObject({
    killed: { invariant: "verdict not on disk" },
    notCounted: [],
  });
});
