import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import fc from "fast-check";
import { readProfile } from "../../drivers/profile-file.ts";
import { FileProblems } from "../../limits/checked-yaml.ts";
import { readLimitFile } from "../../limits/limit-file.ts";
import { readCalibrationFile } from "../../station/calibration-file.ts";
import { peopleFile } from "../../station/people/people-file.ts";
import { newSalt } from "../../station/people/scrypt-hash.ts";
import { readIntent } from "../../station/records/attempt-intent.ts";
import { RecordError } from "../../station/records/record-error.ts";
import { readStationFile } from "../../station/station-file.ts";
import { facts } from "../records/example-attempt.ts";
import { requireDeclared, requireProblems, requireSentence } from "./clear-words.ts";
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
      return true;
    } catch (error) {
      requireProblems(requireDeclared<FileProblems>(error, FileProblems).problems, text);
      return false;
    }
  });
}

const SALT = newSalt();
const PEOPLE = JSON.stringify(
  {
    drumtight: "people/1",
    badge: SALT,
    people: [
      {
        name: "A. Marsh",
        role: "engineer",
        disabled: null,
        added: { at: "2026-01-05T05:55:00.000Z", by: null },
        pin: { ...SALT, hash: Buffer.alloc(32).toString("base64") },
        badge: null,
      },
    ],
  },
  null,
  2,
);
const NOTE = JSON.stringify({
  format: "drumtight/open-attempt/1",
  id: "0123456789abcdef".repeat(2),
  facts: facts("POD000123"),
});

/** @param read a reader of what programs write, from the disk: it reads it, or says in a sentence why it can't */
function diskTarget(
  name: string,
  share: number,
  seed: string,
  read: (path: string) => Promise<unknown>,
): FuzzTarget {
  return {
    name,
    share,
    run: async (options, seen) => {
      const folder = mkdtempSync(join(tmpdir(), "drumtight-fuzz-"));
      const path = join(folder, "file.json");
      const inputs = fc.oneof({ weight: 8, arbitrary: mutated([seed]) }, { weight: 1, arbitrary: anyText });
      const { run } = fuzzTarget(name, share, inputs, async (text) => {
        writeFileSync(path, text);
        try {
          await read(path);
          return true;
        } catch (error) {
          requireSentence(requireDeclared(error, RecordError).message);
          return false;
        }
      });
      try {
        return await run(options, seen);
      } finally {
        rmSync(folder, { recursive: true, force: true });
      }
    },
  };
}

export function fileTargets(): readonly FuzzTarget[] {
  return [
    fileTarget("profiles", 25_000, texts("drivers/profiles", ".yaml"), (path, text) =>
      readProfile("gauge", path, text),
    ),
    fileTarget("limit files", 12_000, texts("limits/models", ".yaml"), readLimitFile),
    fileTarget("station files", 6_000, texts("sim", ".yaml"), (path, text) => readStationFile(path, text)),
    fileTarget("calibrations", 5_000, texts("sim", ".json"), readCalibrationFile),
    diskTarget("people files", 3_000, PEOPLE, (path) => peopleFile(path).read()),
    diskTarget("notes of open attempts", 3_000, NOTE, (path) => readIntent(path)),
  ];
}
