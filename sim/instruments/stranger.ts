import { withChecksum } from "../../drivers/checksum.ts";
import type { Clock, FarEnd } from "../../drivers/ports.ts";
import { randomStream } from "../random.ts";
import { misread, type UartSettings } from "../uart.ts";
import type { SimulatedInstrument } from "./plugged-instrument.ts";
import { nr3 } from "./scpi.ts";
import { Sensor } from "./sensor.ts";
import type { StrangerTraits } from "./stranger-traits.ts";

export interface StrangerOptions {
  readonly name: string;
  readonly clock: Clock;
  readonly seed: number;
  readonly traits: StrangerTraits;
  /** True gauge pressure at a time. */
  readonly pressure_Pa: (t_s: number) => number;
}

const LATENCY_s = 0.004;
const MOST_RECEIVED = 500;
/** Beyond this its state is over range. */
const RANGE_Pa = 50_000;

/** A pressure gauge of unknown make, to bring up: what it says follows from its traits. */
export class Stranger implements SimulatedInstrument {
  readonly name: string;
  readonly badDays: readonly string[] = ["unplugged"];
  readonly #options: StrangerOptions;
  readonly #sensor: Sensor;
  readonly #thermometer: Sensor;
  #far: FarEnd | null = null;
  /** How the other end's port is set; as it should be until somebody looks. */
  #heardWith: UartSettings;
  #received = "";
  #isStreaming = false;
  #isTicking = false;
  #isUnplugged = false;
  #count = 0;

  constructor(options: StrangerOptions) {
    const { name, seed, traits } = options;
    this.name = name;
    this.#options = options;
    this.#heardWith = traits.port;
    this.#isStreaming = traits.kind === "stream";
    this.#sensor = new Sensor(
      {
        white: traits.noise_Pa,
        lag_s: traits.lag_s,
        resolution: traits.numbers === "exponent" ? 0.01 : 10 ** -traits.decimals / traits.unit.perPascal,
        zeroError: 1.5,
        slopeError: 0.0005,
      },
      randomStream(seed, `stranger ${name}`),
    );
    this.#thermometer = new Sensor(
      { white: 0.01, lag_s: 5, resolution: 0.01, zeroError: 0.2, slopeError: 0 },
      randomStream(seed, `stranger's temperature ${name}`),
    );
  }

  attach(far: FarEnd): () => void {
    const before = this.#far;
    this.#far = null;
    before?.hangUp();
    if (this.#isUnplugged) {
      far.hangUp();
      return () => {};
    }
    this.#far = far;
    this.#received = "";
    this.#heardWith = this.#options.traits.port;
    far.onBytes((bytes) => {
      if (this.#far === far) this.#take(bytes);
    });
    this.#keepStreaming();
    return () => {
      if (this.#far === far) this.#far = null;
    };
  }

  misbehave(badDay: string | null): void {
    if (badDay !== null && !this.badDays.includes(badDay)) {
      throw new RangeError(`${this.name} has no bad day "${badDay}"; it has: ${this.badDays.join(", ")}.`);
    }
    this.#isUnplugged = badDay === "unplugged";
    if (!this.#isUnplugged) return;
    const far = this.#far;
    this.#far = null;
    far?.hangUp();
  }

  /** The port at the other end is set so: what is not as its own garbles both ways. */
  heardWith(settings: UartSettings): void {
    this.#heardWith = settings;
  }

  /** The port at the other end was found to be set so: another baud rate than its own garbles both ways. */
  heardAt(baud: number): void {
    const { port } = this.#options.traits;
    this.heardWith(baud === port.baud ? port : { baud, dataBits: 8, parity: "none" });
  }

  #take(bytes: string): void {
    const { port, end } = this.#options.traits;
    const read = misread(Buffer.from(bytes, "latin1"), this.#heardWith, port);
    this.#received += Buffer.from(read).toString("latin1");
    // Those that end their lines with LF or both take either.
    const mark = end === "\r" ? "\r" : "\n";
    const commands = this.#received.split(mark);
    this.#received = (commands.pop() ?? "").slice(-MOST_RECEIVED);
    for (const command of commands) this.#obey(command.trim());
  }

  #obey(command: string): void {
    const { traits, clock } = this.#options;
    const { identity, complaint, ask, kind, start } = traits;
    if (command === "") return;
    const answer = (line: () => string | null) => {
      const far = this.#far;
      clock.setTimeout(() => {
        const text = this.#far === far ? line() : null;
        if (text !== null) this.#say(text);
      }, LATENCY_s * 1000);
    };
    if (command === identity?.ask) answer(() => identity.answer);
    else if (kind === "polled" && command === ask) answer(() => this.#reading(clock.now_s()));
    else if (kind === "started" && command === start) {
      this.#isStreaming = true;
      this.#keepStreaming();
    } else if (kind !== "stream") answer(() => complaint);
  }

  #keepStreaming(): void {
    const { clock, traits } = this.#options;
    if (!this.#isStreaming || this.#isTicking) return;
    this.#isTicking = true;
    let next_s = Math.max(clock.now_s(), (Math.floor(clock.now_s() * traits.rate_Hz) + 1) / traits.rate_Hz);
    const tick = () => {
      if (this.#far === null) {
        this.#isTicking = false;
        // One that was set going forgets it with its power, not with its cable.
        return;
      }
      // A real clock's timers come late: whatever is due by now goes out now.
      for (; next_s <= clock.now_s() + 1e-6; next_s += 1 / traits.rate_Hz) this.#say(this.#reading(next_s));
      clock.setTimeout(tick, (next_s - clock.now_s()) * 1000);
    };
    clock.setTimeout(tick, (next_s - clock.now_s()) * 1000);
  }

  #reading(t_s: number): string {
    const { traits, pressure_Pa } = this.#options;
    const { unit, label, separator, count, state, hasTemperature, showsUnit } = traits;
    const shown_Pa = this.#sensor.read(t_s, pressure_Pa(t_s));
    const fields: string[] = [];
    if (count) fields.push(count.label + String(this.#count++ % count.modulus).padStart(count.digits, "0"));
    fields.push(label + this.#written(shown_Pa * unit.perPascal) + (showsUnit ? ` ${unit.text}` : ""));
    if (hasTemperature) fields.push(`T=${this.#thermometer.read(t_s, 24.5).toFixed(2)}`);
    if (state) fields.push(state.label + (Math.abs(shown_Pa) > RANGE_Pa ? state.over : state.good));
    return fields.join(separator);
  }

  #written(value: number): string {
    const { numbers, decimals } = this.#options.traits;
    if (numbers === "exponent") return nr3(value);
    const digits = Math.abs(value).toFixed(decimals);
    const sign = value < 0 ? "-" : "+";
    if (numbers === "signed") return sign + digits;
    if (numbers === "filled") return sign + digits.padStart(decimals + 7, "0");
    const text = (value < 0 ? "-" : "") + digits;
    return numbers === "padded" ? text.padStart(decimals + 8) : text;
  }

  #say(text: string): void {
    const { checksum, end, port } = this.#options.traits;
    const line = checksum ? withChecksum(checksum.beginsAfter + text, checksum) : text;
    const bytes = misread(Buffer.from(line + end, "latin1"), port, this.#heardWith);
    this.#far?.send(Buffer.from(bytes).toString("latin1"));
  }
}

/** What the instrument's manual would say: for the engineer who has tried without. */
export function strangerManual(traits: StrangerTraits): string {
  const { port, end, kind, identity, ask, start, unit, count, state, checksum } = traits;
  const ends = JSON.stringify(end);
  return [
    `Port: ${port.baud} baud, ${port.dataBits} data bits, parity ${port.parity}, 1 stop bit. Lines end with ${ends}.`,
    identity
      ? `Asked ${identity.ask} it says who it is: ${identity.answer}.`
      : "It cannot be asked who it is.",
    kind === "polled"
      ? `Ask ${ask} for a reading.`
      : `It sends ${traits.rate_Hz} readings a second${kind === "started" ? ` once it was sent ${start}` : ""}.`,
    `The value is a gauge pressure in ${unit.text}, negative for suction, typically with ${traits.noise_Pa} Pa of noise.`,
    ...(traits.hasTemperature ? ["T is the temperature of the gauge itself in degC."] : []),
    ...(count ? [`Readings are counted from 0 to ${count.modulus - 1}.`] : []),
    ...(state ? [`The state is ${state.good} when all is well, ${state.over} when it is over range.`] : []),
    ...(checksum
      ? [`Each line ends in a checksum (${checksum.kind}); commands need none.`]
      : ["There is no checksum."]),
  ].join("\n");
}
