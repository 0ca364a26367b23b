import { register } from "node:module";
import type { Patch } from "./mutants.ts";
import type { Found, Hunt } from "./tried-seeds.ts";

const patches = JSON.parse(process.argv[2] ?? "[]") as readonly Patch[];
register(new URL("./patched-modules.js", import.meta.url), { data: patches });
// The program is loaded only now, so that it comes in changed.
const { runSeeds } = await import("./seeds.ts");
const { addTally, emptyTally, riskOf, tallyOf } = await import("./tally.ts");

/** Runs seeds until one fails in one of the ways asked for; else null. */
async function untilFailed({ first, seeds, ways, stress }: Hunt): Promise<Found | null> {
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
  return found;
}

process.on("message", (asked) => {
  void untilFailed(asked as Hunt).then((found) => process.send?.(found));
});
// Whoever asked has gone, or asks no more.
process.on("disconnect", () => process.exit(0));
