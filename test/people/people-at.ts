import { join } from "node:path";
import { addPerson, type NewPerson } from "../../station/people/edit-people.ts";
import { type People, peopleFile } from "../../station/people/people-file.ts";
import type { ScryptCost } from "../../station/people/scrypt-hash.ts";
import { scratchFolder } from "../records/scratch-folder.ts";

/** A guess costs nothing here, so that tests are quick. */
export const CHEAP: ScryptCost = { N: 2, r: 1, p: 1 };

export const SUPERVISOR: NewPerson = {
  name: "B. Imani",
  role: "supervisor",
  pin: "90517",
  badge: "B000001",
};
export const INSPECTOR: NewPerson = { name: "A. Marsh", role: "inspector", pin: "4862", badge: "B000002" };

const AT_ms = Date.parse("2026-01-05T05:55:00Z");

/** A people file, in a folder of its own, with a supervisor and whoever else. */
export function peopleAt(...others: readonly NewPerson[]): Promise<string> {
  return peopleIn(scratchFolder(), ...others);
}

/** The same in a folder that is there. */
export async function peopleIn(folder: string, ...others: readonly NewPerson[]): Promise<string> {
  const path = join(folder, "people.json");
  let people: People = await addPerson(null, SUPERVISOR, { by: null, at_ms: AT_ms }, CHEAP);
  for (const other of others) {
    people = await addPerson(people, other, { by: SUPERVISOR.name, at_ms: AT_ms }, CHEAP);
  }
  await peopleFile(path).edit(() => people);
  return path;
}
