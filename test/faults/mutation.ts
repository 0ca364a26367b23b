import { readFileSync } from "node:fs";
import { join } from "node:path";
import { packageRoot } from "../../station/package-root.ts";
import { MUTANTS, type Mutant, type Patch } from "./mutants.ts";
import { type Found, TriedProgram } from "./tried-seeds.ts";

export interface MutationOptions {
  readonly first: number;
  readonly jobs: number;
  /** Shifts in which a mutant must be found out. */
  readonly seeds: number;
}

/**
 * Takes the station's safety checks away, one at a time, from the built program as it is loaded, and runs the campaign on each until it
 * fails. A check whose absence no seed notices is one that the campaign does not try, or that nothing depends on.
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
    const unchanged = new TriedProgram([]);
    for (let mutant = left.shift(); mutant; mutant = left.shift()) {
      const start_ms = performance.now();
      const { killed, notCounted } = await tryMutant(mutant, unchanged, options);
      const took = `${((performance.now() - start_ms) / 1000).toFixed(0)} s`;
      if (!killed) survivors++;
      const how = killed
        ? `killed at seed ${killed.seed} by "${killed.invariant}" (${took}): ${killed.text.slice(0, 160)}`
        : `SURVIVED ${options.seeds} seeds (${took})`;
      process.stdout.write(`${mutant.name}, without ${mutant.without}: ${how}\n`);
      for (const { seed, invariant, text } of notCounted) {
        process.stdout.write(
          `    not counted: seed ${seed} fails by "${invariant}" on the unchanged program, too: ${text.slice(0, 160)}\n`,
        );
      }
    }
    await unchanged.end();
  };
  await Promise.all(Array.from({ length: options.jobs }, turn));
  process.stdout.write(`${count - survivors} of ${count} mutants killed\n`);
  return survivors === 0 ? 0 : 1;
}

export interface MutantTried {
  /** How the campaign noticed; null where it did not. */
  readonly killed: Found | null;
  /** Seeds that fail on the unchanged program as well, which is a mistake of it or of the campaign. */
  readonly notCounted: readonly Found[];
}

/**
 * Runs the campaign on a changed program until it fails in one of the ways the mutant names, and the same seed on the unchanged
 * one, which must not.
 * @throws Error where a patch's text is not in the program exactly once
 */
export async function tryMutant(
  mutant: Mutant,
  unchanged: TriedProgram,
  { first, seeds }: MutationOptions,
): Promise<MutantTried> {
  for (const patch of mutant.patches) requireOnce(patch, mutant.name);
  const notCounted: Found[] = [];
  const { killedBy: ways, stress, patches } = mutant;
  const changed = new TriedProgram(patches);
  try {
    for (let from = first; from < first + seeds; ) {
      const found = await changed.hunt({ ways, stress, first: from, seeds: first + seeds - from });
      if (!found) break;
      // A risk is that of all seeds together.
      const since = found.invariant === "stated risk" ? from : found.seed;
      const too = await unchanged.hunt({ ways, stress, first: since, seeds: found.seed - since + 1 });
      if (!too) return { killed: found, notCounted };
      notCounted.push(too);
      from = found.seed + 1;
    }
    return { killed: null, notCounted };
  } finally {
    await changed.end();
  }
}

/** @throws Error where the patch's text is not in the built program exactly once */
export function requireOnce({ file, from }: Patch, mutant: string): void {
  const text = readFileSync(join(packageRoot(), "dist", file), "utf8");
  const times = text.split(from).length - 1;
  if (times === 1) return;
  throw new Error(
    `Mutant ${mutant}: ${JSON.stringify(from)} is ${times} times in ${file}, and should be once.`,
  );
}
