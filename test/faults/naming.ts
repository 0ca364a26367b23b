import { HELD_UP_s, ONE_SHOT, SPOILINGS, type Spoiling, tellingKey, tellings } from "./fault-telling.ts";
import type { Violation } from "./witness.ts";

interface Day {
  readonly day: string;
  readonly since_s: number;
}

/** Beyond the station's own time: commands that are confirmed first, and how often somebody looks here. */
const SLACK_s = 0.4;

/** Watches whether faults that a test must not go on with end it, within their time, and leave no pass. */
export class Naming {
  readonly #now_s: () => number;
  readonly #violated: (violation: Violation) => void;
  readonly #tellings = tellings();
  /** By instrument. */
  readonly #days = new Map<string, Day>();
  /** Of the test: why it must not pass. */
  readonly #spoilt = new Set<string>();
  #phase = "";
  #phaseSince_s = 0;
  /** Until then nothing of the program ran. */
  #heldUntil_s = Number.NEGATIVE_INFINITY;
  #isTold = false;

  constructor(now_s: () => number, violated: (violation: Violation) => void) {
    this.#now_s = now_s;
    this.#violated = violated;
  }

  testBegan(): void {
    this.#enter("");
    this.#spoilt.clear();
  }

  phase(name: string): void {
    this.#enter(name);
  }

  /** @param passed the serial of what has passed */
  testEnded(passed: string | null): void {
    this.#enter("");
    for (const why of passed === null ? [] : this.#spoilt) {
      this.#violated({ invariant: "fault not named", text: `${passed} passed: ${why}` });
    }
    this.#spoilt.clear();
  }

  dayBegan(instrument: string, day: string): void {
    this.dayEnded(instrument);
    this.#days.set(instrument, { day, since_s: this.#now_s() });
  }

  dayEnded(instrument: string): void {
    const known = this.#days.get(instrument);
    if (!known) return;
    this.#spoil((one) => one.for_s !== undefined && one.instrument === instrument);
    this.#days.delete(instrument);
  }

  heldUp(for_s: number): void {
    this.#heldUntil_s = Math.max(this.#heldUntil_s, this.#now_s() + for_s);
    if (for_s >= HELD_UP_s && (this.#phase === "settle" || this.#phase === "measure")) {
      this.#spoilt.add(`the program stood still for ${for_s.toFixed(2)} s in ${this.#phase}`);
    }
  }

  /** Called again and again while a test runs. */
  look(): void {
    if (this.#isTold) return;
    for (const [instrument, { day, since_s }] of this.#days) {
      const telling = this.#tellings.get(tellingKey(instrument, day));
      if (!telling?.phases.has(this.#phase)) continue;
      if (ONE_SHOT.has(day) && since_s < this.#phaseSince_s) continue;
      const for_s = this.#now_s() - Math.max(since_s, this.#phaseSince_s, this.#heldUntil_s);
      if (for_s <= telling.within_s + SLACK_s) continue;
      this.#isTold = true;
      const text = `${instrument} ${day} for ${for_s.toFixed(1)} s, and ${this.#phase} goes on`;
      this.#violated({ invariant: "fault not named", text });
    }
  }

  #enter(phase: string): void {
    this.#spoil(() => true);
    this.#phase = phase;
    this.#phaseSince_s = this.#now_s();
    this.#isTold = false;
  }

  /** What has been there long enough in the phase that ends now. */
  #spoil(isMeant: (one: Spoiling) => boolean): void {
    for (const one of SPOILINGS) {
      const known = this.#days.get(one.instrument);
      if (one.phase !== this.#phase || known?.day !== one.day || !isMeant(one)) continue;
      const for_s = this.#now_s() - Math.max(known.since_s, this.#phaseSince_s);
      const isEnough =
        one.for_s === undefined
          ? known.since_s <= this.#phaseSince_s && for_s >= (one.least_s ?? 0)
          : for_s >= one.for_s;
      if (isEnough) {
        this.#spoilt.add(`${one.instrument} ${one.day} for ${for_s.toFixed(2)} s of ${one.phase}`);
      }
    }
  }
}
