import { RealClock } from "../../drivers/real-clock.ts";
import { UsageError } from "../explain.ts";
import { readStationFileAlone } from "../load-station.ts";
import { commandWho } from "../people/command-who.ts";
import { type Edit, filled, requirePerson } from "../people/edit-people.ts";
import { type People, peopleFile } from "../people/people-file.ts";
import { readName } from "../people/person-name.ts";
import { whyNotPin } from "../people/pin-rule.ts";
import { ALL_BADGES, triesKey, WrongTries } from "../people/wrong-tries.ts";
import { askUnseen } from "./ask-unseen.ts";

/** Which people file, and who asks. */
export interface Where {
  readonly people?: string;
  readonly station?: string;
  readonly as?: string;
}

/** A people file as the command line names it. */
export class PeopleDesk {
  readonly path: string;
  readonly tries: WrongTries;
  /** Null where no station file says what a badge is. */
  readonly #badge: RegExp | null;
  readonly #as: string | undefined;

  /** @throws UsageError where no people file is named, or the station has none */
  constructor({ people, station, as }: Where) {
    if ((people === undefined) === (station === undefined)) {
      throw new UsageError("Say which people: --station FILE, or --people FILE.");
    }
    this.#as = as;
    if (people !== undefined) {
      this.path = people;
      this.#badge = null;
    } else {
      const { name, signIn } = readStationFileAlone(station ?? "");
      if (signIn.kind !== "people") {
        throw new UsageError(
          `Nobody proves at ${name} who they are (sign_in: ${signIn.kind}): write sign_in: { people: people.json, badge: "^B[0-9]{6}$" } into ${station} first.`,
        );
      }
      this.path = signIn.path;
      this.#badge = signIn.badge;
    }
    this.tries = new WrongTries(this.path);
  }

  async read(): Promise<People | null> {
    return peopleFile(this.path).read();
  }

  /**
   * Lets a supervisor prove who they are; nobody needs to as long as nobody is in the file.
   * @throws UsageError when they can't
   */
  async authorise(): Promise<Edit> {
    const people = await this.read();
    const at_ms = Date.now();
    if (!people || people.people.length === 0) return { by: null, at_ms };
    const who = await commandWho({
      as: this.#as,
      settings: { kind: "people", path: this.path, badge: this.#badge ?? /^$/u, idle_s: 0 },
      least: "supervisor",
      askPin: (question) => askUnseen(question, "DRUMTIGHT_PIN"),
      clock: new RealClock(),
    });
    return { by: who.name, at_ms };
  }

  /** @throws UsageError for what can't be a name */
  requireName(text: string): string {
    const name = readName(text);
    if (name === null) throw new UsageError('Expected a name of up to 40 characters, like "A. Marsh".');
    if (this.#badge?.test(name)) throw new UsageError("That is a badge, not a name: give the person's name.");
    return name;
  }

  /** Asks twice for a new PIN. @throws UsageError where it may not be chosen, or differs the second time */
  async newPin(name: string): Promise<string> {
    const ask = (question: string) => askUnseen(question, "DRUMTIGHT_NEW_PIN");
    const pin = await ask(`New PIN of ${name}, 4 to 12 digits: `);
    if (pin === "") {
      throw new UsageError(`No PIN was given for ${name}: type it, or put it into DRUMTIGHT_NEW_PIN.`);
    }
    const why = whyNotPin(pin);
    if (why !== null) throw new UsageError(`Choose another PIN: ${why}. Nothing was changed.`);
    if ((await ask("The same PIN again: ")) !== pin) {
      throw new UsageError("The two PINs differ: begin again. Nothing was changed.");
    }
    return pin;
  }

  /** Asks for a badge to be scanned. @throws UsageError where what comes is none */
  async newBadge(name: string): Promise<string> {
    const badge = await askUnseen(`Scan the badge of ${name}: `, "DRUMTIGHT_NEW_BADGE");
    if (badge === "") {
      throw new UsageError(`No badge was given for ${name}: scan it, or put it into DRUMTIGHT_NEW_BADGE.`);
    }
    const isBadge = this.#badge ? this.#badge.test(badge) : /^[!-~]{4,64}$/.test(badge);
    if (isBadge) return badge;
    throw new UsageError(
      this.#badge
        ? "What was scanned is no badge by the station file's pattern: scan a badge. Nothing was changed."
        : "What was scanned is no badge: 4 to 64 characters without blanks. Nothing was changed.",
    );
  }

  /** @returns whether there was any wrong PIN */
  async unlock(name: string): Promise<boolean> {
    const people = filled(await this.read());
    return this.tries.forget(triesKey(people, requirePerson(people, name).name));
  }

  /** @returns whether there was any wrong badge */
  unlockBadges(): Promise<boolean> {
    return this.tries.forget(ALL_BADGES);
  }

  /** @returns the name as the file has it */
  async nameOf(name: string): Promise<string> {
    return requirePerson(filled(await this.read()), name).name;
  }

  async edit(change: (now: People | null) => People | Promise<People>): Promise<void> {
    await peopleFile(this.path).edit(change);
  }
}
