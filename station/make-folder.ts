import { existsSync, mkdirSync } from "node:fs";
import { dirname } from "node:path";
import { errnoOf } from "./records/record-error.ts";

/**
 * Makes a folder and all that is missing above it, one level at a time: Node's own way of it never ends below /proc (seen
 * with Node 20). What is there already stays, a file too; whoever uses the folder finds out.
 * @throws the system's error where it can't be made
 */
export function makeFolder(folder: string): void {
  if (existsSync(folder)) return;
  const above = dirname(folder);
  if (above !== folder) makeFolder(above);
  try {
    mkdirSync(folder);
  } catch (error) {
    // Somebody else made it in between.
    if (errnoOf(error) !== "EEXIST") throw error;
  }
}
