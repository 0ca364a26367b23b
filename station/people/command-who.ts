import type { Clock } from "../../drivers/ports.ts";
import { UsageError } from "../explain.ts";
import { mayActAs, NOBODY, type Role, type SignedIn } from "./person.ts";
import { readName } from "./person-name.ts";
import { SignIn } from "./sign-in.ts";
import type { SignInSettings } from "./sign-in-settings.ts";

export interface CommandWho {
  /** `--as NAME`; undefined where it was not given. */
  readonly as: string | undefined;
  /** How people sign in at the station it is about; null where no station file was given. */
  readonly settings: SignInSettings | null;
  /** The least role wanted where people sign in. */
  readonly least: Role;
  /** Asks for the PIN without showing it; "" when there is nobody to ask. */
  askPin(question: string): Promise<string>;
  readonly clock: Pick<Clock, "wall_ms">;
}

/**
 * Who runs a command. Where people sign in, the name is proven by its PIN; elsewhere a name is believed, and none is none.
 * @throws UsageError in one sentence: who is missing, wrong, locked, or may not
 */
export async function commandWho({ as, settings, least, askPin, clock }: CommandWho): Promise<SignedIn> {
  const name = as === undefined ? null : readName(as);
  if (as !== undefined && name === null) {
    throw new UsageError("--as: expected your name, up to 40 characters.");
  }
  if (settings?.kind !== "people") {
    if (name === null && settings?.kind !== "name") return NOBODY;
    if (name === null) throw new UsageError("Say who you are: add --as NAME.");
    return { name, role: null, how: "stated" };
  }
  if (name === null) {
    const whose = least === "inspector" ? "your name" : `the name of ${roleWords(least)}`;
    throw new UsageError(`People sign in here: add --as with ${whose}. The PIN is asked for.`);
  }
  const signIn = new SignIn({ settings, clock });
  const problem = await signIn.problem();
  if (problem !== null) throw new UsageError(problem);
  const pin = await askPin(`PIN of ${name}: `);
  if (pin === "")
    throw new UsageError(`No PIN was given for ${name}: type it, or put it into DRUMTIGHT_PIN.`);
  const answer = await signIn.byPin(name, pin);
  if (!answer.ok) throw new UsageError(answer.sentence);
  const { role } = answer.who;
  if (role === null || !mayActAs(role, least)) {
    throw new UsageError(
      `${answer.who.name} is ${roleWords(role ?? "inspector")}: ask ${roleWords(least)} to do this. Nothing was changed.`,
    );
  }
  return answer.who;
}

/** @example roleWords("engineer") // "an engineer" */
function roleWords(role: Role): string {
  return `${role === "supervisor" ? "a" : "an"} ${role}`;
}
