import { z } from "zod";
import { ROLES } from "./person.ts";
import { nameKey, personName } from "./person-name.ts";
import { hashShape, newSalt, SCRYPT_COST, type ScryptCost, saltShape } from "./scrypt-hash.ts";
import { SmallFile } from "./small-file.ts";

const time = z.iso.datetime("a date and time like 2026-01-05T05:55:00.000Z");

const personShape = z.strictObject({
  name: personName,
  role: z.enum(ROLES),
  /** Who and when; disabled people can't sign in, and stay in the file because records name them. */
  disabled: z.strictObject({ at: time, by: personName }).nullable(),
  added: z.strictObject({
    at: time,
    /** Null for the first person, whom nobody could allow. */
    by: personName.nullable(),
  }),
  pin: saltShape.safeExtend({ hash: hashShape }),
  /** Null for whoever has none. The salt is the file's, so that one scrypt finds whose badge it is. */
  badge: z.strictObject({ hash: hashShape }).nullable(),
});

const peopleShape = z.strictObject({
  drumtight: z.literal("people/1"),
  badge: saltShape,
  people: z
    .array(personShape)
    .refine((people) => new Set(people.map(({ name }) => nameKey(name))).size === people.length, {
      error: () => "each name once, whatever its case and blanks",
    })
    .refine(
      (people) => {
        const badges = people.flatMap(({ badge }) => (badge ? [badge.hash] : []));
        return new Set(badges).size === badges.length;
      },
      { error: () => "each badge once" },
    ),
});

export type Person = z.output<typeof personShape>;
export type People = z.output<typeof peopleShape>;

/** Who may sign in, at one station or several. */
export function peopleFile(path: string): SmallFile<People> {
  return new SmallFile(
    path,
    peopleShape,
    "Nobody can sign in until it is put back from a copy, or taken away and people are added anew.",
  );
}

/** @param cost how dear a guess of a badge is made, for as long as the file lives */
export function nobodyYet(cost: ScryptCost = SCRYPT_COST): People {
  return { drumtight: "people/1", badge: newSalt(cost), people: [] };
}

export function personNamed(people: People, name: string): Person | undefined {
  const key = nameKey(name);
  return people.people.find((person) => nameKey(person.name) === key);
}
