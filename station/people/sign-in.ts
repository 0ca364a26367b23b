import type { Clock } from "../../drivers/ports.ts";
import type { SignedIn } from "./person.ts";
import type { PeopleSettings } from "./sign-in-settings.ts";

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
  readonly settings: PeopleSettings;
  readonly clock: Pick<Clock, "wall_ms">;
}

/** Signs people in against the people file, which is read afresh each time: whoever was disabled is refused at once. */
export class SignIn {
  readonly #options: SignInOptions;

  constructor(options: SignInOptions) {
    this.#options = options;
  }

  /** @returns why nobody can sign in at all (no people file, a broken one, nobody in it); null when somebody can */
  async problem(): Promise<string | null> {
    throw new Error(`not yet: ${this.#options.settings.path}`);
  }

  /** A scanned badge, and nothing else, signs in. Never throws for what is wrong with files or badges. */
  async byBadge(_badge: string): Promise<SignInAnswer> {
    throw new Error("not yet");
  }

  /** Names are compared without regard to case and blanks. Never throws for what is wrong with files, names or PINs. */
  async byPin(_name: string, _pin: string): Promise<SignInAnswer> {
    throw new Error("not yet");
  }
}
