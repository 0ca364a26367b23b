import { commandOnWire, lineWithout } from "../checksum.ts";
import { Conversation } from "../conversation.ts";
import { Exchange } from "../exchange.ts";
import {
  type Clock,
  DriverError,
  type Gauge,
  type GaugeListener,
  type GaugeMemory,
  type Reading,
  type Transport,
} from "../ports.ts";
import type { GaugeProfile } from "../profile.ts";
import { printSeconds } from "../raw-line.ts";
import { pause, wrongInstrument } from "./identify.ts";
import { prepare } from "./prepare.ts";
import { ReplyReader } from "./reply-reader.ts";

export interface AsciiLineGaugeOptions {
  /** The gauge's name in the station file. */
  readonly name: string;
  readonly profile: GaugeProfile;
  readonly transport: Transport;
  readonly clock: Clock;
}

interface Waiter {
  resolve(readings: readonly Reading[]): void;
  reject(error: DriverError): void;
}

/**
 * A gauge that speaks in lines, asked or by itself, as its profile says. Any fault ends the connection: after it
 * nobody knows which line belongs to what, and only connecting anew makes the gauge trustworthy again.
 */
export class AsciiLineGauge implements Gauge {
  readonly name: string;
  readonly channels: readonly string[];
  readonly conversation = new Conversation();
  readonly #options: AsciiLineGaugeOptions;
  readonly #listeners = new Set<GaugeListener>();
  readonly #waiting = new Set<Waiter>();
  #exchange: Exchange | undefined;
  #reader: ReplyReader;
  #identity = "";
  #firstLine = true;
  #cutLine: string | undefined;
  #awaited: RegExp | undefined;
  #lastLine_s = 0;
  #polling: object | undefined;

  constructor(options: AsciiLineGaugeOptions) {
    this.name = options.name;
    this.channels = options.profile.channels.map((channel) => channel.name);
    this.#options = options;
    this.#reader = new ReplyReader(options.name, options.profile);
  }

  get identity(): string {
    return this.#identity;
  }

  async connect(): Promise<void> {
    const closing = this.close();
    const { name, profile, transport, clock } = this.#options;
    const reader = new ReplyReader(name, profile);
    this.#reader = reader;
    this.#identity = "";
    this.#firstLine = true;
    this.#cutLine = undefined;
    await closing;
    const streams = profile.mode.kind === "stream";
    const exchange = await Exchange.open({
      instrument: name,
      transport,
      clock,
      conversation: this.conversation,
      replyWithin_s: profile.replyWithin_s,
      ...(profile.whenSilent && { whenSilent: this.#whenSilent(profile.whenSilent) }),
      ...(profile.echo && { echo: true }),
      ...(profile.skip.length > 0 && {
        skips: (line: string) => profile.skip.some((pattern) => pattern.test(line)),
      }),
      ...(streams && {
        unasked: (line: string, at_s: number) => this.#reader === reader && this.#streamed(line, at_s),
      }),
      ended: (error) => {
        if (this.#reader === reader) this.#ended(error);
      },
    });
    if (this.#reader !== reader) {
      await exchange.close();
      throw new DriverError("PORT_LOST", name, `${name} was closed while it was being connected.`);
    }
    this.#exchange = exchange;
    // What comes before the first question is dropped: a late answer, which would pass for the first reading.
    const listens_s = streams || profile.identity ? 0 : profile.replyWithin_s;
    await pause(clock, Math.max(profile.waitAfterOpen_s, listens_s));
    this.#identity = await this.#prepare(exchange);
    if (exchange.failure) throw exchange.failure;
    this.#lastLine_s = clock.now_s();
    if (profile.mode.kind === "stream") this.#watchForSilence(exchange, profile.mode.staleAfter_s);
  }

  async read(): Promise<readonly Reading[]> {
    const { mode } = this.#options.profile;
    const exchange = this.#usable();
    if (mode.kind === "poll") return this.#poll(exchange, mode.ask);
    return new Promise((resolve, reject) => {
      this.#waiting.add({ resolve, reject });
    });
  }

  /** A gauge that is not connected reports its fault at once. */
  watch(listener: GaugeListener): () => void {
    this.#listeners.add(listener);
    try {
      const exchange = this.#usable();
      const { mode } = this.#options.profile;
      if (mode.kind === "poll" && !this.#polling) this.#keepPolling(exchange, mode.ask, mode.every_s);
    } catch (error) {
      if (error instanceof DriverError) queueMicrotask(() => this.#tell(listener, error));
    }
    return () => {
      this.#listeners.delete(listener);
    };
  }

  /** Watching ends without a fault; a read that still waits is refused. */
  async close(): Promise<void> {
    this.#listeners.clear();
    const closing = this.#exchange?.close();
    this.#exchange = undefined;
    this.#reader = new ReplyReader(this.name, this.#options.profile);
    await closing;
  }

  memory(): GaugeMemory {
    return this.#reader.memory();
  }

  resume(memory: GaugeMemory): void {
    this.#reader.resume(memory);
    this.#firstLine = false;
    this.#cutLine = undefined;
    this.#lastLine_s = this.#options.clock.now_s();
  }

  async #prepare(exchange: Exchange): Promise<string> {
    const { name: instrument, profile, clock } = this.#options;
    const awaiting = (expect: RegExp | undefined) => {
      this.#awaited = expect;
    };
    try {
      return await prepare({ exchange, instrument, profile, clock, awaiting });
    } catch (error) {
      // A silent stranger's only words were taken for the end of a line.
      const words = this.#cutLine;
      const isSilent = error instanceof DriverError && error.code === "REPLY_TIMEOUT";
      if (words === undefined || !isSilent || this.#awaited !== profile.identity?.expect) throw error;
      throw wrongInstrument(this.name, words);
    }
  }

  /** As the exchange needs it, which knows no checksums. */
  #whenSilent({ ask, error }: NonNullable<GaugeProfile["whenSilent"]>) {
    const { checksum } = this.#options.profile;
    const test = (line: string) => {
      const bare = lineWithout(line, checksum);
      return bare.ok && error.test(bare.text);
    };
    return { ask: commandOnWire(ask, checksum), error: { test } };
  }

  #usable(): Exchange {
    const exchange = this.#exchange;
    if (exchange?.failure) throw exchange.failure;
    if (exchange) return exchange;
    throw new DriverError(
      "PORT_LOST",
      this.name,
      `${this.name} is not connected; check its cable and supply.`,
    );
  }

  #ended(error: DriverError): void {
    this.#polling = undefined;
    const listeners = [...this.#listeners];
    const waiting = [...this.#waiting];
    this.#listeners.clear();
    this.#waiting.clear();
    for (const waiter of waiting) waiter.reject(error);
    for (const listener of listeners) listener.fault(error);
  }

  #tell(listener: GaugeListener, error: DriverError): void {
    if (this.#listeners.delete(listener)) listener.fault(error);
  }

  async #poll(exchange: Exchange, ask: string): Promise<readonly Reading[]> {
    const line = await exchange.ask(commandOnWire(ask, this.#options.profile.checksum));
    return this.#interpret(exchange, line, exchange.lastHeard_s);
  }

  #keepPolling(exchange: Exchange, ask: string, every_s: number): void {
    const { clock } = this.#options;
    const loop = {};
    this.#polling = loop;
    const turn = (due_s: number): void => {
      if (this.#polling !== loop) return;
      if (this.#listeners.size === 0) {
        this.#polling = undefined;
        return;
      }
      this.#poll(exchange, ask).then(
        (readings) => {
          for (const listener of [...this.#listeners]) listener.readings(readings);
          // After a slow answer the polls it delayed are left out, not caught up with.
          const next_s = Math.max(due_s + every_s, clock.now_s());
          clock.setTimeout(() => turn(next_s), (next_s - clock.now_s()) * 1000);
        },
        // The exchange has told the listeners.
        () => undefined,
      );
    };
    turn(clock.now_s());
  }

  /** @returns whether the line was part of the stream, rather than an answer */
  #streamed(line: string, at_s: number): boolean {
    const { profile } = this.#options;
    const isFirst = this.#firstLine;
    this.#firstLine = false;
    this.#lastLine_s = at_s;
    const exchange = this.#exchange;
    // We came in at any place of it: even if it fits the pattern, its beginning may be cut off.
    if (isFirst) {
      const bare = lineWithout(line, profile.checksum);
      const isAwaited = bare.ok && (this.#awaited?.test(bare.text) ?? false);
      if (!isAwaited && !this.#reader.matches(line)) this.#cutLine = line;
      return !isAwaited;
    }
    if (this.#cutLine !== undefined && isEndOf(this.#cutLine, line)) this.#cutLine = undefined;
    if (!exchange) return this.#reader.matches(line);
    if (!exchange.idle && !this.#reader.matches(line)) return false;
    try {
      this.#deliver(this.#interpret(exchange, line, at_s));
    } catch (error) {
      if (!(error instanceof DriverError)) throw error;
    }
    return true;
  }

  #deliver(readings: readonly Reading[]): void {
    if (this.#waiting.size > 0) {
      const waiting = [...this.#waiting];
      this.#waiting.clear();
      for (const waiter of waiting) waiter.resolve(readings);
    }
    for (const listener of this.#listeners) listener.readings(readings);
  }

  #interpret(exchange: Exchange, line: string, at_s: number): readonly Reading[] {
    try {
      return this.#reader.read(line, at_s);
    } catch (error) {
      if (error instanceof DriverError) exchange.fail(error);
      throw error;
    }
  }

  #watchForSilence(exchange: Exchange, staleAfter_s: number): void {
    const { clock } = this.#options;
    const left_s = () => this.#lastLine_s + staleAfter_s - clock.now_s();
    const look = () => {
      if (exchange.failure) return;
      if (left_s() > 1e-6) return void clock.setTimeout(look, left_s() * 1000);
      // When the program itself was held up, lines may lie ready unread.
      clock.afterArrivals(() => {
        if (exchange.failure) return;
        if (left_s() > 1e-6) return look();
        const message = `${this.name} sent nothing for ${printSeconds(staleAfter_s)}; check its supply and the cable.`;
        exchange.fail(new DriverError("REPLY_TIMEOUT", this.name, message));
      });
    };
    look();
  }
}

/** Whether a line is the end of one like this, whatever the numbers: somebody's whole words are not. */
function isEndOf(cut: string, line: string): boolean {
  const form = (text: string) => text.replace(/[+-]?\d+/g, "0");
  return form(line).endsWith(form(cut));
}
