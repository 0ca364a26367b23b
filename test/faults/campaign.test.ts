import { expect, it } from "vitest";
import { expectSound } from "./campaign-part.ts";
import { runSeeds } from "./seeds.ts";

/** The others of the first 200 are in the file beside this one, for another core; `npm run faults` runs as many as you like. */
it(
  "passes no bad unit, loses none and leaves nothing live, whatever seeds 1 to 100 drew",
  {
    timeout: 900_000,
  },
  () => expectSound(1, 100),
);

it("tells the same story to the letter when it is run again", { timeout: 60_000 }, async () => {
  const stories: (readonly string[])[] = [];
  for (const _ of ["once", "again"]) {
    await runSeeds({ first: 4, seeds: 1 }, ({ story }) => {
      stories.push(story);
      return "go on";
    });
  }
  const [once, again] = stories;
  expect(again).toEqual(once);
  expect(once?.length).toBeGreaterThan(50);
});
