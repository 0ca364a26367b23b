import { spawnSync } from "node:child_process";
import { join } from "node:path";
import type { ZodType } from "zod";
import { z } from "zod";
import { packageRoot } from "../../station/package-root.ts";

/** Debian's, where python3-scipy is; another Python on the path may have another SciPy or none. */
const PYTHON = "/usr/bin/python3";

/**
 * Answers of scipy.stats to jobs of one kind, in their order.
 * @throws Error without SciPy, with what Python said
 */
export function askScipy<T>(
  jobs: readonly ({ readonly ask: string } & Readonly<Record<string, unknown>>)[],
  answer: ZodType<T>,
): T[] {
  const script = join(packageRoot(), "test", "published", "scipy_distributions.py");
  const { status, stdout, stderr, error } = spawnSync(PYTHON, [script], {
    input: JSON.stringify(jobs),
    encoding: "utf8",
    maxBuffer: 1e8,
  });
  if (error || status !== 0) {
    throw new Error(`scipy.stats gave no answer (Debian package python3-scipy): ${error ?? stderr}`);
  }
  return z.array(answer).parse(JSON.parse(stdout));
}
