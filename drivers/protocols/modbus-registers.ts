import { numberFrom, plannedReads, type RegisterRange, registersOf } from "../modbus-numbers.ts";
import type { ModbusGaugeProfile, ModbusStatus, NumberPlace } from "../modbus-profile.ts";
import { DriverError, type Quality, type Reading } from "../ports.ts";
import { siValue, worse } from "../reading-value.ts";

/** Registers of one answer and when it came. */
export interface ReadRange extends RegisterRange {
  readonly words: readonly number[];
  readonly at_s: number;
}

/** What the registers of one gauge mean. */
export class RegisterReader {
  /** The requests that read all there is to read. */
  readonly ranges: readonly RegisterRange[];
  readonly #instrument: string;
  readonly #profile: ModbusGaugeProfile;

  constructor(instrument: string, profile: ModbusGaugeProfile) {
    this.#instrument = instrument;
    this.#profile = profile;
    const { channels, status, counter } = profile;
    const states = [status, ...channels.map((channel) => channel.status)].filter((own) => own !== undefined);
    const places = [
      ...channels.map(({ place }) => place),
      ...states.map(({ table, address }) => ({ table, address, type: "uint16" as const })),
      ...(counter ? [counter.place] : []),
    ];
    this.ranges = plannedReads(places, profile.readTogether);
  }

  /** The count of measurements; undefined where the instrument has none. */
  count(read: readonly ReadRange[]): number | undefined {
    const { counter } = this.#profile;
    return counter && numberAt(read, counter.place).raw;
  }

  /**
   * One reading per channel, in the profile's order; what is not good is NaN, or an infinity when over range.
   * @throws DriverError REPLY_MALFORMED for a status the profile does not know
   */
  readings(read: readonly ReadRange[]): Reading[] {
    const { channels, status } = this.#profile;
    const common = status ? this.#quality(read, status) : "good";
    const sequence = this.count(read);
    return channels.map((channel) => {
      const { raw, at_s } = numberAt(read, channel.place);
      const own = channel.status ? this.#quality(read, channel.status) : "good";
      const quality = [own, channel.specialValues.get(raw) ?? plainQuality(raw)].reduce(worse, common);
      const reading = { channel: channel.name, t_s: at_s, value: siValue(raw, quality, channel), quality };
      return sequence === undefined ? reading : { ...reading, sequence };
    });
  }

  #quality(read: readonly ReadRange[], { table, address, meaning }: ModbusStatus): Quality {
    const { raw } = numberAt(read, {
      table,
      address,
      type: "uint16",
      lowWordFirst: false,
      lowByteFirst: false,
    });
    if (meaning.kind === "bits") {
      let quality: Quality = "good";
      for (const [bit, means] of meaning.bits) {
        const isSet = ((raw >> bit) & 1) === 1;
        if (means === "good" ? !isSet : isSet) quality = worse(quality, means === "good" ? "invalid" : means);
      }
      return quality;
    }
    const quality = meaning.codes.get(raw);
    if (quality) return quality;
    const known = [...meaning.codes.keys()].join(", ");
    const message = `${this.#instrument} has the status ${raw} in register ${address}, expected one of ${known}; check its profile.`;
    throw new DriverError("REPLY_MALFORMED", this.#instrument, message);
  }
}

/** IEEE 754 has words of its own for what is no number and what is beyond all numbers. */
function plainQuality(raw: number): Quality {
  if (Number.isNaN(raw)) return "invalid";
  return Number.isFinite(raw) ? "good" : "over-range";
}

function numberAt(read: readonly ReadRange[], place: NumberPlace): { raw: number; at_s: number } {
  const { table, address, type } = place;
  const count = registersOf(type);
  for (const range of read) {
    const first = address - range.from;
    if (range.table !== table || first < 0 || first + count > range.words.length) continue;
    return { raw: numberFrom(range.words.slice(first, first + count), place), at_s: range.at_s };
  }
  throw new Error(`No request reads register ${address}.`);
}
