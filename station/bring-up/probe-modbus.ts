import type { ModbusGaugeProfile, ModbusIoBlockProfile } from "../../drivers/modbus-profile.ts";
import { type Clock, DriverError, type Gauge } from "../../drivers/ports.ts";
import type { Profile } from "../../drivers/profile.ts";
import type { SerialSettings } from "../../drivers/transports/serial-settings.ts";
import { patiently } from "./listening.ts";
import { settingsFrom, settingsText } from "./port-settings.ts";

export type RegisterProfile = ModbusGaugeProfile | ModbusIoBlockProfile;

export function isRegisterProfile(profile: Profile): profile is RegisterProfile {
  return profile.kind === "modbus_gauge" || profile.kind === "modbus_io_block";
}

export interface ModbusProbeOptions {
  readonly profiles: readonly RegisterProfile[];
  /** To be tried, in this order; of another port than a serial one the first only. */
  readonly settings: readonly SerialSettings[];
  readonly isSerial: boolean;
  readonly unitIds: readonly number[];
  readonly clock: Clock;
  readonly signal: AbortSignal;
  /** A gauge by this profile; nothing is opened yet. */
  readonly open: (profile: ModbusGaugeProfile) => Promise<Gauge>;
  readonly saw: (sentence: string) => void;
}

export interface ModbusFit {
  readonly profile: RegisterProfile;
  readonly settings: SerialSettings;
  readonly unitId: number;
  readonly isMatch: boolean;
  /** What it said of itself, or why it is no match. */
  readonly sentence: string;
}

const LONGEST_WHY = 90;
// 19200 baud with even parity is what a device has before it is set (Modbus over Serial Line V1.02, 2.5.1).
const COMMON = ["19200-8E1", "9600-8E1", "9600-8N1", "19200-8N1", "38400-8E1", "115200-8N1"];

/** Settings worth trying for Modbus, those of known profiles first. */
export function likelyModbusSettings(known: readonly SerialSettings[]): SerialSettings[] {
  const all = [...known, ...COMMON.map(settingsFrom)];
  return [...new Map(all.map((settings) => [settingsText(settings), settings])).values()];
}

/** Where an instrument may be that a profile knows as the makers set it. */
interface Place {
  readonly settings: SerialSettings;
  readonly framing: "rtu" | "tcp";
  readonly unitId: number;
}

/**
 * Looks for an instrument with Modbus registers, first where each profile has its own. Registers are only read: of an
 * I/O block nothing but who it is.
 * @returns as soon as one has answered, how each profile fits it
 */
export async function probeModbus(options: ModbusProbeOptions): Promise<ModbusFit[]> {
  let heading = "";
  for (const place of placesToTry(options)) {
    const { settings, framing, unitId } = place;
    const isTried = ({ modbus }: RegisterProfile) => modbus.framing === framing || !options.isSerial;
    const now = `Modbus ${framing.toUpperCase()}${options.isSerial ? ` at ${settingsText(settings)}` : ""} ...`;
    if (now !== heading) options.saw(now);
    heading = now;
    const fits = await tryUnit(options, options.profiles.filter(isTried), settings, framing, unitId);
    if (fits.length > 0 || options.signal.aborted) return fits;
  }
  return [];
}

function placesToTry({ profiles, settings, isSerial, unitIds }: ModbusProbeOptions): Place[] {
  const [first] = settings;
  if (!first || profiles.length === 0) return [];
  const known = new Set(settings.map(settingsText));
  const own = profiles
    .filter(({ port, modbus }) => known.has(settingsText(port)) && unitIds.includes(modbus.unitId))
    .map(({ port, modbus }) => ({ settings: port, framing: modbus.framing, unitId: modbus.unitId }));
  // TCP frames on a serial line are nobody's habit: only where a profile has them so, as through a tunnel.
  const hasFraming = (one: SerialSettings, framing: "rtu" | "tcp") =>
    profiles.some(
      ({ port, modbus }) =>
        !isSerial ||
        (modbus.framing === framing && (framing === "rtu" || settingsText(port) === settingsText(one))),
    );
  const all = (isSerial ? settings : [first]).flatMap((one) =>
    (["rtu", "tcp"] as const)
      .filter((framing) => hasFraming(one, framing))
      .flatMap((framing) => unitIds.map((unitId) => ({ settings: one, framing, unitId }))),
  );
  const places = isSerial ? [...own, ...all] : all;
  const key = ({ settings: one, framing, unitId }: Place) => `${settingsText(one)} ${framing} ${unitId}`;
  return [...new Map(places.map((place) => [key(place), place])).values()];
}

const USUAL_UNITS = [1, 2, 3, 4];

/** Units worth looking for: those that devices come with, and those of known profiles. */
export function likelyUnits(profiles: readonly RegisterProfile[]): number[] {
  const own = profiles.map(({ modbus }) => modbus.unitId);
  return [...new Set([...USUAL_UNITS, ...own])].sort((a, b) => a - b);
}

/** Why it is none, in a few words: what is to be done stands at the end once, not with each profile. */
function whyNot({ message }: DriverError): string {
  const [said = ""] = message.split(", which is not what");
  return said
    .replace(/^\S+ /, "it ")
    .replace(/ \(.*$/s, "")
    .replace(/\.$/, "")
    .slice(0, LONGEST_WHY);
}

/** @returns nothing where nobody answers as this unit */
async function tryUnit(
  { signal, open, clock }: ModbusProbeOptions,
  profiles: readonly RegisterProfile[],
  settings: SerialSettings,
  framing: "rtu" | "tcp",
  unitId: number,
): Promise<ModbusFit[]> {
  const fits: ModbusFit[] = [];
  for (const profile of profiles) {
    if (signal.aborted) break;
    const gauge = await open(askedOnly(profile, settings, framing, unitId));
    const about = { profile, settings, unitId };
    try {
      await patiently(clock, () => gauge.connect());
      if (profile.kind === "modbus_gauge") await gauge.read();
      fits.push({ ...about, isMatch: true, sentence: gauge.identity });
    } catch (error) {
      if (!(error instanceof DriverError)) throw error;
      if (["PORT_BUSY", "PORT_MISSING"].includes(error.code)) throw error;
      // Nobody there, or nobody who speaks Modbus: another profile would hear no more.
      if (!["WRONG_INSTRUMENT", "INSTRUMENT_ERROR"].includes(error.code)) break;
      fits.push({ ...about, isMatch: false, sentence: whyNot(error) });
    } finally {
      await gauge.close();
    }
  }
  return fits.sort((a, b) => Number(b.isMatch) - Number(a.isMatch));
}

/** A profile by which nothing is ever written. */
function askedOnly(
  profile: RegisterProfile,
  port: SerialSettings,
  framing: "rtu" | "tcp",
  unitId: number,
): ModbusGaugeProfile {
  const modbus = { ...profile.modbus, framing, unitId };
  if (profile.kind === "modbus_gauge") return { ...profile, port, modbus };
  const { name, title, waitAfterOpen_s, replyWithin_s, identity, pollEvery_s } = profile;
  const common = { name, title, waitAfterOpen_s, replyWithin_s, identity, pollEvery_s };
  return { ...common, kind: "modbus_gauge", port, modbus, channels: [], readTogether: false };
}
