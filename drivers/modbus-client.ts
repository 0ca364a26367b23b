import { EventEmitter } from "node:events";
import modbus from "modbus-serial";
import type { Exchange } from "./exchange.ts";
import type { RegisterRange } from "./modbus-numbers.ts";
import type { ModbusTable } from "./modbus-profile.ts";
import { exceptionWords, questionWords } from "./modbus-words.ts";
import { DriverError } from "./ports.ts";

/** An instrument without an end to its identification would be asked for ever. */
const IDENTIFICATION_ANSWERS_MOST = 8;

/**
 * The Modbus library over one connection of ours. It makes and reads the frames; when a question is sent, how long its
 * answer may take and what ends the connection is the exchange's.
 */
export class ModbusClient {
  readonly #exchange: Exchange;
  readonly #instrument: string;
  readonly #unitId: number;
  readonly #port: ExchangePort;
  readonly #library: InstanceType<typeof modbus.default>;

  constructor(exchange: Exchange, instrument: string, unitId: number) {
    this.#exchange = exchange;
    this.#instrument = instrument;
    this.#unitId = unitId;
    this.#port = new ExchangePort(exchange);
    this.#library = new modbus.default(this.#port);
    this.#library.setID(unitId);
    this.#library.open();
  }

  /**
   * @returns registers 0 to 65535
   * @throws DriverError INSTRUMENT_ERROR when the instrument refuses; after all others the connection has ended
   */
  async readRegisters({ table, from, count }: RegisterRange): Promise<readonly number[]> {
    const unit = this.#unitId;
    const { data } = await this.#ask<{ data: number[] }>((next) =>
      table === "holding_register"
        ? this.#library.writeFC3(unit, from, count, next)
        : this.#library.writeFC4(unit, from, count, next),
    );
    if (data.length !== count) throw this.#malformed(`${data.length} registers in answer to ${count}`);
    return data;
  }

  /** @throws DriverError as `readRegisters` does */
  async readBits(table: "coil" | "discrete_input", from: number, count: number): Promise<readonly boolean[]> {
    const unit = this.#unitId;
    const { data } = await this.#ask<{ data: boolean[] }>((next) =>
      table === "coil"
        ? this.#library.writeFC1(unit, from, count, next)
        : this.#library.writeFC2(unit, from, count, next),
    );
    // They come by the eight.
    if (data.length !== 8 * Math.ceil(count / 8)) throw this.#malformed(`bits by the wrong count`);
    return data.slice(0, count);
  }

  /** A bit wherever it is. @throws DriverError as `readRegisters` does */
  async readBitsOf(table: ModbusTable, address: number, count: number): Promise<readonly boolean[]> {
    if (table === "coil" || table === "discrete_input") return this.readBits(table, address, count);
    const [word = 0] = await this.readRegisters({ table, from: address, count: 1 });
    return Array.from({ length: count }, (_, bit) => ((word >> bit) & 1) === 1);
  }

  /** All in one request (function 15). @throws DriverError as `readRegisters` does */
  async writeCoils(from: number, levels: readonly boolean[]): Promise<void> {
    const { address, length } = await this.#ask<{ address: number; length: number }>((next) =>
      this.#library.writeFC15(this.#unitId, from, [...levels], next),
    );
    if (address !== from || length !== levels.length)
      throw this.#malformed("another write than was asked for");
  }

  /** @throws DriverError as `readRegisters` does */
  async writeCoil(at: number, level: boolean): Promise<void> {
    const { address, state } = await this.#ask<{ address: number; state: boolean }>((next) =>
      this.#library.writeFC5(this.#unitId, at, level, next),
    );
    if (address !== at || state !== level) throw this.#malformed("another write than was asked for");
  }

  /** @throws DriverError as `readRegisters` does */
  async writeRegister(at: number, word: number): Promise<void> {
    const { address, value } = await this.#ask<{ address: number; value: number }>((next) =>
      this.#library.writeFC6(this.#unitId, at, word, next),
    );
    if (address !== at || value !== word) throw this.#malformed("another write than was asked for");
  }

  /**
   * Maker, product code and revision by function 43/14.
   * @throws DriverError as `readRegisters` does
   * @see Modbus Application Protocol V1.1b3, 6.21
   */
  async deviceIdentification(): Promise<readonly string[]> {
    let left = IDENTIFICATION_ANSWERS_MOST;
    this.#port.mayGoOn = () => left-- > 0;
    const BASIC = 1;
    const { data } = await this.#ask<{ data: Readonly<Record<number, string>> }>(
      (next) =>
        void this.#library.readDeviceIdentification(BASIC, 0).then(
          (answer) => next(null, answer),
          (error: Error) => next(error, undefined),
        ),
    );
    return [0, 1, 2].map((object) => data[object] ?? "");
  }

  /** Ends the connection: what the instrument says can't be matched to what was asked. */
  #malformed(what: string): DriverError {
    const error = new DriverError(
      "REPLY_MALFORMED",
      this.#instrument,
      `${this.#instrument} sent ${what}; check its profile, the line settings and the cable.`,
    );
    this.#exchange.fail(error);
    return error;
  }

  #ask<T>(send: (next: (error: Error | null, answer: unknown) => void) => void): Promise<T> {
    return new Promise((resolve, reject) => {
      this.#port.onFailure = (error) => reject(this.#explained(error));
      send((error, answer) => {
        if (error) reject(this.#explained(error));
        else resolve(answer as T);
      });
    });
  }

  #explained(error: unknown): DriverError {
    if (error instanceof DriverError) return error;
    const { message: why, modbusCode } = error as Error & { readonly modbusCode?: number };
    if (modbusCode === undefined) return this.#malformed(`what is no answer (${why})`);
    const what = questionWords(this.#port.lastQuestion);
    const message = `${this.#instrument} refused to ${what}: ${exceptionWords(modbusCode)}.`;
    return new ModbusRefusal(this.#instrument, message, modbusCode);
  }
}

/** The instrument has answered, with an exception. */
export class ModbusRefusal extends DriverError {
  /** @see Modbus Application Protocol V1.1b3, 7 */
  readonly exception: number;
  constructor(instrument: string, message: string, exception: number) {
    super("INSTRUMENT_ERROR", instrument, message);
    this.exception = exception;
  }
}

/** More than there can be questions waiting. The library keeps each number's last question. */
const NUMBERS = 256;

/** What the library takes for its serial port. Each question has a number of its own, so that several may wait. */
class ExchangePort extends EventEmitter {
  /** Told when the question that is written next gets no answer. */
  onFailure: (error: unknown) => void = () => undefined;
  /** Whether the library may ask on by itself. */
  mayGoOn: () => boolean = () => false;
  /** The question of the answer handed over last. */
  lastQuestion: Buffer = Buffer.alloc(0);
  // The library's own names.
  _transactionIdWrite = 1;
  _transactionIdRead = 1;
  readonly #exchange: Exchange;
  #isHandingOver = false;

  constructor(exchange: Exchange) {
    super();
    this.#exchange = exchange;
  }

  get isOpen(): boolean {
    return true;
  }

  open(opened: () => void): void {
    opened();
  }

  close(closed: () => void): void {
    closed();
  }

  write(question: Buffer): void {
    const number = this._transactionIdWrite;
    this._transactionIdWrite = (number % NUMBERS) + 1;
    const failed = this.onFailure;
    if (this.#isHandingOver && !this.mayGoOn()) throw new Error("its identification has no end");
    this.#exchange.ask(question.toString("latin1")).then(
      (answer) => {
        this._transactionIdRead = number;
        this.onFailure = failed;
        this.lastQuestion = question;
        this.#isHandingOver = true;
        try {
          this.emit("data", Buffer.from(answer, "latin1"));
        } catch (error) {
          failed(error);
        } finally {
          this.#isHandingOver = false;
        }
      },
      (error: unknown) => failed(error),
    );
  }
}
