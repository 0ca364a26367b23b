import { CRC_bytes, hasRightCrc } from "./modbus-crc.ts";
import type { ModbusLink } from "./modbus-profile.ts";

const SHOWN_MOST_bytes = 64;

/** Bytes for people. @example frameHex(Buffer.of(1, 4, 0xc5)) // "01 04 C5" */
export function frameHex(bytes: Buffer): string {
  const shown = bytes.subarray(0, SHOWN_MOST_bytes).toString("hex").toUpperCase();
  const pairs = shown.replace(/(..)(?!$)/g, "$1 ");
  return bytes.length > SHOWN_MOST_bytes ? `${pairs} ... (${bytes.length} bytes)` : pairs;
}

/** Frames as the conversation and messages show them: the bytes that were on the wire, and what they mean. */
export function showFrames(
  framing: ModbusLink["framing"],
): (raw: string, direction: "sent" | "heard") => string {
  return (raw, direction) => {
    const frame = Buffer.from(raw, "latin1");
    if (!hasRightCrc(frame)) return `${frameHex(frame)} (no whole frame)`;
    // The CRC of the RTU form is not on the wire of Modbus TCP.
    const onWire = framing === "rtu" ? frame : frame.subarray(0, -CRC_bytes);
    const meaning = direction === "sent" ? questionWords(frame) : answerWords(frame);
    return meaning === "" ? frameHex(onWire) : `${frameHex(onWire)} (${meaning})`;
  };
}

const TABLES: Readonly<Record<number, string>> = {
  1: "coil",
  2: "discrete input",
  3: "holding register",
  4: "input register",
};

/**
 * What a question asks, in words.
 * @param frame in its RTU form
 * @example questionWords(Buffer.from("010400000002", "hex")) // "read 2 input registers from 0"
 */
export function questionWords(frame: Buffer): string {
  const code = frame[1] ?? 0;
  if (code === 0x2b) return "read device identification";
  if (frame.length < 6) return "";
  const address = frame.readUInt16BE(2);
  const second = frame.readUInt16BE(4);
  const table = TABLES[code];
  if (table !== undefined) return `read ${counted(second, table)} from ${address}`;
  if (code === 5) return `write coil ${address}: ${second === 0 ? "off" : "on"}`;
  if (code === 6) return `write holding register ${address}: ${second}`;
  if (code === 15) {
    const bits = bitsOf(frame.subarray(7), second);
    return `write ${counted(second, "coil")} from ${address}: ${bits}`;
  }
  return `function ${code}`;
}

/** What an answer says, as far as it can be told without its question. */
function answerWords(frame: Buffer): string {
  const code = frame[1] ?? 0;
  if (code & 0x80) return `exception ${frame[2] ?? "?"}, ${exceptionName(frame[2] ?? 0)}`;
  const length = frame[2] ?? 0;
  if ((code === 3 || code === 4) && frame.length === length + 5) return counted(length / 2, "register");
  if (code === 0x2b)
    return frame
      .subarray(8, -2)
      .toString("latin1")
      .replace(/[^\x20-\x7e]/g, " ")
      .trim();
  return code === 5 || code === 6 || code === 15 || code === 16 ? "written" : "";
}

const EXCEPTIONS: Readonly<Record<number, readonly [name: string, meaning: string]>> = {
  1: ["illegal function", "it cannot do this at all; check that its profile is the one for this instrument"],
  2: ["illegal data address", "it has nothing at this address; check the addresses in its profile"],
  3: ["illegal data value", "it does not take this number or count; check its profile"],
  4: ["server device failure", "something failed inside it; look up its state in its manual"],
  5: ["acknowledge", "it needs longer than it may; give it time, or another way to ask, in its profile"],
  6: ["server device busy", "it is busy with something else; ask it less often, or see what else asks it"],
  8: ["memory parity error", "its memory is damaged; have it serviced"],
  10: ["gateway path unavailable", "the gateway has no way to this unit; check the gateway and the unit id"],
  11: [
    "gateway target device failed to respond",
    "the unit behind the gateway is silent; check its supply and cable",
  ],
};

/** @see Modbus Application Protocol V1.1b3, 7 */
function exceptionName(code: number): string {
  return EXCEPTIONS[code]?.[0] ?? "not in the standard";
}

/**
 * What an instrument's refusal means and what to do, in a clause.
 * @example exceptionWords(2) // "Modbus exception 2, illegal data address: it has nothing at this address; ..."
 */
export function exceptionWords(code: number): string {
  const meaning = EXCEPTIONS[code]?.[1] ?? "look it up in its manual";
  return `Modbus exception ${code}, ${exceptionName(code)}: ${meaning}`;
}

function bitsOf(bytes: Buffer, count: number): string {
  return Array.from({ length: count }, (_, i) => ((bytes[i >> 3] ?? 0) >> (i & 7)) & 1).join("");
}

function counted(count: number, noun: string): string {
  return `${count} ${noun}${count === 1 ? "" : "s"}`;
}
