import {
  MODBUS_BAD_DAYS,
  ModbusInstrument,
  type ModbusOptions,
  registersAt,
  type Words,
  wordsOfText,
} from "./modbus-instrument.ts";

/** What a sensor shows at a time, in the unit its registers are in. */
export type Shown = (t_s: number) => number;

/** High word first. */
function longWords(value: number): Words {
  return [(value >>> 16) & 0xffff, value & 0xffff];
}

function floatWords(value: number): Words {
  const bytes = Buffer.alloc(4);
  bytes.writeFloatBE(value);
  return [bytes.readUInt16BE(0), bytes.readUInt16BE(2)];
}

function table(...runs: readonly (readonly [from: number, words: Words])[]): ReadonlyMap<number, number> {
  return new Map(runs.flatMap(([from, words]) => words.map((word, i) => [from + i, word] as const)));
}

/** Input registers come from what is shown; holding registers never change. Some days the shown stands still. */
abstract class ShowingInstrument extends ModbusInstrument {
  readonly badDays: readonly string[] = [...MODBUS_BAD_DAYS, "stuck", "hung", "over_range", "sensor_fault"];
  readonly #holding: ReadonlyMap<number, number>;
  #stuck: ReadonlyMap<number, number> | null = null;

  constructor(options: ModbusOptions, holding: ReadonlyMap<number, number> = new Map()) {
    super(options);
    this.#holding = holding;
  }

  protected abstract shown(t_s: number): ReadonlyMap<number, number>;

  /** What goes on even while what it measures stands still. */
  protected alive(_t_s: number): ReadonlyMap<number, number> {
    return new Map();
  }

  protected override inputRegisters(from: number, count: number): Words | null {
    const t_s = this.clock.now_s();
    const stuck = this.#stuck;
    return registersAt(stuck ? new Map([...stuck, ...this.alive(t_s)]) : this.shown(t_s), from, count);
  }

  protected override holdingRegisters(from: number, count: number): Words | null {
    return registersAt(this.#holding, from, count);
  }

  protected override dayChanged(badDay: string | null): void {
    this.#stuck = badDay === "stuck" || badDay === "hung" ? this.shown(this.clock.now_s()) : null;
  }
}

const MEASUREMENTS_PER_s = 100;
const COUNT_AT = 3;

function countAt(t_s: number): number {
  return Math.floor(t_s * MEASUREMENTS_PER_s + 1e-6) & 0xffff;
}

const PRESSURE_NAME = "PRESSURE-MB";
const NAME_AT = 100;
const NAME_REGISTERS = 10;

/**
 * A pressure transmitter. Input registers: 0 pressure (float, Pa, high word first), 2 state (bit 0 sensor fault, bit 1
 * over range), 3 count of its measurements, a hundred a second. Holding registers from 100: its name, 20 characters.
 */
export class ModbusPressure extends ShowingInstrument {
  readonly #pressure_Pa: Shown;
  #isMisnamed = false;

  constructor(options: ModbusOptions, pressure_Pa: Shown) {
    super(options, table([NAME_AT, wordsOfText(`${PRESSURE_NAME};SN0001`, NAME_REGISTERS)]));
    this.#pressure_Pa = pressure_Pa;
  }

  protected override identification(): readonly [string, string, string] {
    return ["DEMO WORKS", PRESSURE_NAME, "1.0"];
  }

  protected override shown(t_s: number): ReadonlyMap<number, number> {
    const isOver = this.badDay === "over_range";
    const hasFault = this.badDay === "sensor_fault";
    const pressure = this.#pressure_Pa(t_s);
    const state = (hasFault ? 1 : 0) | (isOver ? 2 : 0);
    const words = [...floatWords(hasFault ? Number.NaN : pressure), state];
    return new Map([...table([0, words]), ...table([COUNT_AT, [countAt(t_s)]])]);
  }

  /** On a `stuck` day its sensor stands still and it counts on; on a `hung` day it does not even count. */
  protected override alive(t_s: number): ReadonlyMap<number, number> {
    return this.badDay === "hung" ? new Map() : table([COUNT_AT, [countAt(t_s)]]);
  }

  protected override holdingRegisters(from: number, count: number): Words | null {
    const words = super.holdingRegisters(from, count);
    return this.#isMisnamed ? (words?.map(() => 0x3f3f) ?? null) : words;
  }

  protected override dayChanged(badDay: string | null): void {
    super.dayChanged(badDay);
    this.#isMisnamed = badDay === "wrong_identity";
  }
}

const TOO_MUCH = 0xffff;
const TOO_MUCH_LONG = 0xffff_ffff;

/**
 * A power meter. Input registers: 10 power (0.1 W, 32 bits, low word first), 12 voltage (0.01 V), 13 state (0 good,
 * 1 over range, 2 sensor fault). Values it can't show are all ones.
 */
export class ModbusPower extends ShowingInstrument {
  readonly #power_W: Shown;
  readonly #voltage_V: Shown;

  constructor(options: ModbusOptions, power_W: Shown, voltage_V: Shown) {
    super(options);
    this.#power_W = power_W;
    this.#voltage_V = voltage_V;
  }

  protected override identification(): readonly [string, string, string] {
    return ["DEMO WORKS", "POWER-MB", "1.0"];
  }

  protected override shown(t_s: number): ReadonlyMap<number, number> {
    const isOver = this.badDay === "over_range";
    const power = isOver ? TOO_MUCH_LONG : Math.max(0, Math.round(this.#power_W(t_s) * 10));
    const voltage = isOver ? TOO_MUCH : Math.max(0, Math.round(this.#voltage_V(t_s) * 100));
    const [high = 0, low = 0] = longWords(power);
    const state = isOver ? 1 : this.badDay === "sensor_fault" ? 2 : 0;
    return table([10, [low, high, voltage, state]]);
  }
}

const AMBIENT_KIND = 7301;
const NO_TEMPERATURE = 0x8000;

/**
 * The air of the room. Input registers: 0 temperature (0.01 degC, signed), 1 pressure (Pa, 32 bits, high word first),
 * 3 relative humidity (0.1 %). Holding register 0: what kind of instrument it is, 7301.
 */
export class ModbusAmbient extends ShowingInstrument {
  readonly #room: {
    readonly temperature_C: Shown;
    readonly pressure_Pa: Shown;
    readonly humidity_pct: Shown;
  };
  #kind = AMBIENT_KIND;

  constructor(
    options: ModbusOptions,
    room: { readonly temperature_C: Shown; readonly pressure_Pa: Shown; readonly humidity_pct: Shown },
  ) {
    super(options);
    this.#room = room;
  }

  protected override identification(): readonly [string, string, string] {
    return ["DEMO WORKS", "AMBIENT-MB", "1.0"];
  }

  protected override holdingRegisters(from: number, count: number): Words | null {
    return registersAt(table([0, [this.#kind]]), from, count);
  }

  protected override shown(t_s: number): ReadonlyMap<number, number> {
    const { temperature_C, pressure_Pa, humidity_pct } = this.#room;
    const temperature = Math.round(temperature_C(t_s) * 100) & 0xffff;
    const words = [
      temperature,
      ...longWords(Math.round(pressure_Pa(t_s))),
      Math.round(humidity_pct(t_s) * 10),
    ];
    if (this.badDay === "sensor_fault") words[0] = NO_TEMPERATURE;
    if (this.badDay === "over_range") words[3] = TOO_MUCH;
    return table([0, words]);
  }

  protected override dayChanged(badDay: string | null): void {
    super.dayChanged(badDay);
    this.#kind = badDay === "wrong_identity" ? 1 : AMBIENT_KIND;
  }
}
