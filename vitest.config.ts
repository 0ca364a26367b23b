import { existsSync } from "node:fs";
import { availableParallelism } from "node:os";
import { dirname, join, relative, resolve } from "node:path";
import { defineConfig } from "vitest/config";
import { BaseSequencer, type TestSpecification } from "vitest/node";

/** What takes longest, what waits in real time beside what calculates: begun first, so that nothing is waited for at the end. */
const FIRST = [
  "journeys/real-line",
  "journeys/terminal",
  "faults/campaign",
  "journeys/suspects",
  "kills/kills",
  "faults/campaign-on",
  "journeys/people",
  "journeys/study",
  "measure/leak/coverage",
  "journeys/ambient",
  "journeys/airflow-days",
  "journeys/screen/sizes",
  "journeys/screen/retest",
  "journeys/screen/refusals",
  "journeys/screen/faults",
  "journeys/replay",
  "journeys/kill",
];

class LongestFirst extends BaseSequencer {
  override async sort(files: TestSpecification[]): Promise<TestSpecification[]> {
    const ranks = FIRST.map((name) => join(import.meta.dirname, "test", `${name}.test.ts`));
    const rankOf = ({ moduleId }: TestSpecification) => ranks.indexOf(moduleId) + 1 || FIRST.length + 1;
    return (await super.sort(files)).sort((a, b) => rankOf(a) - rankOf(b));
  }
}

/**
 * Takes the program as it is built: Node loads it in a third of the time that vitest takes for its source, and runs it faster.
 * Without `run` vitest watches the sources, and takes these.
 */
const built = {
  name: "built-program",
  enforce: "pre",
  resolveId(source: string, importer: string | undefined) {
    if (importer === undefined || !/^\.{1,2}\/.*\.tsx?$/.test(source)) return null;
    const path = resolve(dirname(importer), source);
    const name = relative(import.meta.dirname, path).replace(/\.tsx?$/, ".js");
    const id = join(import.meta.dirname, "dist", name);
    return existsSync(path) && existsSync(id) ? { id, external: true } : null;
  },
  apply: () => process.argv.includes("run"),
} as const;

// Libraries as the program gets them, without what they add for developers.
process.env.NODE_ENV = "production";

export default defineConfig({
  plugins: [built],
  test: {
    server: { deps: { external: [/\/dist\//] } },
    globalSetup: "test/build-first.ts",
    // Journeys wait for real time and child processes as much as for the processor: as many workers as cores leave it idle.
    maxWorkers: Math.ceil(availableParallelism() * 1.5),
    // What hangs, not what a busy machine does slowly.
    testTimeout: 180_000,
    hookTimeout: 300_000,
    reporters: ["default", "./test/tally-reporter.ts"],
    // To load the program anew for each file takes longer than many a file's tests, and a test leaves nothing behind in its process.
    isolate: false,
    sequence: { sequencer: LongestFirst },
    include: ["test/**/*.test.{ts,tsx}"],
  },
});
