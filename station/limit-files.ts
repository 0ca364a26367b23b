import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { sha256Hex } from "./records/chain.ts";

/** SHA-256 by name of every limit file and approval of a folder; a file that can't be read has what was wrong instead. */
export type LimitFiles = ReadonlyMap<string, string>;

/** @example limitFilesIn("limits/models").get("pod-4.yaml") // "5f2a...", which is another once the file says something else */
export function limitFilesIn(folder: string): LimitFiles {
  try {
    const names = readdirSync(folder).filter((name) => /\.ya?ml(?:\.approval\.json)?$/i.test(name));
    return new Map(names.sort().map((name) => [name, contentOf(join(folder, name))]));
  } catch (error) {
    return new Map([[".", String(error)]]);
  }
}

function contentOf(path: string): string {
  try {
    return sha256Hex(readFileSync(path));
  } catch (error) {
    return String(error);
  }
}

export function isSameFiles(a: LimitFiles, b: LimitFiles): boolean {
  return a.size === b.size && [...a].every(([name, content]) => b.get(name) === content);
}
