import { parseArgs } from "node:util";
import { CampaignStations } from "./campaign-station.ts";
import { runShift } from "./run-shift.ts";

const { values } = parseArgs({
  options: { first: { type: "string" }, seeds: { type: "string" }, verbose: { type: "boolean" } },
});
const stations = new CampaignStations();
const first = Number(values.first ?? 1);
const t0 = performance.now();
const c0 = process.cpuUsage();
let bad = 0;
const seeds = Number(values.seeds ?? 10);
for (let seed = first; seed < first + seeds; seed++) {
  try {
    const result = await runShift(seed, stations);
    if (values.verbose) process.stdout.write(`${result.story.join("\n")}\n`);
    if (result.violations.length > 0) {
      bad++;
      process.stdout.write(
        `seed ${seed}: ${JSON.stringify(result.variant)}\n  ${result.faults.join("\n  ")}\n  => ${result.violations
          .slice(0, 3)
          .map(({ invariant, text }) => `${invariant}: ${text}`)
          .join("\n  => ")}\n`,
      );
    }
    if (values.verbose)
      process.stdout.write(`${JSON.stringify(result.counts)} ${JSON.stringify(result.risks)}\n`);
  } catch (error) {
    bad++;
    process.stdout.write(`seed ${seed}: ${error instanceof Error ? error.stack : error}\n`);
  }
}
const c = process.cpuUsage(c0);
process.stdout.write(
  `${bad} bad of ${seeds}, ${((performance.now() - t0) / seeds).toFixed(0)} ms/seed wall, ${((c.user + c.system) / 1000 / seeds).toFixed(0)} cpu\n`,
);
stations.remove();
