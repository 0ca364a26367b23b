import type { OfPassing, TapePlace } from "./replay-gate.ts";
import type { TapeEvent } from "./tape-event.ts";

/** Follow from what came before them; whether they did is looked at when it is their turn. */
const FOLLOWING: ReadonlySet<TapeEvent["kind"]> = new Set(["now", "wall", "called", "sent"]);

/** Goes through a tape's events one by one; what drivers bring in time is taken on the way. */
export class PlayedTape implements TapePlace {
  #events: readonly TapeEvent[] = [];
  #at = 0;
  readonly #taken = new Set<TapeEvent>();

  *play(events: readonly TapeEvent[]): Generator<TapeEvent> {
    this.#events = events;
    for (this.#at = 0; this.#at < events.length; ) {
      const event = events[this.#at++] as TapeEvent;
      if (!this.#taken.delete(event)) yield event;
    }
    this.#events = [];
  }

  next(): OfPassing | null {
    for (let at = this.#at; ; at++) {
      const event = this.#events[at];
      if (!event) return null;
      if (this.#taken.has(event) || FOLLOWING.has(event.kind)) continue;
      return isPassing(event) ? event : null;
    }
  }

  take(): void {
    const next = this.next();
    if (next) this.#taken.add(next);
  }
}

function isPassing(event: TapeEvent): event is OfPassing {
  return (
    event.kind === "readings" || event.kind === "levels" || event.kind === "fault" || event.kind === "ended"
  );
}
