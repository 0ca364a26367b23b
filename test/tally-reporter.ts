import type { Reporter, TestModule } from "vitest/node";

/**
 * Prints the real counts as the run's last line. A test file that could not be
 * loaded counts as one failure, and so does a failed hook or an error outside any test: neither
 * may look like success.
 */
export default class TallyReporter implements Reporter {
  onTestRunEnd(modules: readonly TestModule[], unhandledErrors: readonly unknown[]): void {
    const tally = { passed: 0, failed: unhandledErrors.length, skipped: 0 };
    for (const module of modules) {
      let ran = 0;
      for (const test of module.children.allTests()) {
        const state = test.result().state;
        if (state === "passed") tally.passed++;
        else if (state === "failed") tally.failed++;
        else tally.skipped++;
        ran++;
      }
      if (module.state() === "failed" && (ran === 0 || module.errors().length > 0)) tally.failed++;
      for (const suite of module.children.allSuites()) if (suite.errors().length > 0) tally.failed++;
    }
    process.once("exit", () => {
      process.stdout.write(`${tally.passed} passed, ${tally.failed} failed, ${tally.skipped} skipped\n`);
    });
  }
}
