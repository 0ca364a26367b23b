import type { PreparedAttempt } from "./cycle/attempt.ts";
import type { Reason } from "./cycle/reason.ts";
import type { ModelInForce } from "./cycle/refusals.ts";
import type { StationNews } from "./cycle/station-setup.ts";
import type { UnitProgress } from "./cycle/unit-progress.ts";
import { isKnown } from "./cycle/unit-reasons.ts";
import type { TakenUp } from "./limits-in-force.ts";
import type { SignedIn } from "./people/person.ts";
import type { EarlyWarning } from "./quality/early-warning/early-warning.ts";
import type { FinishedAttempt, Settled } from "./recording.ts";
import { type Disposition, decider } from "./records/disposition.ts";
import type { StationEventDraft } from "./records/station-event.ts";
import type { RecordStore } from "./records/store.ts";
import { StationLog } from "./station-log.ts";

export interface StationListener {
  signedIn(who: SignedIn): void;
  /** By themselves, or by somebody who took over. */
  signedOut(who: SignedIn): void;
  /** Told again whenever the armed attempt has changed: a part added, a reason chosen, another person. */
  armed(attempt: PreparedAttempt): void;
  started(attempt: PreparedAttempt): void;
  /** The running test has entered a phase, such as "settle", or gone to another point. */
  phase(attempt: PreparedAttempt, phase: UnitProgress["phase"], progress: UnitProgress): void;
  refused(serial: string, reasons: readonly Reason[]): void;
  finished(finished: FinishedAttempt): void;
  /** Units are in doubt since a reference check failed, and are on hold. */
  held(disposition: Disposition): void;
  /** Something to look into soon, in a sentence; the station goes on. */
  warned(sentence: string): void;
  /** A characteristic no longer is what it was: those that are new, the plainest first. After the verdict of the unit that told. */
  drifting(warnings: readonly EarlyWarning[]): void;
  /** What judges from the next unit on was changed; each sentence was told as a warning. */
  limitsChanged(models: readonly ModelInForce[]): void;
  /** All reasons the station is stopped for now; told again when one comes in addition. */
  faulted(reasons: readonly Reason[]): void;
  recovered(): void;
}

export interface AnnouncementsParts {
  readonly store: Pick<RecordStore, "note">;
  /** @returns what has been settled and is still to be told */
  readonly takeSettled: () => Settled | null;
  /** The station has faulted anew. */
  readonly faulted: () => void;
}

/** Tells whoever listens what happens at the station, and keeps among its records what is no unit's. */
export class Announcements {
  readonly #parts: AnnouncementsParts;
  readonly #log: StationLog;
  readonly #listeners: Partial<StationListener>[] = [];
  #who: SignedIn | null = null;
  #faults: readonly Reason[] = [];
  /** Of those, the ones that need not be noted again. */
  #noted: readonly Reason[] = [];

  constructor(parts: AnnouncementsParts) {
    this.#parts = parts;
    this.#log = new StationLog(
      (event) => parts.store.note(event),
      (error) => this.#warn(notNoted(error)),
    );
  }

  listen(listener: Partial<StationListener>): void {
    this.#listeners.push(listener);
  }

  /** What the station is stopped for; empty while it goes. */
  get faults(): readonly Reason[] {
    return this.#faults;
  }

  /** @param found the files that decide about units now, and the head that was signed, where the station signs any */
  opened(found: Pick<StationEventDraft, "in_force" | "head"> = {}): void {
    this.#log.note({ event: "opened", ...found });
  }

  /** The limits that judge from now on are others, or judge no more. */
  limitsChanged({ models, sentences, in_force }: TakenUp): void {
    const reasons = sentences.map((sentence) => ({ code: "LIMITS_CHANGED", sentence }));
    this.#log.note({
      event: "limits_changed",
      ...byWhom(this.#who),
      reasons,
      ...(in_force === null ? {} : { in_force }),
    });
    for (const sentence of sentences) this.#warn(sentence);
    this.#each((listener) => listener.limitsChanged?.(models));
  }

  drifting(warnings: readonly EarlyWarning[]): void {
    this.#each((listener) => listener.drifting?.(warnings));
  }

  /** Something to look into soon that has nothing to do with a unit. */
  warn(sentence: string): void {
    this.#warn(sentence);
  }

  /** Resolves when that is on the disk, or can't be: told already, and no reason not to end. */
  async closed(): Promise<void> {
    if (this.#who) this.#noteOf("signed_out", this.#who);
    this.#log.note({ event: "closed" });
    await this.written();
  }

  /** Resolves when all that was noted is on the disk; what can't be written was told, and stays to be tried again. */
  async written(): Promise<void> {
    await this.#log.written().catch(() => undefined);
  }

  /**
   * Somebody answers for the faults. The next start of the program must know of both, or it would find another station than
   * this one.
   * @throws RecordError when it can't be written
   */
  async acknowledged(): Promise<void> {
    this.#log.note({ event: "acknowledged", ...byWhom(this.#who), reasons: recordedReasons(this.#faults) });
    await this.#log.written();
  }

  signInRefused(sentence: string): void {
    this.#log.note({ event: "sign_in_refused", reasons: [{ code: "SIGN_IN_REFUSED", sentence }] });
  }

  /** A fault found in the records, where it has been noted before. */
  faultedBefore(reason: Reason): void {
    this.#faults = [reason];
    this.#noted = [reason];
  }

  /** Somebody has acknowledged: a fault that comes in the recovery is another one, whatever it says. */
  recovering(): void {
    this.#noted = [];
  }

  phase(attempt: PreparedAttempt, progress: UnitProgress): void {
    this.#each((listener) => listener.phase?.(attempt, progress.phase, progress));
  }

  hear(news: StationNews): void {
    switch (news.type) {
      case "signed_in":
        if (news.before) this.#signedOut(news.before);
        this.#who = news.who;
        this.#noteOf("signed_in", news.who);
        this.#each((listener) => listener.signedIn?.(news.who));
        break;
      case "signed_out":
        this.#signedOut(news.who);
        break;
      case "refused":
        this.#each((listener) => listener.refused?.(news.serial, news.reasons));
        break;
      case "armed":
        this.#each((listener) => listener.armed?.(news.attempt));
        break;
      case "started":
        this.#each((listener) => listener.started?.(news.attempt));
        break;
      case "finished":
        // An attempt without a traveller has no verdict to tell; the fault that follows says why.
        if (news.output.kind === "recorded") this.#tellSettled();
        break;
      case "faulted":
        this.#faulted(news.reasons);
        break;
      case "recovered":
        this.#faults = [];
        this.#noted = [];
        this.#each((listener) => listener.recovered?.());
        this.#tellSettled();
        break;
    }
  }

  #tellSettled(): void {
    const settled = this.#parts.takeSettled();
    if (!settled) return;
    this.#each((listener) => listener.finished?.(settled.finished));
    for (const disposition of settled.held) this.#each((listener) => listener.held?.(disposition));
    if (settled.warning !== null) this.#warn(settled.warning);
  }

  #signedOut(who: SignedIn): void {
    this.#who = null;
    this.#noteOf("signed_out", who);
    this.#each((listener) => listener.signedOut?.(who));
  }

  #faulted(reasons: readonly Reason[]): void {
    const news = reasons.filter((reason) => !isKnown(reason, this.#noted));
    this.#faults = reasons;
    this.#noted = reasons;
    if (news.length > 0) {
      this.#parts.faulted();
      this.#log.note({ event: "fault", ...byWhom(this.#who), reasons: recordedReasons(news) });
    }
    this.#each((listener) => listener.faulted?.(reasons));
  }

  #warn(sentence: string): void {
    this.#each((listener) => listener.warned?.(sentence));
  }

  #each(tell: (listener: Partial<StationListener>) => void): void {
    for (const listener of this.#listeners) tell(listener);
  }

  /** Where nobody signs in, nobody has come or gone. */
  #noteOf(event: "signed_in" | "signed_out", who: SignedIn): void {
    if (who.name !== null) this.#log.note({ event, who: decider(who) });
  }
}

function byWhom(who: SignedIn | null): Pick<StationEventDraft, "who"> {
  return who ? { who: decider(who) } : {};
}

/** A text of a gauge may be longer than a record's. */
function recordedReasons(reasons: readonly Reason[]): NonNullable<StationEventDraft["reasons"]> {
  return reasons.map(({ code, sentence }) => ({ code, sentence }));
}

function notNoted(error: unknown): string {
  const why = error instanceof Error ? error.message : String(error);
  return `What happened at the station could not be noted, and will be tried again. ${why}`;
}
