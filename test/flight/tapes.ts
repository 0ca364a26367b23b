import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import { expect } from "vitest";
import { replayTape } from "../../station/flight/replay.ts";
import { compareTape } from "../../station/flight/tape-comparison.ts";
import { unpackTape } from "../../station/flight/tape-file.ts";

/** Every tape of a records folder, oldest first. */
export function tapesIn(recordsFolder: string): string[] {
  const root = join(recordsFolder, "flight");
  return readdirSync(root, { recursive: true, encoding: "utf8" })
    .filter((name) => name.endsWith(".tape"))
    .sort()
    .map((name) => join(root, name));
}

/** What a tape's traveller has, once its replay has given the same to the last digit. */
export async function replayedSame(path: string) {
  const { contents, preamble, events, damage } = await unpackTape(readFileSync(path));
  expect(damage).toBeNull();
  if (!contents) throw new Error(`${path} has no contents.`);
  const replayed = await replayTape({ contents, preamble, events });
  if (replayed.kind !== "judged") throw new Error(`${path}: ${replayed.why} (at ${replayed.at_s} s)`);
  expect(compareTape(contents.traveller, replayed).differing).toEqual([]);
  const { verdict, reasons } = replayed.outcome;
  return { serial: contents.attempt.serial, verdict, codes: reasons.map(({ code }) => code) };
}
