import { Conversation } from "../conversation.ts";
import type { Exchange } from "../exchange.ts";
import { ModbusClient } from "../modbus-client.ts";
import type { ModbusIoBlockProfile } from "../modbus-profile.ts";
import type { ModbusTransport } from "../modbus-transport.ts";
import { showFrames } from "../modbus-words.ts";
import { type Clock, DriverError, type GaugeMemory, type Levels } from "../ports.ts";
import { IoBlock, type IoBlockState, type IoBlockWords, watchdogTripped } from "./io-block.ts";
import { identifyModbus, readNumber } from "./modbus-identify.ts";

export interface ModbusIoBlockOptions {
  /** The block's name in the station file. */
  readonly name: string;
  readonly profile: ModbusIoBlockProfile;
  readonly transport: ModbusTransport;
  readonly clock: Clock;
}

/** An I/O block with coils, inputs and a watchdog that a holding register keeps quiet. */
export class ModbusIoBlock extends IoBlock {
  constructor({ name, profile, transport, clock }: ModbusIoBlockOptions) {
    super({
      ...{ name, transport, clock },
      outputs: profile.outputs,
      waitAfterOpen_s: profile.waitAfterOpen_s,
      replyWithin_s: profile.replyWithin_s,
      pollEvery_s: profile.pollEvery_s,
      beatEvery_s: profile.beatEvery_s,
      conversation: new Conversation(showFrames(profile.modbus.framing)),
      show: showFrames(profile.modbus.framing),
      wordsFor: (exchange) => new ModbusWords(exchange, { name, profile, transport, clock }),
    });
  }
}

class ModbusWords implements IoBlockWords {
  readonly #exchange: Exchange;
  readonly #client: ModbusClient;
  readonly #name: string;
  readonly #profile: ModbusIoBlockProfile;
  readonly #transport: ModbusTransport;
  readonly #clock: Clock;
  /** What was set over this connection; of the other outputs the block itself is asked before each write. */
  #wanted: Levels = {};
  #last: IoBlockState | undefined;
  #lastBeat_s: number;
  #isBeating = false;
  #beats = 0;
  /** That are under way or wait for one that is. */
  #turns = 0;
  /** The end of the line of what is to be said. */
  #tail: Promise<unknown> = Promise.resolve();

  constructor(exchange: Exchange, { name, profile, transport, clock }: ModbusIoBlockOptions) {
    this.#exchange = exchange;
    this.#client = new ModbusClient(exchange, name, profile.modbus.unitId);
    this.#name = name;
    this.#profile = profile;
    this.#transport = transport;
    this.#clock = clock;
    this.#lastBeat_s = clock.now_s();
  }

  get quietenedAt_s(): number {
    return this.#isBeating ? this.#clock.now_s() : this.#lastBeat_s;
  }

  get isAtRest(): boolean {
    return this.#turns === 0 && this.#exchange.idle;
  }

  memory(): GaugeMemory {
    const { transaction } = this.#transport;
    return { transaction, beats: this.#beats, lastBeat_s: this.#lastBeat_s };
  }

  resume({ transaction = 0, beats = 0, lastBeat_s = 0 }: GaugeMemory): void {
    this.#transport.transaction = transaction;
    this.#beats = beats;
    this.#lastBeat_s = lastBeat_s;
  }

  /** Who it is, that its watchdog is set as the profile says, and that it takes beats. */
  async identify(): Promise<string> {
    const { identity, watchdog } = this.#profile;
    const said = await identifyModbus(this.#exchange, this.#client, this.#name, identity);
    const { time } = watchdog;
    if (time) {
      const set = await readNumber(this.#client, time.place);
      if (set !== time.expect) {
        const message = `${this.#name}: its watchdog is set to ${set} in register ${time.place.address}, expected ${time.expect}; outputs must drop by themselves when this computer stops. Set the block's watchdog.`;
        throw this.#ending(new DriverError("INSTRUMENT_ERROR", this.#name, message));
      }
    }
    if ((await this.state()).watchdogTripped) await this.reset();
    // The first may be the number that an earlier connection left there, and then it counts for nothing.
    await this.beat();
    await this.beat();
    return said;
  }

  state(): Promise<IoBlockState> {
    return this.#inTurn(() => this.#readState());
  }

  /**
   * Coils are written as a row, so that all change in one step; those nobody named are written as they were set, or as
   * the block has just said they are.
   */
  set(levels: Levels): Promise<void> {
    return this.#inTurn(async () => {
      const state = await this.#readState();
      if (state.watchdogTripped) throw watchdogTripped(this.#name);
      const wanted = { ...this.#wanted, ...levels };
      try {
        await this.#write({ ...state.outputs, ...wanted });
      } catch (error) {
        const isRefusal = error instanceof DriverError && error.code === "INSTRUMENT_ERROR";
        if (isRefusal && (await this.#readState()).watchdogTripped) throw watchdogTripped(this.#name);
        throw error;
      }
      this.#wanted = wanted;
    });
  }

  /** Goes before whatever waits for its turn: the watchdog does not wait. */
  async beat(): Promise<void> {
    const at_s = this.#clock.now_s();
    this.#isBeating = true;
    this.#beats = (this.#beats % 0xffff) + 1;
    try {
      await this.#client.writeRegister(this.#profile.beatAddress, this.#beats);
    } finally {
      this.#lastBeat_s = at_s;
      this.#isBeating = false;
    }
  }

  reset(): Promise<void> {
    const { table, address, value } = this.#profile.watchdog.reset;
    return this.#inTurn(async () => {
      if (table === "coil") await this.#client.writeCoil(address, value !== 0);
      else await this.#client.writeRegister(address, value);
      this.#wanted = {};
    });
  }

  async #write(levels: Levels): Promise<void> {
    const { outputs, outputsAt } = this.#profile;
    const row = outputs.map((name) => levels[name] === true);
    if (outputsAt.table === "coil") return this.#client.writeCoils(outputsAt.address, row);
    // The register's other bits are left as they are.
    const range = { table: outputsAt.table, from: outputsAt.address, count: 1 };
    const [before = 0] = await this.#client.readRegisters(range);
    const word = row.reduce((bits, level, i) => (level ? bits | (1 << i) : bits & ~(1 << i)), before);
    await this.#client.writeRegister(outputsAt.address, word & 0xffff);
  }

  /** The watchdog is looked at last: outputs that it has dropped meanwhile are not taken for outputs not taken. */
  async #readState(): Promise<IoBlockState> {
    const { outputs, outputsAt, inputs, inputsAt, watchdog } = this.#profile;
    const out = await this.#client.readBitsOf(outputsAt.table, outputsAt.address, outputs.length);
    const { tripped } = watchdog;
    // One question for inputs and watchdog where one follows the other.
    const isBits = inputsAt.table === "discrete_input" || inputsAt.table === "coil";
    const first = Math.min(inputsAt.address, tripped.address);
    const end = Math.max(inputsAt.address + inputs.length, tripped.address + 1);
    let ins: readonly boolean[];
    let isTripped: boolean;
    if (isBits && inputsAt.table === tripped.table && end - first <= inputs.length + 1) {
      const bits = await this.#client.readBitsOf(inputsAt.table, first, end - first);
      ins = bits.slice(inputsAt.address - first, inputsAt.address - first + inputs.length);
      isTripped = bits[tripped.address - first] === true;
    } else {
      ins = await this.#client.readBitsOf(inputsAt.table, inputsAt.address, inputs.length);
      isTripped =
        (await this.#client.readBitsOf(tripped.table, tripped.address, tripped.bit + 1))[tripped.bit] ===
        true;
    }
    if (isTripped) this.#wanted = {};
    const state = { outputs: byName(outputs, out), inputs: byName(inputs, ins), watchdogTripped: isTripped };
    if (this.#last && areSame(this.#last, state)) return this.#last;
    this.#last = state;
    return state;
  }

  /** What takes several questions is not mixed with others: a state must be of one moment. */
  #inTurn<T>(work: () => Promise<T>): Promise<T> {
    this.#turns++;
    const turn = this.#tail.then(work).finally(() => {
      this.#turns--;
    });
    this.#tail = turn.catch(() => undefined);
    return turn;
  }

  #ending(error: DriverError): DriverError {
    this.#exchange.fail(error);
    return error;
  }
}

function byName(names: readonly string[], bits: readonly boolean[]): Levels {
  return Object.fromEntries(names.map((name, i) => [name, bits[i] === true]));
}

function areSame(a: IoBlockState, b: IoBlockState): boolean {
  const isSame = (x: Levels, y: Levels) => Object.keys(y).every((name) => x[name] === y[name]);
  return (
    a.watchdogTripped === b.watchdogTripped && isSame(a.outputs, b.outputs) && isSame(a.inputs, b.inputs)
  );
}
