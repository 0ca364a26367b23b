import { availableParallelism } from "node:os";
import { defineConfig } from "vitest/config";

export default defineConfig({
  test: {
    include: ["test/**/*.test.ts", "test/**/*.test.tsx"],
    // Journeys wait for real time and child processes as much as for the processor: as many workers as cores leave it idle.
    maxWorkers: Math.ceil(availableParallelism() * 1.5),
    testTimeout: 60_000,
    hookTimeout: 300_000,
    reporters: ["default", "./test/tally-reporter.ts"],
  },
});
