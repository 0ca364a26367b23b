import { availableParallelism } from "node:os";
import { defineConfig } from "vitest/config";

const ALL = ["test/**/*.test.ts", "test/**/*.test.tsx"];
/** Those that change what a process has only once (its environment, its folder, its listeners), or watch over it. */
const EACH_ALONE = [
  "test/bench/**",
  "test/faults/**",
  "test/flight/**",
  "test/kills/**",
  "test/hostile-input.test.ts",
  "test/journeys/coast.test.ts",
  "test/journeys/every-fault.test.ts",
  "test/limits/limits-command.test.ts",
  "test/screen/badge-cover.test.ts",
  "test/screen/station-view.test.tsx",
  "test/sim/serve.test.ts",
  "test/sim/sim-command.test.ts",
  "test/study.test.ts",
];

export default defineConfig({
  test: {
    // Journeys wait for real time and child processes as much as for the processor: as many workers as cores leave it idle.
    maxWorkers: Math.ceil(availableParallelism() * 1.5),
    testTimeout: 60_000,
    hookTimeout: 300_000,
    reporters: ["default", "./test/tally-reporter.ts"],
    projects: [
      // To load the program anew for each file takes longer than many a file's tests.
      { extends: true, test: { name: "together", isolate: false, include: ALL, exclude: EACH_ALONE } },
      {
        extends: true,
        test: { name: "alone", include: EACH_ALONE.map((path) => path.replace(/\*\*$/, "**/*.test.ts")) },
      },
    ],
  },
});
