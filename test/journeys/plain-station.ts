import { copyFileSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join, resolve } from "node:path";
import { changed, withoutOrificePieces, withoutReferenceCheck } from "../made-station-file.ts";
import { scratchFolder } from "../records/scratch-folder.ts";

/**
 * Writes the demo station's file with changes, its calibrations beside it, for the test that asks.
 * @param folder cleared away by whoever gives it
 * @returns its path
 */
export function changedStation(change: (text: string) => string, folder = scratchFolder()): string {
  const path = join(folder, "demo-station.yaml");
  const demo = changed(readFileSync("sim/demo-station.yaml", "utf8"), [
    "../limits/models",
    resolve("limits/models"),
  ]);
  writeFileSync(path, change(demo));
  for (const name of readdirSync("sim").filter((file) => file.endsWith(".json"))) {
    copyFileSync(join("sim", name), join(path, "..", name));
  }
  return path;
}

/** For journeys about something else: without a reference check, and never stopped because units in a row fail alike. */
export function plain(text: string): string {
  return withoutReferenceCheck(text).replace(/stop_after_same_fails.*\n/, "");
}

/** The same, but proven by its leak pieces, and not anew after each fault. */
export function provenByLeakPieces(text: string): string {
  return withoutOrificePieces(changed(text, ["after_fault: true", "after_fault: false"])).replace(
    /stop_after_same_fails.*\n/,
    "",
  );
}
