import { checksumOf } from "./checksum.ts";

export const CRC_bytes = 2;

function crcOf(bytes: Buffer): number {
  return checksumOf("crc16_modbus", bytes.toString("latin1"));
}

/** Whether these bytes are a whole RTU frame: unit and function at least, and the right CRC, low byte first. */
export function hasRightCrc(frame: Buffer): boolean {
  return (
    frame.length >= 4 && frame.readUInt16LE(frame.length - CRC_bytes) === crcOf(frame.subarray(0, -CRC_bytes))
  );
}

/** @example withCrc(Buffer.from("010300000001", "hex")) // 01 03 00 00 00 01 84 0A */
export function withCrc(data: Buffer): Buffer {
  const frame = Buffer.alloc(data.length + CRC_bytes);
  data.copy(frame);
  frame.writeUInt16LE(crcOf(data), data.length);
  return frame;
}
