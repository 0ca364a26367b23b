import { checksumOf } from "../../drivers/checksum.ts";
import type { ModbusGaugeProfile, ModbusIoBlockProfile } from "../../drivers/modbus-profile.ts";
import { ModbusTransport } from "../../drivers/modbus-transport.ts";
import type { ByteTransport, Clock, FarEnd } from "../../drivers/ports.ts";
import { loadProfile, readProfile } from "../../drivers/profile-file.ts";
import { MemoryTransport } from "../../drivers/transports/memory.ts";
import type { SimulatedInstrument } from "../../sim/instruments/plugged-instrument.ts";
import { VirtualClock } from "../../sim/virtual-clock.ts";

/** A shipped profile, or this text of one. */
export function modbusGaugeProfile(name: string, text?: string): ModbusGaugeProfile {
  const profile = text === undefined ? loadProfile(name) : readProfile(name, `${name}.yaml`, text);
  if (profile.kind !== "modbus_gauge") throw new Error(`${name} is no Modbus gauge`);
  return profile;
}

export function modbusIoProfile(name = "modbus-io", text?: string): ModbusIoBlockProfile {
  const profile = text === undefined ? loadProfile(name) : readProfile(name, `${name}.yaml`, text);
  if (profile.kind !== "modbus_io_block") throw new Error(`${name} is no Modbus I/O block`);
  return profile;
}

/** Frames as this profile sends them, over whatever carries bytes. */
export function framesOver(
  profile: ModbusGaugeProfile | ModbusIoBlockProfile,
  clock: Clock,
  bytes: ByteTransport,
): ModbusTransport {
  const { modbus: link, port } = profile;
  return new ModbusTransport({ instrument: "gauge", link, port, clock, bytes });
}

export interface FrameRig {
  readonly clock: VirtualClock;
  readonly transport: ModbusTransport;
  /** Whatever the instrument got, each send in hex: "01 04 00 00". */
  readonly received: string[];
  far(): FarEnd;
  settle<T>(promise: Promise<T>): Promise<T>;
}

/** @param answer to what was sent, in hex both; undefined for silence. Without a CRC: it is put on, but "as is" after "=" */
export function frameRig(
  profile: ModbusGaugeProfile | ModbusIoBlockProfile,
  answer: (question: string, rig: FrameRig) => string | undefined,
): FrameRig {
  const clock = new VirtualClock();
  const received: string[] = [];
  let current: FarEnd | undefined;
  const rig: FrameRig = {
    clock,
    received,
    transport: framesOver(
      profile,
      clock,
      new MemoryTransport({
        instrument: "gauge",
        clock,
        attach: (far) => {
          current = far;
          far.onBytes((bytes) => {
            const question = hex(bytes);
            received.push(question);
            const said = answer(question, rig);
            if (said !== undefined) far.send(wire(said));
          });
        },
      }),
    ),
    far: () => {
      if (!current) throw new Error("nobody has connected");
      return current;
    },
    settle: (promise) => clock.runUntil(promise),
  };
  return rig;
}

/** A cable to a simulated instrument. */
export function simulatedRig(
  profile: ModbusGaugeProfile | ModbusIoBlockProfile,
  make: (clock: VirtualClock) => SimulatedInstrument,
): { clock: VirtualClock; transport: ModbusTransport; sent: string[]; instrument: SimulatedInstrument } {
  const clock = new VirtualClock();
  const instrument = make(clock);
  const sent: string[] = [];
  const attach = (far: FarEnd) => {
    instrument.attach({
      send: (bytes) => far.send(bytes),
      onBytes: (handler) =>
        far.onBytes((bytes) => {
          sent.push(hex(bytes));
          handler(bytes);
        }),
      hangUp: () => far.hangUp(),
    });
  };
  const transport = framesOver(profile, clock, new MemoryTransport({ instrument: "gauge", clock, attach }));
  return { clock, transport, sent, instrument };
}

export function hex(bytes: string): string {
  return [...bytes].map((byte) => byte.charCodeAt(0).toString(16).toUpperCase().padStart(2, "0")).join(" ");
}

/** @example wire("01 04 02 00 0A") // its bytes and their CRC; wire("=01 04") as they are */
export function wire(text: string): string {
  const bytes = Buffer.from(text.replace(/^=/, "").replaceAll(" ", ""), "hex").toString("latin1");
  if (text.startsWith("=")) return bytes;
  const crc = checksumOf("crc16_modbus", bytes);
  return bytes + String.fromCharCode(crc & 0xff, crc >> 8);
}
