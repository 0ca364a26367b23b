import { UsageError } from "../explain.ts";
import { nobodyYet, type People, type Person, personNamed } from "./people-file.ts";
import type { Role } from "./person.ts";
import { hashOf, isSameHash, newSalt, SCRYPT_COST, type ScryptCost } from "./scrypt-hash.ts";

/** Who edits: a supervisor's name as the file has it, or null for nobody, which only the first person needs. */
export interface Edit {
  readonly by: string | null;
  readonly at_ms: number;
}

export interface NewPerson {
  readonly name: string;
  readonly role: Role;
  readonly pin: string;
  /** Null for none. */
  readonly badge: string | null;
}

/** What is changed of a person; what is left out stays. */
export interface PersonChange {
  readonly role?: Role;
  readonly pin?: string;
  readonly badge?: string | null;
}

/**
 * Adds somebody, to a file of their own if there is none yet.
 * @throws UsageError in one sentence: who may add, which name or badge is taken
 */
export async function addPerson(
  now: People | null,
  person: NewPerson,
  edit: Edit,
  cost: ScryptCost = SCRYPT_COST,
): Promise<People> {
  requireAddable(now, person, edit);
  const people = now ?? nobodyYet(cost);
  const isFirst = people.people.length === 0;
  const at = new Date(edit.at_ms).toISOString();
  const added: Person = {
    name: person.name,
    role: person.role,
    disabled: null,
    added: { at, by: isFirst ? null : edit.by },
    pin: await pinOf(person.pin, cost),
    badge: person.badge === null ? null : await badgeOf(people, person.badge, person.name),
  };
  return { ...people, people: [...people.people, added] };
}

/** @throws UsageError where somebody of that name and role can't be added */
export function requireAddable(
  now: People | null,
  person: Pick<NewPerson, "name" | "role">,
  { by }: Pick<Edit, "by">,
): void {
  if (!now || now.people.length === 0) {
    if (person.role === "supervisor") return;
    throw new UsageError(
      "The first person must be a supervisor, who adds all others: add one with --role supervisor. Nothing was changed.",
    );
  }
  requireSupervisor(now, by);
  const taken = personNamed(now, person.name);
  if (!taken) return;
  const todo = taken.disabled
    ? "enable them again, or choose another name"
    : "choose another name, or change that person";
  throw new UsageError(`There is a ${taken.name} already: ${todo}. Nothing was changed.`);
}

/** @throws UsageError where the name is unknown, who asks may not, or nobody would be left to add people */
export function disablePerson(now: People | null, name: string, edit: Edit): People {
  const people = filled(now);
  const by = requireSupervisor(people, edit.by);
  const person = requirePerson(people, name);
  if (person.disabled) {
    throw new UsageError(
      `${person.name} is disabled already, since ${person.disabled.at.slice(0, 10)} by ${person.disabled.by}.`,
    );
  }
  requireOtherSupervisor(people, person);
  return withPerson(people, { ...person, disabled: { at: new Date(edit.at_ms).toISOString(), by: by.name } });
}

/** @throws UsageError where the name is unknown, who asks may not, or nothing is to be done */
export function enablePerson(now: People | null, name: string, edit: Edit): People {
  const people = filled(now);
  requireSupervisor(people, edit.by);
  const person = requirePerson(people, name);
  if (!person.disabled) throw new UsageError(`${person.name} is not disabled: nothing was changed.`);
  return withPerson(people, { ...person, disabled: null });
}

/** @throws UsageError where the name is unknown, who asks may not, the badge is taken, or no supervisor would be left */
export async function changePerson(
  now: People | null,
  name: string,
  change: PersonChange,
  edit: Edit,
  cost: ScryptCost = SCRYPT_COST,
): Promise<People> {
  const people = filled(now);
  requireSupervisor(people, edit.by);
  const person = requirePerson(people, name);
  if (change.role !== undefined && change.role !== "supervisor") requireOtherSupervisor(people, person);
  const { role = person.role, pin, badge } = change;
  return withPerson(people, {
    ...person,
    role,
    pin: pin === undefined ? person.pin : await pinOf(pin, cost),
    badge:
      badge === undefined ? person.badge : badge === null ? null : await badgeOf(people, badge, person.name),
  });
}

/** @throws UsageError where there is no people file yet */
export function filled(now: People | null): People {
  if (now && now.people.length > 0) return now;
  throw new UsageError(
    'Nobody is in the people file yet: begin with drumtight people add "NAME" --role supervisor.',
  );
}

/** @throws UsageError for an unknown name */
export function requirePerson(people: People, name: string): Person {
  const person = personNamed(people, name);
  if (person) return person;
  throw new UsageError(`Nobody is called ${JSON.stringify(name)}: see drumtight people list.`);
}

/** Asked again while the file can't change: whoever proved to be a supervisor may have been disabled since. */
function requireSupervisor(people: People, by: string | null): Person {
  const person = by === null ? undefined : personNamed(people, by);
  if (person?.role === "supervisor" && !person.disabled) return person;
  throw new UsageError("Only a supervisor may do that: add --as SUPERVISOR. Nothing was changed.");
}

function requireOtherSupervisor(people: People, person: Person): void {
  const active = people.people.filter(({ role, disabled }) => role === "supervisor" && !disabled);
  if (active.some((other) => other !== person) || !active.includes(person)) return;
  throw new UsageError(
    `${person.name} is the last supervisor who is not disabled, and nobody could add people after that: make somebody else a supervisor first. Nothing was changed.`,
  );
}

function withPerson(people: People, changed: Person): People {
  return {
    ...people,
    people: people.people.map((person) => (person.name === changed.name ? changed : person)),
  };
}

async function pinOf(pin: string, cost: ScryptCost): Promise<Person["pin"]> {
  const salt = newSalt(cost);
  return { ...salt, hash: await hashOf(pin, salt) };
}

async function badgeOf(people: People, badge: string, name: string): Promise<NonNullable<Person["badge"]>> {
  const hash = await hashOf(badge, people.badge);
  const holder = people.people.find((person) => person.badge && isSameHash(person.badge.hash, hash));
  if (holder && holder.name !== name) {
    throw new UsageError(
      `That badge is ${holder.name}'s: take another one, or first take it from them with drumtight people change ${JSON.stringify(holder.name)} --no-badge. Nothing was changed.`,
    );
  }
  return { hash };
}
