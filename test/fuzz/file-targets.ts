import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";
import fc from "fast-check";
import { readProfile } from "../../drivers/profile-file.ts";
import { FileProblems } from "../../limits/checked-yaml.ts";
import { readLimitFile } from "../../limits/limit-file.ts";
import { readCalibrationFile } from "../../station/calibration-file.ts";
import { readStationFile } from "../../station/station-file.ts";
import { requireDeclared, requireProblems } from "./clear-words.ts";
import { anyText, mutated } from "./mutate.ts";
import { type FuzzTarget, fuzzTarget } from "./target.ts";

const texts = (folder: string, ending: string) =>
  readdirSync(folder)
    .filter((name) => name.endsWith(ending))
    .sort()
    .map((name) => readFileSync(join(folder, name), "utf8"));

/** What YAML allows and nobody needs: each line ten times the one before. */
const BOMB = [
  'a0: &a0 ["x"]',
  ...Array.from({ length: 12 }, (_, i) => `a${i + 1}: &a${i + 1} [${`*a${i}, `.repeat(9)}*a${i}]`),
].join("\n");

/** @param read a reader of files that people write: it takes a text, or names every mistake in it */
function fileTarget(
  name: string,
  share: number,
  seeds: readonly string[],
  read: (path: string, text: string) => unknown,
): FuzzTarget {
  const inputs = fc.oneof(
    { weight: 20, arbitrary: mutated(seeds) },
    { weight: 2, arbitrary: mutated([BOMB, `${seeds[0]}\n${BOMB}\n`], 2) },
    { weight: 1, arbitrary: anyText },
  );
  return fuzzTarget(name, share, inputs, (text) => {
    try {
      read("/plant/file.yaml", text);
    } catch (error) {
      requireProblems(requireDeclared<FileProblems>(error, FileProblems).problems, text);
    }
  });
}

export function fileTargets(): readonly FuzzTarget[] {
  return [
    fileTarget("profiles", 25_000, texts("drivers/profiles", ".yaml"), (path, text) =>
      readProfile("gauge", path, text),
    ),
    fileTarget("limit files", 12_000, texts("limits/models", ".yaml"), readLimitFile),
    fileTarget("station files", 6_000, texts("sim", ".yaml"), (path, text) => readStationFile(path, text)),
    fileTarget("calibrations", 5_000, texts("sim", ".json"), readCalibrationFile),
  ];
}
