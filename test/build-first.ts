import { spawnSync } from "node:child_process";

/** Builds what the tests run: none meets a program older than its source. */
export function setup(): void {
  const { status } = spawnSync("npm", ["run", "-s", "build"], { stdio: "inherit" });
  if (status !== 0) throw new Error("The program could not be built: see above.");
}
