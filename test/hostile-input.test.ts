import { describe, expect, it } from "vitest";
import { allTargets } from "./fuzz/targets.ts";

/** Of every target's share of a million cases; the rest is for `npm run fuzz`. */
const PART = 1 / 800;
const FEWEST = 2;

describe("what comes from outside, broken or hostile", async () => {
  it.each(await allTargets())("is read or refused in a sentence, never worse: $name", async (target) => {
    const numRuns = Math.max(FEWEST, Math.round(target.share * PART));
    const { details } = await target.run({ seed: 20_260_105, numRuns }, () => undefined);
    const { failed, counterexample, errorInstance } = details;
    const why = errorInstance instanceof Error ? errorInstance.message : "";
    expect(failed ? { counterexample, why } : null).toBeNull();
  });
});
