import type { GaugeMemory } from "../../drivers/ports.ts";
import type { TapeEvent } from "./tape-event.ts";

type Chunk = Extract<TapeEvent, { kind: "heard" | "sent" }>;

const LF = 0x0a;
const CR = 0x0d;
/** More than any question and its answer come in; beyond it nobody waits any more. */
const LONGEST = 256;
/** No question waits longer for its answer (common practice, no source). */
const OLDEST_s = 10;

/**
 * What an instrument has said last, as far as a tape must begin with it: of one that is asked, the last question and
 * whatever came after, or all since it was last at rest where its driver can say so; of one that speaks by itself, the
 * line it is in the middle of. Of a connection that has ended: what ended it.
 */
export class InstrumentTail {
  readonly #isStreaming: boolean;
  #chunks: TapeEvent[] = [];
  /** Of a stream: the newest chunk with a line's end in it, whole, and what of that line came before. */
  #newest: TapeEvent[] = [];
  #ends: TapeEvent[] = [];
  /** The driver's timer that ran out last, if nothing was heard since: what is sent next may come of it. */
  #ran: TapeEvent | null = null;
  /** What the driver remembered when it was last at rest; null where it never said. */
  #atRest: GaugeMemory | null = null;

  constructor(isStreaming: boolean) {
    this.#isStreaming = isStreaming;
  }

  /** The connection has ended: what the gauge remembers lies behind these events, not before them. */
  get hasEnded(): boolean {
    return this.#ends.length > 0;
  }

  /** What the station asked and commanded since then is among these events. */
  get hasCalls(): boolean {
    return this.#atRest !== null;
  }

  /** What the driver remembered before these events; null where that is what it remembers now. */
  memory(now_s: number): GaugeMemory | null {
    return this.events(now_s).length > 0 ? this.#atRest : null;
  }

  /** Nothing is under way, so nothing of what was said before is needed. */
  rests(memory: GaugeMemory): void {
    if (this.hasEnded) return;
    this.#chunks = [];
    this.#atRest = memory;
  }

  events(now_s: number): readonly TapeEvent[] {
    if (this.#ends.length > 0)
      return [...(this.#isStreaming ? this.#newest : []), ...this.#chunks, ...this.#ends];
    const [first] = this.#chunks;
    // Whole or not at all: an answer without its question was never asked for.
    return first && first.t_s >= now_s - OLDEST_s ? this.#chunks : [];
  }

  /** @param event of this instrument's cable or of its driver's timers, or a call of the station's */
  add(event: TapeEvent): void {
    switch (event.kind) {
      case "opened":
        this.#chunks = [];
        this.#newest = [];
        this.#ends = [];
        this.#atRest = null;
        return;
      case "lost":
      case "shut":
        this.#ends.push(event);
        return;
      case "sent":
        if (this.#isWhole()) this.#chunks.push(copied(event));
        else if (!this.#isStreaming) this.#chunks = [...(this.#ran ? [this.#ran] : []), copied(event)];
        this.#ran = null;
        return;
      case "ran":
        if (this.#isWhole()) this.#chunks.push(event);
        this.#ran = event;
        return;
      case "called":
        if (this.#isWhole()) this.#chunks.push(event);
        return;
      case "heard":
        this.#ran = null;
        if (this.#isStreaming) this.#heardInStream(event);
        else if (this.#chunks.length > 0 && this.#chunks.length < LONGEST) this.#chunks.push(copied(event));
        return;
    }
  }

  /** Whether everything since the driver was at rest is here; one that never rests any more is taken as one that can't say. */
  #isWhole(): boolean {
    if (this.#chunks.length >= LONGEST) this.#atRest = null;
    return this.#atRest !== null;
  }

  #heardInStream(event: Chunk): void {
    const end = Math.max(event.bytes.lastIndexOf(LF), event.bytes.lastIndexOf(CR)) + 1;
    if (end > 0) {
      this.#newest = [...this.#chunks, copied({ ...event, bytes: event.bytes.subarray(0, end) })];
      this.#chunks = [];
    }
    const rest = event.bytes.subarray(end);
    if (rest.length > 0 && this.#chunks.length < LONGEST)
      this.#chunks.push(copied({ ...event, bytes: rest }));
  }
}

/** The bytes are the transport's to use again. */
function copied(event: Chunk): Chunk {
  return { ...event, bytes: Buffer.from(event.bytes) };
}
