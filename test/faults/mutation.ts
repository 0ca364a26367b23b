import { fork } from "node:child_process";
import { once } from "node:events";
import { cpSync, mkdtempSync, readFileSync, rmSync, symlinkSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { packageRoot } from "../../station/package-root.ts";
import { MUTANTS, type Mutant } from "./mutants.ts";

/** Shifts in which a mutant must be found out. */
const MOST_SEEDS = 300;

/** The first seed that failed on a changed program. */
export interface Found {
  readonly seed: number;
  readonly invariant: string;
  readonly text: string;
}

export interface MutationOptions {
  readonly first: number;
  readonly jobs: number;
  readonly most?: number;
}

/**
 * Takes the station's safety checks away, one at a time, in a copy of the built program, and runs the campaign on each copy
 * until it fails. A check whose absence no seed notices is one that the campaign does not try, or that nothing depends on.
 * @param names those to be tried; none for all
 * @returns the exit code: 1 where a mutant survives, 2 where a name is unknown or a patch does not apply
 */
export async function runMutants(names: readonly string[], options: MutationOptions): Promise<number> {
  const unknown = names.filter((name) => !MUTANTS.some((mutant) => mutant.name === name));
  if (unknown.length > 0) {
    const known = MUTANTS.map(({ name }) => name).join(", ");
    process.stderr.write(`There is no mutant ${unknown.join(", ")}; there are: ${known}.\n`);
    return 2;
  }
  const left = MUTANTS.filter(({ name }) => names.length === 0 || names.includes(name));
  const count = left.length;
  let survivors = 0;
  const turn = async () => {
    for (let mutant = left.shift(); mutant; mutant = left.shift()) {
      const start_ms = performance.now();
      const found = await tryMutant(mutant, options);
      const took = `${((performance.now() - start_ms) / 1000).toFixed(0)} s`;
      if (!found) survivors++;
      const how = found
        ? `killed at seed ${found.seed} by "${found.invariant}" (${took}): ${found.text.slice(0, 160)}`
        : `SURVIVED ${options.most ?? MOST_SEEDS} seeds (${took})`;
      process.stdout.write(`${mutant.name}, without ${mutant.without}: ${how}\n`);
    }
  };
  await Promise.all(Array.from({ length: options.jobs }, turn));
  process.stdout.write(`${count - survivors} of ${count} mutants killed\n`);
  return survivors === 0 ? 0 : 1;
}

/**
 * @returns how the campaign noticed; null where it did not
 * @throws Error where a patch's text is not in the program exactly once
 */
export async function tryMutant(
  mutant: Mutant,
  { first, most = MOST_SEEDS }: MutationOptions,
): Promise<Found | null> {
  const folder = mkdtempSync(join(tmpdir(), "drumtight-mutant-"));
  try {
    copyProgram(folder);
    for (const { file, from, to } of mutant.patches) {
      const path = join(folder, "dist", file);
      const text = readFileSync(path, "utf8");
      const times = text.split(from).length - 1;
      if (times !== 1) {
        throw new Error(
          `Mutant ${mutant.name}: ${JSON.stringify(from)} is ${times} times in ${file}, and should be once.`,
        );
      }
      writeFileSync(
        path,
        text.replace(from, () => to),
      );
    }
    return await untilFailed(join(folder, "dist", "test", "faults", "until-failed.js"), first, most);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

/** The built program with all it reads beside it. */
function copyProgram(folder: string): void {
  const root = packageRoot();
  cpSync(join(root, "dist"), join(folder, "dist"), { recursive: true });
  for (const name of ["node_modules", "package.json", "sim", "limits", "drivers"]) {
    symlinkSync(join(root, name), join(folder, name));
  }
}

async function untilFailed(script: string, first: number, most: number): Promise<Found | null> {
  const child = fork(script, [String(first), String(most)], {
    stdio: ["ignore", "ignore", "inherit", "ipc"],
  });
  const gone = once(child, "exit");
  let found: Found | null | undefined;
  child.on("message", (message) => {
    found = message as Found | null;
  });
  const [code] = await gone;
  if (found === undefined)
    throw new Error(`The campaign on the changed program ended with ${code} and no result.`);
  return found;
}
