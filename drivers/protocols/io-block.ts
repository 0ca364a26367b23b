import type { Conversation } from "../conversation.ts";
import { Exchange } from "../exchange.ts";
import {
  type Clock,
  DriverError,
  type DriverErrorCode,
  type GaugeMemory,
  type Inputs,
  type InputsListener,
  type Levels,
  type Outputs,
  type Transport,
} from "../ports.ts";
import { pause } from "./identify.ts";

/** What an I/O block says of itself. */
export interface IoBlockState {
  readonly outputs: Levels;
  readonly inputs: Levels;
  /** It dropped its outputs because nobody spoke to it, and takes no command until reset. */
  readonly watchdogTripped: boolean;
}

/**
 * How one kind of I/O block is spoken to, over one connection. What the block refuses is thrown as INSTRUMENT_ERROR or
 * `watchdogTripped`; after every other DriverError the connection has ended.
 */
export interface IoBlockWords {
  /** Checks that it is the right block, fit for work. @returns what it said of itself */
  identify(): Promise<string>;
  /** All of one moment: no command of ours comes between. The same object again where nothing has changed. */
  state(): Promise<IoBlockState>;
  /** Sets these outputs in one step and leaves the others. */
  set(levels: Levels): Promise<void>;
  beat(): Promise<void>;
  reset(): Promise<void>;
  /** When the watchdog was last kept quiet; now, where that is just being done. */
  readonly quietenedAt_s: number;
  /** Nothing is under way; absent where everything takes one question, whatever was asked before. */
  readonly isAtRest?: boolean;
  /** What earlier questions have left behind that the next ones depend on. */
  memory?(): GaugeMemory;
  resume?(memory: GaugeMemory): void;
}

export interface IoBlockOptions {
  /** The block's name in the station file. */
  readonly name: string;
  readonly outputs: readonly string[];
  readonly waitAfterOpen_s: number;
  readonly replyWithin_s: number;
  readonly pollEvery_s: number;
  readonly beatEvery_s: number;
  readonly transport: Transport;
  readonly clock: Clock;
  readonly conversation: Conversation;
  readonly show?: (raw: string, direction: "sent" | "heard") => string;
  readonly wordsFor: (exchange: Exchange) => IoBlockWords;
}

/** In a memory, before the name of an input: its level as it was last told. */
const TOLD = "told ";
/** In a memory, before the name of an output: the level that was commanded. */
const COMMANDED = "commanded ";

/** A timer may run out before its time by the clock, which counts finer than timers do. */
const TIMER_EARLY_s = 0.002;

interface Link {
  readonly exchange: Exchange;
  readonly words: IoBlockWords;
}

/**
 * Outputs and inputs over one connection. A heartbeat keeps the block's watchdog quiet while the program lives.
 * What the block itself refuses (INSTRUMENT_ERROR, WATCHDOG_TRIPPED) leaves the connection open, so that safe
 * outputs can still be commanded; everything else ends it, and the block then makes itself safe.
 */
export class IoBlock implements Outputs, Inputs {
  readonly name: string;
  readonly conversation: Conversation;
  readonly #options: IoBlockOptions;
  readonly #listeners = new Set<InputsListener>();
  /** What each listener was told last. */
  readonly #told = new WeakMap<InputsListener, Levels>();
  #link: Link | undefined;
  /** Another one for each connect and each close. */
  #turn: object = {};
  #identity = "";
  /** What was commanded since the connect and must show in every later state. */
  #commanded: Record<string, boolean> = {};
  #polling = false;
  /** Found to show what was commanded, and nothing was commanded since. */
  #checked: IoBlockState | undefined;

  constructor(options: IoBlockOptions) {
    this.name = options.name;
    this.conversation = options.conversation;
    this.#options = options;
  }

  /** What the block said of itself at the last connect. */
  get identity(): string {
    return this.#identity;
  }

  get isAtRest(): boolean | undefined {
    return this.#link?.words.isAtRest;
  }

  memory(): GaugeMemory {
    const memory = this.#link?.words.memory?.();
    if (!memory) return {};
    const [listener] = this.#listeners;
    const told = (listener && this.#told.get(listener)) ?? {};
    return { ...memory, ...remembered(TOLD, told), ...remembered(COMMANDED, this.#commanded) };
  }

  /** Goes on as a block that had this memory: for playing back a conversation. */
  resume(memory: GaugeMemory): void {
    this.#link?.words.resume?.(memory);
    const told = recalled(TOLD, memory);
    if (told) for (const listener of this.#listeners) this.#told.set(listener, told);
    this.#commanded = recalled(COMMANDED, memory) ?? this.#commanded;
  }

  /**
   * Opens a fresh connection and checks the identity. A watchdog that has tripped is reset: the outputs are safe
   * then, and stay so until somebody sets them.
   * @throws DriverError
   */
  async connect(): Promise<void> {
    const closing = this.close();
    const { name, transport, clock, conversation, replyWithin_s, show } = this.#options;
    const turn = {};
    this.#turn = turn;
    await closing;
    const exchange = await Exchange.open({
      instrument: name,
      transport,
      clock,
      conversation,
      replyWithin_s,
      ...(show && { show }),
      ended: (error) => {
        if (this.#turn === turn) this.#faulted(error);
      },
    });
    if (this.#turn !== turn) {
      await exchange.close();
      throw this.#error("PORT_LOST", `${name} was closed while it was being connected.`);
    }
    const words = this.#options.wordsFor(exchange);
    const link = { exchange, words };
    this.#link = link;
    await pause(clock, this.#options.waitAfterOpen_s);
    this.#identity = await words.identify();
    if ((await words.state()).watchdogTripped) await words.reset();
    this.#keepBeating(link);
  }

  /**
   * Sets these outputs in one step and reads them back.
   * @throws DriverError INSTRUMENT_ERROR when the block refuses or does not show what was commanded,
   *   WATCHDOG_TRIPPED, or what ended the connection
   */
  async set(levels: Levels): Promise<void> {
    const { words } = this.#usable();
    const unknown = Object.keys(levels).filter((name) => !this.#options.outputs.includes(name));
    if (unknown.length > 0) {
      throw this.#error(
        "INSTRUMENT_ERROR",
        `${this.name} has no output ${unknown.join(", ")}; correct the station file or the profile of the I/O block.`,
      );
    }
    if (Object.keys(levels).length === 0) return;
    await this.#unlessTripped(words.set(levels));
    // Before any state asked for after this command is looked at: answers come one by one, in the order asked.
    this.#commanded = { ...this.#commanded, ...levels };
    this.#checked = undefined;
    this.#check(await words.state());
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
      const link = this.#usable();
      if (!this.#polling) this.#keepPolling(link);
    } catch (error) {
      if (error instanceof DriverError) queueMicrotask(() => this.#tell(listener, error));
    }
    return () => {
      this.#listeners.delete(listener);
    };
  }

  /** Takes the block back into service after its watchdog tripped; its outputs are safe. @throws DriverError */
  async reset(): Promise<void> {
    await this.#usable().words.reset();
    this.#commanded = {};
  }

  /** Watching ends without a fault; whoever waits for an answer is refused. The outputs are left as they are. */
  async close(): Promise<void> {
    this.#listeners.clear();
    const closing = this.#link?.exchange.close();
    this.#link = undefined;
    this.#turn = {};
    this.#commanded = {};
    this.#polling = false;
    await closing;
  }

  #usable(): Link {
    const link = this.#link;
    if (link?.exchange.failure) throw link.exchange.failure;
    if (link) return link;
    throw this.#error("PORT_LOST", `${this.name} is not connected; check its cable and supply.`);
  }

  /** A block whose watchdog has tripped no longer shows what was commanded. */
  async #unlessTripped(command: Promise<void>): Promise<void> {
    try {
      await command;
    } catch (error) {
      if (error instanceof DriverError && error.code === "WATCHDOG_TRIPPED") this.#commanded = {};
      throw error;
    }
  }

  async #readInputs({ words }: Link): Promise<Levels> {
    const state = await words.state();
    this.#check(state);
    return state.inputs;
  }

  #check(state: IoBlockState): void {
    if (state === this.#checked) return;
    if (state.watchdogTripped) {
      this.#commanded = {};
      throw watchdogTripped(this.name);
    }
    const refused = Object.entries(this.#commanded).filter(([name, level]) => state.outputs[name] !== level);
    if (refused.length === 0) {
      this.#checked = state;
      return;
    }
    const list = refused.map(([name, level]) => `${name} should be ${level ? "on" : "off"}`).join(", ");
    const message = `${this.name}: output command not taken: ${list}; check the block and its supply.`;
    throw this.#error("INSTRUMENT_ERROR", message);
  }

  #keepPolling(link: Link): void {
    const { clock, pollEvery_s } = this.#options;
    this.#polling = true;
    const turn = async (due_s: number): Promise<void> => {
      if (this.#link !== link) return;
      if (this.#listeners.size === 0 || link.exchange.failure) {
        this.#polling = false;
        return;
      }
      try {
        const levels = await this.#readInputs(link);
        if (this.#link !== link) return;
        this.#tellLevels(levels);
      } catch (error) {
        if (!(error instanceof DriverError)) throw error;
        if (this.#link === link) this.#faulted(error);
      }
      const next_s = Math.max(due_s + pollEvery_s, clock.now_s());
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

  /** A beat is sent only when nothing else has kept the watchdog quiet. */
  #keepBeating({ exchange, words }: Link): void {
    const { clock, beatEvery_s } = this.#options;
    const look = (): void => {
      if (exchange.failure) return;
      const quiet_s = clock.now_s() - words.quietenedAt_s;
      const isDue = quiet_s >= beatEvery_s - TIMER_EARLY_s;
      // A failed beat ends the connection, which tells whoever watches or asks next.
      if (isDue) words.beat().catch(() => undefined);
      const wait_s = isDue ? beatEvery_s : beatEvery_s - quiet_s;
      clock.setTimeout(look, Math.max(wait_s, beatEvery_s / 10) * 1000);
    };
    look();
  }

  #faulted(error: DriverError): void {
    for (const listener of [...this.#listeners]) this.#tell(listener, error);
  }

  #tell(listener: InputsListener, error: DriverError): void {
    if (this.#listeners.delete(listener)) listener.fault(error);
  }

  #error(code: DriverErrorCode, message: string): DriverError {
    return new DriverError(code, this.name, message);
  }
}

export function watchdogTripped(instrument: string): DriverError {
  const message = `${instrument}: its watchdog tripped and dropped the outputs, because it heard nothing for too long; check its cable, and that this computer is not overloaded.`;
  return new DriverError("WATCHDOG_TRIPPED", instrument, message);
}

function remembered(what: string, levels: Levels): GaugeMemory {
  return Object.fromEntries(Object.entries(levels).map(([name, level]) => [what + name, level ? 1 : 0]));
}

/** @returns null where the memory has none of them */
function recalled(what: string, memory: GaugeMemory): Record<string, boolean> | null {
  const found = Object.entries(memory).filter(([name]) => name.startsWith(what));
  if (found.length === 0) return null;
  return Object.fromEntries(found.map(([name, level]) => [name.slice(what.length), level === 1]));
}

function areEqual(a: Levels, b: Levels): boolean {
  return a === b || Object.keys(b).every((name) => a[name] === b[name]);
}
