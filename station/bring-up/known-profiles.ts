import { DriverError } from "../../drivers/ports.ts";
import type { Profile } from "../../drivers/profile.ts";
import { knownProfiles, loadProfile } from "../../drivers/profile-file.ts";
import { FileProblems } from "../../limits/checked-yaml.ts";

/**
 * Every profile in these folders, the first of a name counting.
 * @param faulty called for each that is wrong: it is left out
 */
export function profilesIn(folders: readonly string[], faulty: (sentence: string) => void): Profile[] {
  return knownProfiles(folders).flatMap((name) => {
    try {
      return [loadProfile(name, folders)];
    } catch (error) {
      if (!(error instanceof FileProblems || error instanceof DriverError)) throw error;
      faulty(`The profile ${name} is not tried: ${error.message.split("\n")[0]}`);
      return [];
    }
  });
}
