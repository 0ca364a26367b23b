import type { Unit } from "../limits/quantity.ts";
import type { LineChecksum } from "./checksum.ts";
import type { Framing } from "./framing.ts";
import type { ModbusGaugeProfile, ModbusIoBlockProfile } from "./modbus-profile.ts";
import type { Quality } from "./ports.ts";
import type { SerialSettings } from "./transports/serial-settings.ts";

/** What one kind of instrument says and wants to hear: the checked form of a profile file, times in seconds. */
export type Profile = AnyGaugeProfile | AnyIoBlockProfile;
export type AnyGaugeProfile = GaugeProfile | ModbusGaugeProfile;
export type AnyIoBlockProfile = IoBlockProfile | ModbusIoBlockProfile;

/** A profile as its file states it; the name is the file's own. */
export type ProfileBody =
  | Omit<GaugeProfile, "name">
  | Omit<IoBlockProfile, "name">
  | Omit<ModbusGaugeProfile, "name">
  | Omit<ModbusIoBlockProfile, "name">;

export function isGauge(profile: Profile): profile is AnyGaugeProfile {
  return profile.kind === "gauge" || profile.kind === "modbus_gauge";
}

interface CommonProfile {
  /** The profile file's name without its ending. */
  readonly name: string;
  readonly title: string;
  readonly port: SerialSettings;
  readonly framing: Framing;
  /** Instruments that restart when the port is opened are left alone this long. */
  readonly waitAfterOpen_s: number;
  readonly identity?: Identity;
  readonly replyWithin_s: number;
}

export interface Identity {
  readonly ask: string;
  readonly expect: RegExp;
}

/** Asked once at every connect; any other answer means that the instrument finds itself unfit. */
export interface SelfTest {
  readonly ask: string;
  readonly expect: RegExp;
  readonly within_s: number;
}

/** Sent at every connect. Without an answer to expect, nothing may come until it has taken effect. */
export type StartUpStep =
  | { readonly send: string; readonly expect: RegExp }
  | { readonly send: string; readonly wait_s: number };

export interface GaugeProfile extends CommonProfile {
  readonly kind: "gauge";
  readonly mode: PollMode | StreamMode;
  /** Every line that comes carries it; the patterns below see the lines without. */
  readonly checksum?: LineChecksum;
  /** Each command comes back before its answer. */
  readonly echo: boolean;
  /** Lines that mean nothing, such as prompts. */
  readonly skip: readonly RegExp[];
  readonly selfTest?: SelfTest;
  readonly startUp: readonly StartUpStep[];
  /** Anchored, with one named group per channel and per piece of information below. */
  readonly reply: RegExp;
  readonly channels: readonly ChannelProfile[];
  readonly sequence?: { readonly group: string; readonly modulus: number };
  readonly time?: { readonly group: string; readonly unit: Unit };
  readonly status?: { readonly group: string; readonly meanings: ReadonlyMap<string, Quality> };
  /** Numbers that stand for something else, such as 9.91E+37 for "not a number" (SCPI-99 vol. 1, 7.2.1). */
  readonly specialValues: ReadonlyMap<number, Quality>;
  /** Texts that stand in a number's place, such as OL. */
  readonly textValues: ReadonlyMap<string, Quality>;
  readonly errors: readonly RegExp[];
  readonly whenSilent?: { readonly ask: string; readonly error: RegExp };
}

interface PollMode {
  readonly kind: "poll";
  readonly ask: string;
  readonly every_s: number;
}

interface StreamMode {
  readonly kind: "stream";
  readonly staleAfter_s: number;
}

export interface ChannelProfile {
  readonly name: string;
  readonly unit: Unit;
  /** Factor from the number on the wire to the number in the unit. */
  readonly scale: number;
  /** Added after the scale, in the unit. */
  readonly offset: number;
}

export interface IoBlockProfile extends CommonProfile {
  readonly kind: "io_block";
  readonly identity: Identity;
  readonly outputs: readonly string[];
  readonly inputs: readonly string[];
  readonly pollEvery_s: number;
  readonly beatEvery_s: number;
}
