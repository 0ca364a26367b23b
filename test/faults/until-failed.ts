import { register } from "node:module";
import type { Found, Hunt } from "./tried-seeds.ts";

/** Runs seeds until one fails in one of the ways asked for, and sends how to whoever started this process; else null. */
async function main({ first, seeds, ways, stress, patches }: Hunt): Promise<void> {
  register(new URL("./patched-modules.js", import.meta.url), { data: patches });
  // The program is loaded only now, so that it comes in changed.
  const { runSeeds } = await import("./seeds.ts");
  const { addTally, emptyTally, riskOf, tallyOf } = await import("./tally.ts");
  const tally = emptyTally();
  let found: Found | null = null;
  await runSeeds({ first, seeds, stress }, (result) => {
    addTally(tally, tallyOf(result));
    const violation = result.violations.find(({ invariant }) => ways.includes(invariant));
    if (violation) found = { seed: result.seed, ...violation };
    else if (ways.includes("stated risk") && !riskOf(tally).isKept) {
      found = { seed: result.seed, invariant: "stated risk", text: riskOf(tally).text };
    }
    return found ? "enough" : "go on";
  });
  process.send?.(found);
}

await main(JSON.parse(process.argv[2] ?? "") as Hunt);
