import { expect, it } from "vitest";
import { MUTANTS } from "./mutants.ts";
import { requireOnce, tryMutant } from "./mutation.ts";
import { TriedProgram } from "./tried-seeds.ts";

it("takes away checks that stand in the program as it is built", () => {
  for (const { name, patches } of MUTANTS) {
    for (const patch of patches) expect(() => requireOnce(patch, name)).not.toThrow();
  }
});

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
