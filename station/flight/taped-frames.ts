import { withCrc } from "../../drivers/modbus-crc.ts";
import type { ModbusLink } from "../../drivers/modbus-profile.ts";
import { frameHex, showFrames } from "../../drivers/modbus-words.ts";
import type { TapeContents } from "./tape-file.ts";
import { type TapedStation, tapedStation } from "./tape-station.ts";

/** By instrument that speaks Modbus, how its frames are framed. */
export type Framings = ReadonlyMap<string, ModbusLink["framing"]>;

export function framingsOf({ file, profiles }: Pick<TapedStation, "file" | "profiles">): Framings {
  return new Map(
    [...file.gauges, file.ioBlock].flatMap(({ name, profile }) => {
      const found = profiles.get(profile);
      return found && "modbus" in found ? [[name, found.modbus.framing] as const] : [];
    }),
  );
}

/** None where this program can't read the tape's files any more: a conversation is shown nevertheless. */
export function framingsOnTape(contents: TapeContents | null): Framings {
  if (!contents) return new Map();
  try {
    return framingsOf(tapedStation(contents));
  } catch {
    return new Map();
  }
}

const HEADER_bytes = 6;

/**
 * Bytes of a cable as messages show frames, hex and meaning; the header of Modbus TCP is told by its transaction.
 * @example frameOnCable("tcp", Buffer.from("000e00000006010100000008", "hex"), "sent")
 *   // "transaction 14: 01 01 00 00 00 08 (read 8 coils from 0)"
 */
export function frameOnCable(
  framing: ModbusLink["framing"],
  bytes: Buffer,
  direction: "sent" | "heard",
): string {
  const shown = (frame: Buffer) => showFrames(framing)(frame.toString("latin1"), direction);
  if (framing === "rtu") return shown(bytes);
  const isWhole =
    bytes.length >= HEADER_bytes + 2 &&
    bytes.readUInt16BE(2) === 0 &&
    bytes.readUInt16BE(4) === bytes.length - HEADER_bytes;
  if (!isWhole) return `${frameHex(bytes)} (no whole frame)`;
  return `transaction ${bytes.readUInt16BE(0)}: ${shown(withCrc(bytes.subarray(HEADER_bytes)))}`;
}
