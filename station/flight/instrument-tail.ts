import type { TapeEvent } from "./tape-event.ts";

const LF = 0x0a;
const CR = 0x0d;
/** More than any question and its answer come in; beyond it nobody waits any more. */
const LONGEST = 256;

/**
 * What an instrument has said last, as far as a tape must begin with it: of one that is asked, the last question and
 * whatever came after; of one that speaks by itself, the line it is in the middle of.
 */
export class InstrumentTail {
  readonly #isStreaming: boolean;
  #events: TapeEvent[] = [];

  constructor(isStreaming: boolean) {
    this.#isStreaming = isStreaming;
  }

  events(): readonly TapeEvent[] {
    return this.#events;
  }

  /** @param event of this instrument's cable */
  add(event: TapeEvent): void {
    switch (event.kind) {
      case "opened":
      case "lost":
      case "refused":
      case "shut":
        this.#events = [];
        return;
      case "sent":
        if (!this.#isStreaming) this.#events = [copied(event)];
        return;
      case "heard":
        if (this.#isStreaming) this.#heardInStream(event);
        else if (this.#events.length > 0 && this.#events.length < LONGEST) this.#events.push(copied(event));
        return;
    }
  }

  #heardInStream(event: Extract<TapeEvent, { kind: "heard" | "sent" }>): void {
    const end = Math.max(event.bytes.lastIndexOf(LF), event.bytes.lastIndexOf(CR));
    if (end >= 0) this.#events = [];
    const rest = event.bytes.subarray(end + 1);
    if (rest.length > 0 && this.#events.length < LONGEST)
      this.#events.push(copied({ ...event, bytes: rest }));
  }
}

/** The bytes are the transport's to use again. */
function copied(event: Extract<TapeEvent, { kind: "heard" | "sent" }>): TapeEvent {
  return { ...event, bytes: Buffer.from(event.bytes) };
}
