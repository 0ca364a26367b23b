import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { onTestFinished } from "vitest";
import { type FileProblem, FileProblems } from "../limits/checked-yaml.ts";
import { demoStationPath, loadStation } from "../station/wiring.ts";

export const demo = readFileSync(demoStationPath(), "utf8");
export const unmarked = demo.replace(/^simulated: true.*\n/m, "");
export const onPorts = (text: string) =>
  text.replaceAll("{ kind: memory }", "{ kind: tcp, host: gauges, port: 4001 }");

/** A real station's file without a mistake: the demo's, its instruments on ports. */
export const GOOD = onPorts(unmarked).replace("../limits/models", resolve("limits/models"));

/** The same without its orifice pieces, which prove nothing where the flow comes from the station's own orifices. */
export const withoutOrificePieces = (text: string) =>
  text.replace(/ {4}- \{[^}]*kind: orifice,[^}]*\}\n/g, "");

export const withoutReferenceCheck = (text: string) =>
  text.replace(/^reference_check:\n(?:(?: .*)?\n)+?(?=\S)/m, 'reference_check: "off"\n');

/** A folder that goes away with the test. */
export function scratchFolder(): string {
  const folder = mkdtempSync(join(tmpdir(), "station-file-"));
  onTestFinished(() => rmSync(folder, { recursive: true }));
  return folder;
}

export function changed(text: string, ...changes: readonly (readonly [from: string, to: string])[]): string {
  return changes.reduce((before, [from, to]) => {
    if (!before.includes(from)) throw new Error(`There is no ${JSON.stringify(from)}.`);
    return before.replace(from, () => to);
  }, text);
}

/** What is said of a station file with this text, among the files of a folder. */
export function problemsIn(text: string, folder = scratchFolder()): readonly FileProblem[] {
  writeFileSync(join(folder, "station.yaml"), text);
  try {
    loadStation(join(folder, "station.yaml"));
  } catch (error) {
    if (error instanceof FileProblems) return error.problems;
    throw error;
  }
  return [];
}

export const lineOf = (text: string, piece: string) => text.slice(0, text.indexOf(piece)).split("\n").length;
