import { spawnSync } from "node:child_process";
import type { TestProject } from "vitest/node";

/** Builds what the tests run, once for all projects: no test meets a program older than its source. */
export function setup(project: TestProject): void {
  if (!project.isRootProject()) return;
  const { status } = spawnSync("npm", ["run", "-s", "build"], { stdio: "inherit" });
  if (status !== 0) throw new Error("The program could not be built: see above.");
}
