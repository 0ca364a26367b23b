import type { Clock } from "../../drivers/ports.ts";
import { RecordError } from "../records/record-error.ts";
import { inWords_s, lockedUntil_ms } from "./lockout.ts";
import { type People, type Person, peopleFile, personNamed } from "./people-file.ts";
import type { SignedIn } from "./person.ts";
import { hashOf, isSameHash, newSalt } from "./scrypt-hash.ts";
import type { PeopleSettings } from "./sign-in-settings.ts";
import { ALL_BADGES, triesKey, WrongTries } from "./wrong-tries.ts";

export type SignInAnswer =
  | { readonly ok: true; readonly who: SignedIn }
  | {
      readonly ok: false;
      /** For the person at the station: what happened, what to do. */
      readonly sentence: string;
      /** Wall clock; null where trying again at once is allowed. */
      readonly lockedUntil_ms: number | null;
    };

export interface SignInOptions {
  readonly settings: Pick<PeopleSettings, "path" | "badge">;
  readonly clock: Pick<Clock, "wall_ms">;
}

interface Way {
  /** Where its wrong tries are counted. */
  keyOf(people: People): string;
  find(people: People): Promise<Person | undefined>;
}

const NAME_OR_PIN = {
  wrong: "Name or PIN is wrong.",
  many: "wrong PINs",
  instead: "scan your badge, or let a supervisor unlock the name",
};
const BADGE = {
  wrong: "This badge is not known here, or must not be used.",
  many: "wrong badges",
  instead: "sign in with name and PIN",
};

/** Signs people in against the people file, which is read afresh each time: whoever was disabled is refused at once. */
export class SignIn {
  readonly #options: SignInOptions;
  readonly #tries: WrongTries;

  constructor(options: SignInOptions) {
    this.#options = options;
    this.#tries = new WrongTries(options.settings.path);
  }

  /** @returns why nobody can sign in at all (files missing, broken, not to be written, nobody in them); null when somebody can */
  async problem(): Promise<string | null> {
    const people = await this.#people();
    if ("sentence" in people) return people.sentence;
    try {
      await this.#tries.requireUsable();
      return null;
    } catch (error) {
      if (!(error instanceof RecordError)) throw error;
      return `Nobody can sign in: ${error.message}`;
    }
  }

  /** A scanned badge, and nothing else, signs in. Never throws for what is wrong with files or badges. */
  async byBadge(badge: string): Promise<SignInAnswer> {
    // What is no badge at all costs nobody a try.
    if (!this.#options.settings.badge.test(badge)) return refused("This is no badge. Scan your badge.");
    return this.#sign(BADGE, "badge", {
      keyOf: () => ALL_BADGES,
      find: async (people) => {
        const hash = await hashOf(badge, people.badge);
        return people.people.filter((person) => person.badge && isSameHash(person.badge.hash, hash))[0];
      },
    });
  }

  /** Names are compared without regard to case and blanks. Never throws for what is wrong with files, names or PINs. */
  async byPin(name: string, pin: string): Promise<SignInAnswer> {
    return this.#sign(NAME_OR_PIN, "pin", {
      keyOf: (people) => triesKey(people, name),
      find: async (people) => {
        const person = personNamed(people, name);
        // An unknown name takes as long as a known one.
        const kept = person?.pin ?? { ...(people.people[0]?.pin ?? newSalt()), hash: "" };
        return isSameHash(await hashOf(pin, kept), kept.hash) ? person : undefined;
      },
    });
  }

  async #sign(words: typeof BADGE, how: "badge" | "pin", { keyOf, find }: Way): Promise<SignInAnswer> {
    const people = await this.#people();
    if ("sentence" in people) return refused(people.sentence);
    const now_ms = this.#options.clock.wall_ms();
    const key = keyOf(people);
    try {
      const answer = await this.#tries.begin(key, now_ms);
      if (answer.kind === "locked") {
        const left = inWords_s((answer.until_ms - now_ms) / 1000);
        return refused(
          `Locked for another ${left} after ${answer.count} ${words.many}. Wait, or ${words.instead}.`,
          answer.until_ms,
        );
      }
      const person = await find(people);
      if (person && !person.disabled) {
        // It is right whether or not that can be kept just now.
        await this.#tries.right(answer).catch(() => {});
        return { ok: true, who: { name: person.name, role: person.role, how } };
      }
      return wrong(words, answer.count, now_ms);
    } catch (error) {
      if (!(error instanceof RecordError)) throw error;
      return refused(`Nobody can sign in: ${error.message}`);
    }
  }

  async #people(): Promise<People | { readonly sentence: string }> {
    const { path } = this.#options.settings;
    try {
      const people = await peopleFile(path).read();
      if (people && people.people.length > 0) return people;
      const found = people ? `nobody is in ${path} yet` : `there is no people file ${path}`;
      return {
        sentence: `Nobody can sign in: ${found}. Begin with drumtight people add "NAME" --role supervisor --people ${path}.`,
      };
    } catch (error) {
      if (!(error instanceof RecordError)) throw error;
      return { sentence: error.message };
    }
  }
}

function wrong(words: typeof BADGE, count: number, now_ms: number): SignInAnswer {
  const until_ms = lockedUntil_ms({ count, at_ms: now_ms }, now_ms);
  if (until_ms === null) return refused(`${words.wrong} Try again.`);
  const lock = inWords_s((until_ms - now_ms) / 1000);
  return refused(
    `${words.wrong} Locked for ${lock} after ${count} ${words.many}. Wait, or ${words.instead}.`,
    until_ms,
  );
}

function refused(sentence: string, lockedUntil_ms: number | null = null): SignInAnswer {
  return { ok: false, sentence, lockedUntil_ms };
}
