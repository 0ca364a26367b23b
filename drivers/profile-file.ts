import { existsSync, readdirSync, readFileSync } from "node:fs";
import { basename, join } from "node:path";
import { fileURLToPath } from "node:url";
import { FileProblems, readCheckedYaml } from "../limits/checked-yaml.ts";
import { escaped } from "../limits/escaped-text.ts";
import { DriverError } from "./ports.ts";
import type { Profile } from "./profile.ts";
import { profileSchema } from "./profile-schema.ts";
import { whyNot } from "./why-not.ts";

const ENDING = ".yaml";
const NAME = /^[\w-]+$/;

/**
 * Reads one profile.
 * @throws FileProblems with everything wrong in it, by line and column
 */
export function readProfile(name: string, path: string, text: string): Profile {
  return { name, ...readCheckedYaml(path, text, profileSchema) };
}

/**
 * Reads one profile file by itself, wherever it lies.
 * @throws DriverError PROFILE_INVALID when it cannot be read; FileProblems when it is wrong, its name included
 */
export function readProfileAt(path: string): Profile {
  const name = basename(path, ENDING);
  const profile = readProfile(name, path, readText(name, path));
  if (path.endsWith(ENDING) && NAME.test(name)) return profile;
  throw wholeFile(path, "a name no station file can give", `a name of letters, digits and -, and ${ENDING}`);
}

/** @returns where a profile lies, in the first folder that has it; null when none has */
export function findProfile(name: string, folders: readonly string[]): string | null {
  if (!NAME.test(name)) return null;
  const paths = folders.map((folder) => join(folder, name + ENDING));
  return paths.find((candidate) => existsSync(candidate)) ?? null;
}

/**
 * Finds a profile by name; the first folder that has it wins, so that a plant's own comes before the built-in one.
 * @throws DriverError PROFILE_INVALID when no folder has it or it cannot be read, FileProblems when it is wrong
 */
export function loadProfile(name: string, folders: readonly string[] = [ownProfilesFolder()]): Profile {
  if (!NAME.test(name)) {
    throw new DriverError(
      "PROFILE_INVALID",
      name,
      `${JSON.stringify(name)} is no profile name; use letters, digits and -.`,
    );
  }
  const path = findProfile(name, folders);
  if (path === null) {
    const known = knownProfiles(folders).join(", ") || "none";
    const message = `There is no profile ${name} in ${folders.join(" or ")}; there are: ${known}.`;
    throw new DriverError("PROFILE_INVALID", name, message);
  }
  return readProfile(name, path, readText(name, path));
}

/** @returns names of the profiles in all the folders, each once */
export function knownProfiles(folders: readonly string[]): string[] {
  return [...new Set(folders.flatMap(profileNames))];
}

/** Names of the profiles in a folder, where other YAML files may lie too; none if there is no such folder. */
export function profileNames(folder: string): string[] {
  if (!existsSync(folder)) return [];
  return readdirSync(folder)
    .filter((file) => file.endsWith(ENDING) && saysItIsProfile(join(folder, file)))
    .map((file) => file.slice(0, -ENDING.length))
    .sort();
}

function saysItIsProfile(path: string): boolean {
  try {
    return /^\uFEFF?drumtight:\s*["']?profile\//m.test(readFileSync(path, "utf8"));
  } catch {
    return false;
  }
}

/** The profiles that come with the program: beside this file, or in the source tree when this file is compiled. */
export function ownProfilesFolder(): string {
  const beside = fileURLToPath(new URL("./profiles", import.meta.url));
  return existsSync(beside) ? beside : fileURLToPath(new URL("../../drivers/profiles", import.meta.url));
}

function readText(name: string, path: string): string {
  let bytes: Buffer;
  try {
    bytes = readFileSync(path);
  } catch (error) {
    throw new DriverError(
      "PROFILE_INVALID",
      name,
      `The profile ${escaped(path)} cannot be read: ${whyNot(error)}.`,
      {
        cause: error,
      },
    );
  }
  try {
    return new TextDecoder("utf-8", { fatal: true, ignoreBOM: true }).decode(bytes);
  } catch {
    // Read as if it were, a degree sign in a pattern would match nothing that an instrument says.
    throw wholeFile(path, "bytes that are not UTF-8", "UTF-8 text");
  }
}

function wholeFile(file: string, found: string, expected: string): FileProblems {
  return new FileProblems([{ file, line: 1, column: 1, path: "", found, expected }]);
}
