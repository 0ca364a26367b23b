import { toSI } from "../../limits/quantity.ts";
import { lineWithout } from "../checksum.ts";
import { parseNrf } from "../nrf.ts";
import { DriverError, type DriverErrorCode, type GaugeMemory, type Quality, type Reading } from "../ports.ts";
import type { GaugeProfile } from "../profile.ts";
import { quoteRaw } from "../raw-line.ts";
import { siValue, worse } from "../reading-value.ts";
import { malformed } from "./identify.ts";

/** Skew a gauge's own clock may have against ours; common practice for crystals, with a margin, no source. */
const CLOCK_SKEW = 500e-6;
/** Between two lines its time can't pass by this much more than ours, but for a clock that was set. */
const CLOCK_STEP_s = 1;

/**
 * Turns the lines of one connection into readings: numbers, units, quality, and whether a reading is missing
 * or came twice. A line is taken whole or refused.
 */
export class ReplyReader {
  readonly #instrument: string;
  readonly #profile: GaugeProfile;
  #lastSequence: number | undefined;
  #lastTime_s: number | undefined;
  #lastArrival_s: number | undefined;
  #offset_s = 0;

  constructor(instrument: string, profile: GaugeProfile) {
    this.#instrument = instrument;
    this.#profile = profile;
  }

  /** What the lines so far mean for the next one. */
  memory(): GaugeMemory {
    return {
      ...(this.#lastSequence === undefined ? {} : { sequence: this.#lastSequence }),
      ...(this.#lastTime_s === undefined ? {} : { time_s: this.#lastTime_s, offset_s: this.#offset_s }),
    };
  }

  resume({ sequence, time_s, offset_s }: GaugeMemory): void {
    this.#lastSequence = sequence;
    this.#lastTime_s = time_s;
    this.#offset_s = offset_s ?? 0;
  }

  /** Whether a line is a reply by its form and its checksum, if replies carry one. */
  matches(line: string): boolean {
    const bare = lineWithout(line, this.#profile.checksum);
    return bare.ok && this.#profile.reply.test(bare.text);
  }

  /**
   * @param arrival_s monotonic time at which the line came
   * @returns one reading per channel, in the profile's order; a value that is not good is NaN, or an infinity
   *   with the sign it had when over range, so that it cannot pass for a measurement
   * @throws DriverError REPLY_MALFORMED, INSTRUMENT_ERROR, OUT_OF_SEQUENCE
   */
  read(line: string, arrival_s: number): Reading[] {
    const { channels, status, sequence, time, reply } = this.#profile;
    const bare = lineWithout(line, this.#profile.checksum);
    if (!bare.ok) throw this.#unreadable(line, line, bare.expected);
    const groups = reply.exec(bare.text)?.groups;
    if (!groups)
      throw this.#unreadable(line, bare.text, `a line as its profile ${this.#profile.name} describes`);
    const lineQuality = status ? status.meanings.get(groups[status.group] ?? "") : "good";
    if (!lineQuality) throw this.#malformed(line, `a known ${status?.group}`);
    const number = sequence && this.#checkSequence(this.#number(groups, sequence.group, line), line);
    const t_s = time
      ? this.#gaugeTime(toSI(this.#number(groups, time.group, line), time.unit), arrival_s, line)
      : arrival_s;
    return channels.map((channel) => {
      const { raw, meaning } = this.#said(groups, channel.name, line);
      const quality = worse(lineQuality, meaning);
      const value = siValue(raw, quality, channel);
      return number === undefined
        ? { channel: channel.name, t_s, value, quality }
        : { channel: channel.name, t_s, value, quality, sequence: number };
    });
  }

  /** @returns the number on the wire and what it stands for; a sign alone where a text stands in its place */
  #said(
    groups: Readonly<Record<string, string | undefined>>,
    group: string,
    line: string,
  ): { raw: number; meaning: Quality } {
    const text = groups[group] ?? "";
    const inWords = this.#profile.textValues.get(text);
    if (inWords) return { raw: text.startsWith("-") ? -1 : 1, meaning: inWords };
    const raw = this.#number(groups, group, line);
    return { raw, meaning: this.#profile.specialValues.get(raw) ?? "good" };
  }

  #number(groups: Readonly<Record<string, string | undefined>>, group: string, line: string): number {
    const value = parseNrf(groups[group] ?? "");
    if (value === undefined) throw this.#malformed(line, `a number for ${group}`);
    return value;
  }

  #checkSequence(number: number, line: string): number {
    const modulus = this.#profile.sequence?.modulus ?? 1;
    if (!Number.isInteger(number) || number < 0 || number >= modulus) {
      throw this.#malformed(line, `a sequence number from 0 to ${modulus - 1}`);
    }
    const last = this.#lastSequence;
    this.#lastSequence = number;
    if (last === undefined || number === (last + 1) % modulus) return number;
    // Beyond half the counter's range it is likelier to have gone back than to have lost so many.
    const missing = (number - last - 1 + modulus) % modulus;
    const what =
      missing < modulus / 2
        ? `${missing} reading${missing === 1 ? " is" : "s are"} missing between number ${last} and ${number}; check its cable, and that nothing else reads it`
        : `number ${number} came after ${last}: a reading was repeated or the gauge started anew; check its supply and the cable`;
    throw this.#error("OUT_OF_SEQUENCE", `${this.#instrument}: ${what}.`);
  }

  /**
   * The gauge's time on our clock. Transport only ever delays, so the smallest difference seen is nearest to the
   * truth; it may grow again slowly, as the two clocks drift.
   */
  #gaugeTime(gauge_s: number, arrival_s: number, line: string): number {
    const last_s = this.#lastTime_s;
    const waited_s = Math.max(0, arrival_s - (this.#lastArrival_s ?? Number.NEGATIVE_INFINITY));
    this.#lastTime_s = gauge_s;
    this.#lastArrival_s = arrival_s;
    const delay_s = arrival_s - gauge_s;
    if (last_s === undefined) {
      this.#offset_s = delay_s;
      return arrival_s;
    }
    const passed_s = gauge_s - last_s;
    if (passed_s <= 0) {
      const message = `${this.#instrument}: its time did not advance in ${quoteRaw(line)}: a reading was repeated or the gauge started anew; check its supply and the cable.`;
      throw this.#error("OUT_OF_SEQUENCE", message);
    }
    if (passed_s - waited_s > CLOCK_STEP_s) {
      const message = `${this.#instrument}: its time went on by ${passed_s.toFixed(1)} s from one reading to the next, which came ${waited_s.toFixed(1)} s later; check that nobody sets its clock, and its supply.`;
      throw this.#error("OUT_OF_SEQUENCE", message);
    }
    const drifted_s = this.#offset_s + CLOCK_SKEW * passed_s;
    // Never back by more than time went on: readings keep their order.
    this.#offset_s = Math.max(Math.min(drifted_s, delay_s), this.#offset_s - passed_s / 2);
    return gauge_s + this.#offset_s;
  }

  /** @param words what the instrument says, without its checksum where that is right */
  #unreadable(line: string, words: string, expected: string): DriverError {
    if (this.#profile.errors.some((error) => error.test(words))) {
      return this.#error(
        "INSTRUMENT_ERROR",
        `${this.#instrument} reports ${quoteRaw(line)}; look up in its manual what that means, and set it right.`,
      );
    }
    return this.#malformed(line, expected);
  }

  #malformed(line: string, expected: string): DriverError {
    return malformed(this.#instrument, line, expected);
  }

  #error(code: DriverErrorCode, message: string): DriverError {
    return new DriverError(code, this.#instrument, message);
  }
}
