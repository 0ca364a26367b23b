import { availableParallelism } from "node:os";
import { defineConfig } from "vitest/config";

/** Functions and files only: no station runs, and nothing is left behind in the process that another test could meet. */
const PURE = "test/{cycle,drivers,limits,measure,people,published,quality,records,yield}/**";
const TESTS = ["test/**/*.test.ts", "test/**/*.test.tsx"];

export default defineConfig({
  test: {
    // Journeys wait for real time and child processes as much as for the processor: as many workers as cores leave it idle.
    maxWorkers: Math.ceil(availableParallelism() * 1.5),
    testTimeout: 60_000,
    hookTimeout: 300_000,
    reporters: ["default", "./test/tally-reporter.ts"],
    projects: [
      // To load the program anew for each file takes longer than many a file's tests.
      { extends: true, test: { name: "pure", isolate: false, include: [`${PURE}/*.test.ts`] } },
      { extends: true, test: { name: "stations", include: TESTS, exclude: [PURE] } },
    ],
  },
});
