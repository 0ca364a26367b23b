import type { Found } from "./mutation.ts";
import { runSeeds } from "./seeds.ts";
import { addShift, emptyTally, riskOf } from "./tally.ts";

/** Runs seeds until one fails, and sends what failed to whoever started this process; null where none has. */
async function main(first: number, seeds: number): Promise<void> {
  const tally = emptyTally();
  let found: Found | null = null;
  await runSeeds({ first, seeds }, (result) => {
    addShift(tally, result);
    const [violation] = result.violations;
    if (violation) found = { seed: result.seed, ...violation };
    else if (!riskOf(tally).isKept) {
      found = { seed: result.seed, invariant: "stated risk", text: riskOf(tally).text };
    }
    return found ? "enough" : "go on";
  });
  process.send?.(found);
}

const [first = 1, seeds = 1] = process.argv.slice(2).map(Number);
await main(first, seeds);
