import { type AsciiIoBlock, OUTPUT_NAMES } from "./ascii-io.ts";
import { LINE_BAD_DAYS } from "./line-instrument.ts";
import {
  DEVICE_FAILURE,
  ILLEGAL_ADDRESS,
  ILLEGAL_VALUE,
  MODBUS_BAD_DAYS,
  ModbusInstrument,
  type ModbusOptions,
  registersAt,
  type Words,
} from "./modbus-instrument.ts";

const RESET_COIL = 8;
const BEAT_REGISTER = 0;
const WATCHDOG_ms = 1000;

/**
 * The I/O block with a Modbus card in place of its serial one. Coils: 0 to 7 the outputs, 8 resets the watchdog.
 * Discrete inputs: 0 guard, 1 start, 2 watchdog tripped. Holding registers: 0 beat, 1 the watchdog's time in ms. Only
 * a beat, another number than the one before, keeps the watchdog quiet; once tripped, outputs are refused.
 */
export class ModbusIo extends ModbusInstrument {
  readonly badDays: readonly string[];
  readonly #block: AsciiIoBlock;
  #beat = 0;

  /** @param block what has the outputs, the inputs and the watchdog; nothing else speaks to it */
  constructor(options: ModbusOptions, block: AsciiIoBlock) {
    super(options);
    this.#block = block;
    this.badDays = [...MODBUS_BAD_DAYS, ...this.#ownDays()];
  }

  protected override get listens(): boolean {
    return this.badDay !== "deaf";
  }

  protected override identification(): readonly [string, string, string] {
    return ["DEMO WORKS", "IO-MB", "1.0"];
  }

  protected override inputRegisters(): Words | null {
    return null;
  }

  protected override holdingRegisters(from: number, count: number): Words | null {
    const registers = new Map([
      [BEAT_REGISTER, this.#beat],
      [1, WATCHDOG_ms],
    ]);
    return registersAt(registers, from, count);
  }

  protected override coils(from: number, count: number): readonly boolean[] | null {
    const levels = [...OUTPUT_NAMES.map((name) => this.#block.outputs[name] === true), false];
    return from + count <= levels.length ? levels.slice(from, from + count) : null;
  }

  protected override discreteInputs(from: number, count: number): readonly boolean[] | null {
    const state = this.#block.obey("GET");
    const levels = [/ guard=1/, / start=1/, / WD=1/].map((pattern) => pattern.test(state));
    return from + count <= levels.length ? levels.slice(from, from + count) : null;
  }

  protected override writeCoils(from: number, levels: readonly boolean[]): number {
    if (from === RESET_COIL && levels.length === 1) {
      if (levels[0]) this.#block.obey("RESET");
      return 0;
    }
    const names = OUTPUT_NAMES.slice(from, from + levels.length);
    if (names.length !== levels.length) return ILLEGAL_ADDRESS;
    const answer = this.#block.obey(
      `SET ${names.map((name, i) => `${name}=${levels[i] ? 1 : 0}`).join(" ")}`,
    );
    return answer === "OK" ? 0 : DEVICE_FAILURE;
  }

  protected override writeRegister(address: number, word: number): number {
    if (address !== BEAT_REGISTER) return address === 1 ? ILLEGAL_VALUE : ILLEGAL_ADDRESS;
    if (word !== this.#beat) this.#block.quieten();
    this.#beat = word;
    return 0;
  }

  protected override dayChanged(badDay: string | null): void {
    this.#block.misbehave(badDay !== null && this.#ownDays().includes(badDay) ? badDay : null);
  }

  /** Days of the block itself and of what hangs on it. */
  #ownDays(): readonly string[] {
    const line: readonly string[] = LINE_BAD_DAYS;
    return this.#block.badDays.filter((day) => !line.includes(day));
  }
}
