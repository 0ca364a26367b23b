import { Conversation } from "../conversation.ts";
import { Exchange } from "../exchange.ts";
import {
  type Clock,
  DriverError,
  type DriverErrorCode,
  type Inputs,
  type InputsListener,
  type Levels,
  type Outputs,
  type Transport,
} from "../ports.ts";
import type { IoBlockProfile } from "../profile.ts";
import { quoteRaw } from "../raw-line.ts";
import { identify, pause } from "./identify.ts";
import { type IoBlockState, parseState, setCommand } from "./io-block-lines.ts";

export interface AsciiIoBlockOptions {
  /** The block's name in the station file. */
  readonly name: string;
  readonly profile: IoBlockProfile;
  readonly transport: Transport;
  readonly clock: Clock;
}

/**
 * Outputs and inputs over one connection. A heartbeat keeps the block's watchdog quiet while the program lives.
 * What the block itself refuses (INSTRUMENT_ERROR, WATCHDOG_TRIPPED) leaves the connection open, so that safe
 * outputs can still be commanded; everything else ends it, and the block then makes itself safe.
 */
export class AsciiIoBlock implements Outputs, Inputs {
  readonly name: string;
  readonly conversation = new Conversation();
  readonly #options: AsciiIoBlockOptions;
  readonly #listeners = new Set<InputsListener>();
  /** What each listener was told last. */
  readonly #told = new WeakMap<InputsListener, Levels>();
  #exchange: Exchange | undefined;
  #link: object = {};
  #identity = "";
  /** What was commanded since the connect and must show in every later state. */
  #commanded: Record<string, boolean> = {};
  #polling = false;
  /** The last answer to GET and what it says: most answers are like the one before. */
  #last: { readonly answer: string; readonly state: IoBlockState } | undefined;
  /** Found to show what was commanded, and nothing was commanded since. */
  #checked: IoBlockState | undefined;

  constructor(options: AsciiIoBlockOptions) {
    this.name = options.name;
    this.#options = options;
  }

  /** What the block said of itself at the last connect. */
  get identity(): string {
    return this.#identity;
  }

  /**
   * Opens a fresh connection and checks the identity. A watchdog that has tripped is reset: the outputs are safe
   * then, and stay so until somebody sets them.
   * @throws DriverError
   */
  async connect(): Promise<void> {
    const closing = this.close();
    const { name, profile, transport, clock } = this.#options;
    const link = {};
    this.#link = link;
    await closing;
    const exchange = await Exchange.open({
      instrument: name,
      transport,
      clock,
      conversation: this.conversation,
      replyWithin_s: profile.replyWithin_s,
      ended: (error) => {
        if (this.#link === link) this.#faulted(error);
      },
    });
    if (this.#link !== link) {
      await exchange.close();
      throw this.#error("PORT_LOST", `${name} was closed while it was being connected.`);
    }
    this.#exchange = exchange;
    await pause(clock, profile.waitAfterOpen_s);
    this.#identity = await identify(exchange, name, profile.identity);
    const state = await this.#getState(exchange);
    if (state.watchdogTripped) await this.#command(exchange, "RESET");
    this.#keepBeating(exchange);
  }

  /**
   * Sets these outputs in one step and reads them back.
   * @throws DriverError INSTRUMENT_ERROR when the block refuses or does not show what was commanded,
   *   WATCHDOG_TRIPPED, or what ended the connection
   */
  async set(levels: Levels): Promise<void> {
    const exchange = this.#usable();
    const unknown = Object.keys(levels).filter((name) => !this.#options.profile.outputs.includes(name));
    if (unknown.length > 0) {
      throw this.#error(
        "INSTRUMENT_ERROR",
        `${this.name} has no output ${unknown.join(", ")}; correct the station file or the profile of the I/O block.`,
      );
    }
    if (Object.keys(levels).length === 0) return;
    await this.#command(exchange, setCommand(levels));
    // Before any state asked for after this command is looked at: answers come one by one, in the order asked.
    this.#commanded = { ...this.#commanded, ...levels };
    this.#checked = undefined;
    this.#check(await this.#getState(exchange));
  }

  /** @returns the inputs of a state asked for now */
  async read(): Promise<Levels> {
    return this.#readInputs(this.#usable());
  }

  /** Tells the levels at once and at every change. A block that is not connected reports its fault at once. */
  watch(listener: InputsListener): () => void {
    this.#listeners.add(listener);
    this.#told.delete(listener);
    try {
      const exchange = this.#usable();
      if (!this.#polling) this.#keepPolling(exchange);
    } catch (error) {
      if (error instanceof DriverError) queueMicrotask(() => this.#tell(listener, error));
    }
    return () => {
      this.#listeners.delete(listener);
    };
  }

  /** Takes the block back into service after its watchdog tripped; its outputs are safe. @throws DriverError */
  async reset(): Promise<void> {
    await this.#command(this.#usable(), "RESET");
    this.#commanded = {};
  }

  /** Watching ends without a fault; whoever waits for an answer is refused. The outputs are left as they are. */
  async close(): Promise<void> {
    this.#listeners.clear();
    const closing = this.#exchange?.close();
    this.#exchange = undefined;
    this.#link = {};
    this.#commanded = {};
    this.#polling = false;
    await closing;
  }

  #usable(): Exchange {
    const exchange = this.#exchange;
    if (exchange?.failure) throw exchange.failure;
    if (exchange) return exchange;
    throw this.#error("PORT_LOST", `${this.name} is not connected; check its cable and supply.`);
  }

  async #command(exchange: Exchange, command: string): Promise<void> {
    const answer = await exchange.ask(command);
    if (answer === "OK") return;
    if (answer === "ERR WATCHDOG") throw this.#watchdogTripped();
    if (/^ERR \w+$/.test(answer)) {
      throw this.#error(
        "INSTRUMENT_ERROR",
        `${this.name} answered ${quoteRaw(answer)} to ${JSON.stringify(command)}; check that its profile is the one for this I/O block.`,
      );
    }
    throw this.#outOfStep(exchange, command, answer);
  }

  async #getState(exchange: Exchange): Promise<IoBlockState> {
    const { outputs, inputs } = this.#options.profile;
    const answer = await exchange.ask("GET");
    if (answer === this.#last?.answer) return this.#last.state;
    const state = parseState(answer, outputs, inputs);
    if (!state) throw this.#outOfStep(exchange, "GET", answer);
    this.#last = { answer, state };
    return state;
  }

  async #readInputs(exchange: Exchange): Promise<Levels> {
    const state = await this.#getState(exchange);
    this.#check(state);
    return state.inputs;
  }

  #check(state: IoBlockState): void {
    if (state === this.#checked) return;
    if (state.watchdogTripped) throw this.#watchdogTripped();
    const refused = Object.entries(this.#commanded).filter(([name, level]) => state.outputs[name] !== level);
    if (refused.length === 0) {
      this.#checked = state;
      return;
    }
    const list = refused.map(([name, level]) => `${name} should be ${level ? "on" : "off"}`).join(", ");
    const message = `${this.name}: output command not taken: ${list}; check the block and its supply.`;
    throw this.#error("INSTRUMENT_ERROR", message);
  }

  #keepPolling(exchange: Exchange): void {
    const { clock, profile } = this.#options;
    const link = this.#link;
    this.#polling = true;
    const turn = async (due_s: number): Promise<void> => {
      if (this.#link !== link) return;
      if (this.#listeners.size === 0 || exchange.failure) {
        this.#polling = false;
        return;
      }
      try {
        const levels = await this.#readInputs(exchange);
        if (this.#link !== link) return;
        this.#tellLevels(levels);
      } catch (error) {
        if (!(error instanceof DriverError)) throw error;
        if (this.#link === link) this.#faulted(error);
      }
      const next_s = Math.max(due_s + profile.pollEvery_s, clock.now_s());
      clock.setTimeout(() => void turn(next_s), (next_s - clock.now_s()) * 1000);
    };
    void turn(clock.now_s());
  }

  #tellLevels(levels: Levels): void {
    for (const listener of [...this.#listeners]) {
      const told = this.#told.get(listener);
      if (told && areEqual(told, levels)) continue;
      this.#told.set(listener, levels);
      listener.levels(levels);
    }
  }

  /** Any command quietens the watchdog; a beat is sent only when there was none. */
  #keepBeating(exchange: Exchange): void {
    const { clock, profile } = this.#options;
    const look = (): void => {
      if (exchange.failure) return;
      const quiet_s = clock.now_s() - exchange.lastSent_s;
      if (exchange.idle && quiet_s >= profile.beatEvery_s - 1e-6) {
        // A failed beat ends the connection, which tells whoever watches or asks next.
        this.#command(exchange, "BEAT").catch(() => undefined);
      }
      const wait_s = exchange.idle ? profile.beatEvery_s - quiet_s : profile.beatEvery_s;
      clock.setTimeout(look, Math.max(wait_s, profile.beatEvery_s / 10) * 1000);
    };
    look();
  }

  #faulted(error: DriverError): void {
    for (const listener of [...this.#listeners]) this.#tell(listener, error);
  }

  #tell(listener: InputsListener, error: DriverError): void {
    if (this.#listeners.delete(listener)) listener.fault(error);
  }

  #outOfStep(exchange: Exchange, command: string, answer: string): DriverError {
    const message = `${this.name} answered ${quoteRaw(answer)} to ${JSON.stringify(command)}, which its profile does not expect; check the cable and the line settings.`;
    const error = this.#error("REPLY_MALFORMED", message);
    exchange.fail(error);
    return error;
  }

  #watchdogTripped(): DriverError {
    this.#commanded = {};
    const message = `${this.name}: its watchdog tripped and dropped the outputs, because it heard nothing for too long; check its cable, and that this computer is not overloaded.`;
    return this.#error("WATCHDOG_TRIPPED", message);
  }

  #error(code: DriverErrorCode, message: string): DriverError {
    return new DriverError(code, this.name, message);
  }
}

function areEqual(a: Levels, b: Levels): boolean {
  return a === b || Object.keys(b).every((name) => a[name] === b[name]);
}
