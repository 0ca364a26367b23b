import { ReadlineParser } from "@serialport/parser-readline";
import { encodingDoubt } from "./encoding-doubt.ts";
import { type Clock, DriverError } from "./ports.ts";
import { printSeconds, quoteRaw } from "./raw-line.ts";

/** How bytes become lines. */
export interface Framing {
  /** What each line ends with. On receipt LF and CRLF are taken alike; CR means CR alone. */
  readonly terminator: "LF" | "CR" | "CRLF";
  /** What is sent ends with this instead. */
  readonly sendTerminator?: "LF" | "CR" | "CRLF";
  /** A longer line is refused and skipped up to its end. Bytes, terminator not counted. */
  readonly longest_bytes: number;
  /** The start of a line with no end to it is dropped after this much silence. */
  readonly idleRest_s: number;
  /** For instruments that speak only when asked: what came before a question cannot be part of its answer. */
  readonly dropRestBeforeSend: boolean;
}

const TERMINATORS = { LF: "\n", CR: "\r", CRLF: "\r\n" } as const;

/** The bytes of one line to send. */
export function frame(text: string, framing: Framing): Buffer {
  return Buffer.from(text + TERMINATORS[framing.sendTerminator ?? framing.terminator], "latin1");
}

export interface FramerHandlers {
  line(text: string, at_s: number): void;
  refused(raw: string, error: DriverError): void;
}

/**
 * Splits bytes into lines, latin1 so that every byte survives. The parser has neither a length limit nor a time
 * limit and would glue rubbish to the next good line, so both are kept here; a parser whose rest must be dropped
 * is never fed again and a fresh one takes its place.
 */
export class LineFramer {
  readonly #instrument: string;
  readonly #clock: Clock;
  readonly #framing: Framing;
  readonly #handlers: FramerHandlers;
  readonly #end: number;
  readonly #stripsCr: boolean;
  #parser: ReadlineParser;
  #rest_bytes = 0;
  #skipping = false;
  #closed = false;
  #lastByte_s = 0;
  #idleTimer: unknown;

  constructor(instrument: string, clock: Clock, framing: Framing, handlers: FramerHandlers) {
    this.#instrument = instrument;
    this.#clock = clock;
    this.#framing = framing;
    this.#handlers = handlers;
    this.#end = framing.terminator === "CR" ? 0x0d : 0x0a;
    this.#stripsCr = framing.terminator !== "CR";
    this.#parser = this.#freshParser();
  }

  /** @param at_s when the bytes came */
  push(chunk: Buffer, at_s: number): void {
    if (this.#closed || chunk.length === 0) return;
    this.#lastByte_s = at_s;
    const { longest_bytes } = this.#framing;
    if (this.#isWholeLine(chunk)) {
      this.#deliver(chunk.toString("latin1", 0, chunk.length - 1));
      return;
    }
    if (!this.#skipping && this.#rest_bytes + chunk.length <= longest_bytes) {
      const lastEnd = chunk.lastIndexOf(this.#end);
      this.#rest_bytes = lastEnd < 0 ? this.#rest_bytes + chunk.length : chunk.length - 1 - lastEnd;
      this.#parser.write(chunk);
    } else {
      this.#pushByLine(chunk);
    }
    if (this.#rest_bytes > 0 && this.#idleTimer === undefined) this.#awaitRest(this.#framing.idleRest_s);
  }

  /** Forgets the start of a line, if there is one. */
  dropRest(): void {
    this.#skipping = false;
    if (this.#rest_bytes === 0) return;
    this.#rest_bytes = 0;
    this.#parser = this.#freshParser();
  }

  close(): void {
    this.#closed = true;
    this.#clock.clearTimeout(this.#idleTimer);
  }

  #freshParser(): ReadlineParser {
    const parser = new ReadlineParser({ delimiter: Buffer.of(this.#end), encoding: "latin1" });
    parser.on("data", (text: string) => this.#deliver(text));
    return parser;
  }

  #deliver(text: string): void {
    if (this.#closed) return;
    const line = this.#stripsCr && text.endsWith("\r") ? text.slice(0, -1) : text;
    if (line !== "") this.#handlers.line(line, this.#lastByte_s);
  }

  /** One line and nothing else, and nothing before it that waits for its end: there is nothing to join. */
  #isWholeLine(chunk: Buffer): boolean {
    return (
      !this.#skipping &&
      this.#rest_bytes === 0 &&
      chunk.length <= this.#framing.longest_bytes &&
      chunk.indexOf(this.#end) === chunk.length - 1
    );
  }

  #pushByLine(chunk: Buffer): void {
    const { longest_bytes } = this.#framing;
    for (let from = 0; from < chunk.length && !this.#closed; ) {
      const end = chunk.indexOf(this.#end, from);
      const to = end < 0 ? chunk.length : end;
      if (this.#skipping) {
        if (end >= 0) this.#skipping = false;
      } else if (this.#rest_bytes + to - from > longest_bytes + this.#notCounted(chunk, from, end)) {
        const raw = this.#parser.buffer.toString("latin1") + chunk.toString("latin1", from, to);
        this.dropRest();
        this.#skipping = end < 0;
        this.#handlers.refused(raw, this.#error("LINE_TOO_LONG", this.#tooLong(raw)));
      } else {
        this.#parser.write(chunk.subarray(from, end < 0 ? to : to + 1));
        this.#rest_bytes = end < 0 ? this.#rest_bytes + to - from : 0;
      }
      from = to + 1;
    }
  }

  /** 1 for a CR that belongs, or may yet belong, to the line's end. */
  #notCounted(chunk: Buffer, from: number, end: number): 0 | 1 {
    if (!this.#stripsCr) return 0;
    const last = end > from ? chunk[end - 1] : this.#parser.buffer.at(-1);
    return end < 0 || last === 0x0d ? 1 : 0;
  }

  #tooLong(raw: string): string {
    return (
      `${this.#instrument} sent a line longer than ${this.#framing.longest_bytes} bytes, beginning ` +
      `${quoteRaw(raw)}; ${encodingDoubt(raw) ?? "check the baud rate and the line ending"}.`
    );
  }

  /** One timer at a time, looked at again when it fires: far cheaper than a new one for each chunk. */
  #awaitRest(delay_s: number): void {
    this.#idleTimer = this.#clock.setTimeout(() => {
      this.#idleTimer = undefined;
      if (this.#closed || this.#rest_bytes === 0) return;
      const left_s = this.#lastByte_s + this.#framing.idleRest_s - this.#clock.now_s();
      if (left_s > 1e-6) return this.#awaitRest(left_s);
      const raw = this.#parser.buffer.toString("latin1");
      this.dropRest();
      const silence = printSeconds(this.#framing.idleRest_s);
      const message = `${this.#instrument} sent half a line, ${quoteRaw(raw)}, and then nothing for ${silence}; ${encodingDoubt(raw) ?? "check its cable and the line settings"}.`;
      this.#handlers.refused(raw, this.#error("REPLY_TIMEOUT", message));
    }, delay_s * 1000);
  }

  #error(code: "LINE_TOO_LONG" | "REPLY_TIMEOUT", message: string): DriverError {
    return new DriverError(code, this.#instrument, message);
  }
}
