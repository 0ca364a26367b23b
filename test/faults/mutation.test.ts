import { expect, it } from "vitest";
import { MUTANTS } from "./mutants.ts";
import { tryMutant } from "./mutation.ts";
import { TriedProgram } from "./tried-seeds.ts";

/** All of them are tried by `npm run faults -- --mutants`. */
it("fails where the station does not sync what it writes", { timeout: 300_000 }, async () => {
  const mutant = MUTANTS.find(({ name }) => name === "names-not-synced");
  if (!mutant) throw new Error("There is no such mutant.");
  const unchanged = new TriedProgram([]);
  expect(await tryMutant(mutant, unchanged, { first: 1, jobs: 1, seeds: 3 })).toMatchObject({
    killed: { invariant: "verdict not on disk" },
    notCounted: [],
  });
  await unchanged.end();
});
