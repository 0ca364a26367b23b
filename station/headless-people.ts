import type { Clock } from "../drivers/ports.ts";
import type { ModelLimits } from "../limits/model.ts";
import { badgeAnywhereIn } from "./badge-text.ts";
import type { StationController } from "./controller.ts";
import type { Reason } from "./cycle/reason.ts";
import type { Scan } from "./cycle/scan.ts";
import { SignIn } from "./people/sign-in.ts";
import type { PeopleSettings } from "./people/sign-in-settings.ts";
import { meaningOf } from "./scan-meaning.ts";
import { hidden } from "./scan-sentences.ts";

export interface HeadlessPeopleParts {
  readonly station: StationController;
  readonly settings: PeopleSettings;
  readonly models: () => readonly ModelLimits[];
  readonly referenceSerials: readonly string[];
  readonly clock: Pick<Clock, "now_s" | "wall_ms">;
  readonly refused: (reason: Reason) => void;
}

/** A station without a screen at which people sign in: badges among the scanned lines, and signing out at idle. */
export class HeadlessPeople {
  readonly #parts: HeadlessPeopleParts;
  readonly #signIn: SignIn;

  constructor(parts: HeadlessPeopleParts) {
    this.#parts = parts;
    this.#signIn = new SignIn({ settings: parts.settings, clock: parts.clock });
  }

  /** Signs in by each badge and passes on the other scans. A badge that is not alone on its line is refused and not shown. */
  async *unitsOf(scans: AsyncIterable<Scan>): AsyncGenerator<Scan> {
    const { clock, settings, station } = this.#parts;
    let since_s = clock.now_s();
    for await (const scan of scans) {
      const isIdle = clock.now_s() - since_s > settings.idle_s;
      if (isIdle && station.state() !== "signedOut") station.signOut();
      const told = this.#meant(scan);
      if (told === "badge") await this.#byBadge(scan.serial);
      else yield told;
      since_s = clock.now_s();
    }
  }

  #meant(scan: Scan): Scan | "badge" {
    const { settings, models, referenceSerials } = this.#parts;
    if (scan.misread) {
      const isHeld = scan.misread.some(({ sentence }) => badgeAnywhereIn(sentence, settings.badge));
      return isHeld ? { serial: "", parts: {}, misread: [hidden] } : scan;
    }
    const place = { models: models(), armed: null, referenceSerials, badge: settings.badge };
    const meaning = meaningOf(lineOf(scan), place);
    if (meaning.kind === "badge") return "badge";
    const reason = "reason" in meaning ? meaning.reason : null;
    return reason === hidden ? { serial: "", parts: {}, misread: [hidden] } : scan;
  }

  async #byBadge(badge: string): Promise<void> {
    const { station, refused } = this.#parts;
    const answer = await this.#signIn.byBadge(badge);
    if (answer.ok) {
      station.signIn(answer.who);
      return;
    }
    station.signInRefused(answer.sentence);
    refused({ code: "NOT_SIGNED_IN", sentence: answer.sentence });
  }
}

function lineOf({ serial, parts, retestReason }: Scan): string {
  const words = Object.entries(parts).map(([name, value]) => `${name}=${value}`);
  return [serial, ...words, ...(retestReason === undefined ? [] : [`retest=${retestReason}`])].join(" ");
}
