import type { Conversation } from "./conversation.ts";
import { type Clock, type Connection, DriverError, type DriverErrorCode, type Transport } from "./ports.ts";
import { printSeconds, quoteRaw } from "./raw-line.ts";

export interface ExchangeOptions {
  readonly instrument: string;
  readonly transport: Transport;
  readonly clock: Clock;
  /** Hears every line as it goes over the cable. */
  readonly conversation: Conversation;
  readonly replyWithin_s: number;
  /** Asked once after a missed answer, just before hanging up: an instrument that can say why it was silent should. */
  readonly whenSilent?: { readonly ask: string; readonly error: Pick<RegExp, "test"> };
  /** Each command comes back as it was sent, before its answer. */
  readonly echo?: boolean;
  /** Says which lines mean nothing, and answer nothing. */
  readonly skips?: (line: string) => boolean;
  /** Sees every line first; true takes it away from whoever waits for an answer. For instruments that stream. */
  readonly unasked?: (line: string, at_s: number) => boolean;
  /** How a line is shown in messages, where it is no text; quoted if not given. */
  readonly show?: (raw: string, direction: "sent" | "heard") => string;
  /** Once, when the connection ended for whatever reason. */
  readonly ended?: (error: DriverError) => void;
}

const REFUSED: Partial<Record<DriverErrorCode, string>> = {
  LINE_TOO_LONG: "line too long, refused",
  REPLY_TIMEOUT: "half a line, refused",
};

interface Question {
  readonly command: string;
  /** Null for a command that has no answer. */
  readonly within_s: number | null;
  readonly resolve: (answer: string) => void;
  readonly reject: (error: DriverError) => void;
}

/** Whoever asks waits for the answer before asking again: so many that wait are a fault of the program's. */
const MOST_WAITING = 64;

/**
 * One question, one answer, one time-out, over one connection. A missed answer ends the connection: coming late
 * it would be taken for the next question's. Questions wait for their turn; when the connection ends, all that
 * wait are told.
 */
export class Exchange {
  readonly #options: ExchangeOptions;
  readonly #queue: Question[] = [];
  #connection: Connection | undefined;
  #current: Question | undefined;
  #timer: unknown;
  #asked = false;
  #echoDue: string | undefined;
  #hasHeard = false;
  #silence: DriverError | undefined;
  #failure: DriverError | undefined;
  #lastSent_s = Number.NEGATIVE_INFINITY;
  #lastHeard_s = Number.NEGATIVE_INFINITY;

  private constructor(options: ExchangeOptions) {
    this.#options = options;
  }

  /** @throws DriverError PORT_MISSING, PORT_BUSY, PORT_LOST */
  static async open(options: ExchangeOptions): Promise<Exchange> {
    const exchange = new Exchange(options);
    const connection = await exchange.#connect();
    exchange.#connection = connection;
    if (!connection.isOpen && !exchange.#failure) {
      const message = `${options.instrument}: ${options.transport.description} went away while it was opened; check its cable and supply.`;
      exchange.fail(new DriverError("PORT_LOST", options.instrument, message));
    }
    if (exchange.#failure) {
      await connection.close();
      throw exchange.#failure;
    }
    return exchange;
  }

  async #connect(): Promise<Connection> {
    const { transport } = this.#options;
    try {
      return await transport.connect({
        line: (text, at_s) => this.#line(text, at_s),
        refused: (raw, error) => this.#refused(raw, error),
        closed: (error) => {
          this.#note(this.#failure ? "cable closed" : `cable closed: ${error.message}`);
          this.fail(error);
        },
      });
    } catch (error) {
      if (error instanceof DriverError) this.#note(`not connected: ${error.message}`);
      throw error;
    }
  }

  /** Why the connection ended; undefined while it is usable. */
  get failure(): DriverError | undefined {
    return this.#failure;
  }

  /** Clock time of the last question sent, for heartbeats. */
  get lastSent_s(): number {
    return this.#lastSent_s;
  }

  /** When the newest line came. */
  get lastHeard_s(): number {
    return this.#lastHeard_s;
  }

  /** Nothing is being asked or waiting to be. */
  get idle(): boolean {
    return !this.#current && this.#queue.length === 0;
  }

  /**
   * @param within_s how long the answer may take, where that is not as usual
   * @throws DriverError REPLY_TIMEOUT, LINE_TOO_LONG, PORT_LOST or what ended the connection before
   */
  ask(command: string, within_s = this.#options.replyWithin_s): Promise<string> {
    return this.#enqueue(command, within_s);
  }

  /**
   * Sends a command that has no answer; whatever comes after it, unasked, ends the connection.
   * @throws DriverError as `ask` does
   */
  async tell(command: string): Promise<void> {
    await this.#enqueue(command, null);
  }

  #enqueue(command: string, within_s: number | null): Promise<string> {
    if (this.#failure) return Promise.reject(this.#failure);
    if (this.#queue.length >= MOST_WAITING) {
      const message = `${this.#options.instrument} is asked faster than it answers, ${MOST_WAITING} questions wait; ask it less often in its profile.`;
      this.fail(this.#error("FLOODED", message));
      return Promise.reject(this.#failure);
    }
    return new Promise((resolve, reject) => {
      this.#queue.push({ command, within_s, resolve, reject });
      if (!this.#current) this.#next();
    });
  }

  /** Ends the connection with this reason; the first reason stays. Called by whoever finds an answer wrong. */
  fail(error: DriverError): void {
    if (this.#failure) return;
    if (error.code === "REPLY_TIMEOUT") this.#note("no answer");
    this.#end(error);
    // A connect that hears nothing tells less than the lines before the fault that made it necessary.
    if (this.#hasHeard) this.#options.conversation.faulted();
  }

  /** Resolves once the port is free again. */
  async close(): Promise<void> {
    const { instrument } = this.#options;
    this.#end(new DriverError("PORT_LOST", instrument, `The connection to ${instrument} was closed.`));
    await this.#connection?.close();
  }

  #end(error: DriverError): void {
    if (this.#failure) return;
    this.#failure = error;
    this.#options.clock.clearTimeout(this.#timer);
    const waiting = this.#current ? [this.#current, ...this.#queue] : [...this.#queue];
    this.#current = undefined;
    this.#queue.length = 0;
    void this.#connection?.close();
    for (const question of waiting) question.reject(error);
    this.#options.ended?.(error);
  }

  #next(): void {
    const question = this.#queue.shift();
    this.#current = question;
    if (!question) return;
    this.#asked = true;
    const { clock } = this.#options;
    const { command, within_s } = question;
    this.#lastSent_s = clock.now_s();
    if (within_s !== null) {
      this.#timer = clock.setTimeout(() => this.#overdue(question, within_s), within_s * 1000);
    }
    this.#send(command);
    if (within_s === null && this.#current === question) {
      question.resolve("");
      this.#next();
    }
  }

  #overdue(question: Question, within_s: number): void {
    // When the program itself was held up, the answer may lie ready unread.
    this.#options.clock.afterArrivals(() => {
      if (this.#current !== question) return;
      const { instrument } = this.#options;
      const message =
        `${instrument} did not answer ${this.#shown(question.command, "sent")} within ` +
        `${printSeconds(within_s)}; check its supply, the cable and the line settings.`;
      this.#hangUpAfterSilence(this.#error("REPLY_TIMEOUT", message));
    });
  }

  #hangUpAfterSilence(silence: DriverError): void {
    const { whenSilent, clock, replyWithin_s } = this.#options;
    if (!whenSilent) {
      this.fail(silence);
      return;
    }
    this.#silence = silence;
    this.#timer = clock.setTimeout(() => clock.afterArrivals(() => this.fail(silence)), replyWithin_s * 1000);
    this.#send(whenSilent.ask);
  }

  #send(command: string): void {
    const { conversation, clock } = this.#options;
    conversation.sent(command, clock.now_s());
    if (this.#options.echo) this.#echoDue = command;
    try {
      this.#connection?.send(command);
    } catch (error) {
      this.fail(error instanceof DriverError ? error : this.#error("PORT_LOST", String(error)));
    }
  }

  #explained(text: string): void {
    // Anything else may be the late answer: not to be trusted any more.
    if (!this.#options.whenSilent?.error.test(text)) return;
    const message =
      `${this.#options.instrument} did not answer ${JSON.stringify(this.#current?.command)}; its error queue begins ` +
      `with ${text}. Check that its profile is the one for this instrument.`;
    this.fail(this.#error("INSTRUMENT_ERROR", message));
  }

  #line(text: string, at_s: number): void {
    this.#hasHeard = true;
    this.#options.conversation.heard(text, at_s);
    if (this.#meansNothing(text)) return;
    this.#lastHeard_s = at_s;
    if (this.#failure || this.#options.unasked?.(text, at_s)) return;
    const question = this.#current;
    if (this.#silence) {
      this.#explained(text);
    } else if (question) {
      this.#options.clock.clearTimeout(this.#timer);
      this.#echoDue = undefined;
      question.resolve(text);
      this.#next();
    } else if (this.#asked) {
      // Question and answer are out of step; what it says from here on can't be matched to what was asked.
      const message = `${this.#options.instrument} sent ${this.#shown(text, "heard")} without being asked; check that its profile is the one for this instrument.`;
      this.fail(this.#error("REPLY_MALFORMED", message));
    }
    // Before the first question: a greeting, or an answer to somebody who has gone.
  }

  #meansNothing(text: string): boolean {
    if (text === this.#echoDue) {
      this.#echoDue = undefined;
      return true;
    }
    return this.#options.skips?.(text) ?? false;
  }

  #refused(raw: string, error: DriverError): void {
    this.#hasHeard = true;
    this.#options.conversation.heard(raw, this.#options.clock.now_s());
    this.#note(REFUSED[error.code] ?? "refused");
    // Noise between questions is dropped with the line; noise in an answer or a stream is not.
    if (this.#current || this.#options.unasked) this.fail(error);
  }

  #shown(raw: string, direction: "sent" | "heard"): string {
    const { show } = this.#options;
    if (show) return show(raw, direction);
    return direction === "sent" ? JSON.stringify(raw) : quoteRaw(raw);
  }

  #note(what: string): void {
    this.#options.conversation.noted(what, this.#options.clock.now_s());
  }

  #error(code: DriverErrorCode, message: string): DriverError {
    return new DriverError(code, this.#options.instrument, message);
  }
}
