import { mkdirSync } from "node:fs";
import { join } from "node:path";
import { makeFolder } from "./make-folder.ts";
import { errnoOf } from "./records/record-error.ts";

/**
 * Makes the records folder of one simulated run. Each run gets its own: its serials come back with the next run of the same
 * seed, and two runs may begin in the same second.
 * @param parent made too where it is not there; where it can't be, opening the records says why
 * @returns its path, like ".../2026-11-25-111925-seed-7", with -2, -3... where that is taken
 */
export function newRunFolder(parent: string, seed: number, begun = new Date()): string {
  const time = begun.toISOString().replace(/[:.]/g, "").replace("T", "-").slice(0, 17);
  const stem = join(parent, `${time}-seed-${seed}`);
  if (made(parent, makeFolder) !== "made") return stem;
  for (let k = 1; ; k++) {
    const folder = k === 1 ? stem : `${stem}-${k}`;
    if (made(folder) !== "taken") return folder;
  }
}

function made(folder: string, make: (folder: string) => void = mkdirSync): "made" | "taken" | "refused" {
  try {
    make(folder);
    return "made";
  } catch (error) {
    if (errnoOf(error) === "") throw error;
    return errnoOf(error) === "EEXIST" ? "taken" : "refused";
  }
}
