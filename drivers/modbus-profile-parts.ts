import { z } from "zod";
import { type Contradiction, keyOf, withContradictions } from "../limits/faulty-file.ts";
import { quantity, wholeNumber } from "../limits/quantity-schema.ts";
import { type ModbusIdentity, NUMBER_TYPES, type NumberPlace } from "./modbus-profile.ts";
import { identityProblems } from "./modbus-profile-checks.ts";
import { port } from "./profile-parts.ts";
import { number, pattern } from "./profile-words.ts";
import type { SerialSettings } from "./transports/serial-settings.ts";

/** What the profiles of a gauge with registers and of an I/O block with registers have in common. */

export const address = wholeNumber({
  atLeast: 0,
  atMost: 65_535,
  description:
    "Address of the protocol, from 0. A manual that numbers registers from 1, or as 30001 and 40001, means 0 by its first.",
});
export const bitNumber = wholeNumber({
  atLeast: 0,
  atMost: 15,
  description: "Bit of the register, 0 is the lowest.",
});
export const registerTable = z.enum(["input_register", "holding_register"]);

export const orderKeys = {
  word_order: z.enum(["high_word_first", "low_word_first"]).optional().meta({
    description:
      "Which register of a 32-bit number comes first. ABCD is high_word_first, CDAB low_word_first.",
  }),
  byte_order: z.enum(["high_byte_first", "low_byte_first"]).optional().meta({
    description:
      "high_byte_first is the protocol's own. BADC is low_byte_first with high_word_first, DCBA with low_word_first.",
  }),
};

export const numberKeys = { table: registerTable, address, type: z.enum(NUMBER_TYPES), ...orderKeys };

export const link = z.strictObject({
  framing: z.enum(["rtu", "tcp"]).meta({
    description:
      "rtu: with a CRC, as on a serial line; also over a device server that passes bytes on. tcp: Modbus TCP.",
  }),
  unit_id: wholeNumber({
    atLeast: 0,
    atMost: 255,
    description: "One instrument to a port; a line shared by several is not supported.",
  }),
  idle_rest: quantity("time", {
    atLeast: "1 ms",
    description: "Part of an answer followed by this much silence means a bad cable; 100 ms if left out.",
  }).optional(),
});

const identityFile = z.strictObject({
  device_identification: z.strictObject({ expect: pattern }).optional().meta({
    description: "Function 43/14: maker, product code and revision with ; between.",
  }),
  text: z
    .strictObject({
      table: registerTable,
      address,
      registers: wholeNumber({ atLeast: 1, atMost: 125 }),
      expect: pattern,
    })
    .optional()
    .meta({ description: "Two characters a register; spaces and NUL at the end do not count." }),
  number: z.strictObject({ ...numberKeys, expect: number }).optional(),
});

export const identity = withContradictions(identityFile, identityProblems);

export const common = {
  drumtight: z.literal("profile/1"),
  title: z.string().min(1),
  port: port.optional().meta({ description: "As set on the instrument; only Modbus TCP does without." }),
  wait_after_open: quantity("time", { atLeast: "0 s", atMost: "30 s" }).optional(),
  reply_within: quantity("time", { atLeast: "1 ms", atMost: "60 s" }),
};

interface CommonGiven {
  readonly title: string;
  readonly port?: SerialSettings | undefined;
  readonly modbus: z.output<typeof link>;
  readonly wait_after_open?: number | undefined;
  readonly reply_within: number;
}

const IDLE_REST_s = 0.1;

/** For Modbus TCP over a serial line, which nobody has. */
const USUAL_PORT: SerialSettings = {
  baud: 115_200,
  dataBits: 8,
  parity: "none",
  stopBits: 1,
  flowControl: "none",
};

/** Serial frames need to know how the line is set. */
export function portProblems(given: unknown): Contradiction[] {
  const isRtu = keyOf(keyOf(given, "modbus"), "framing") === "rtu";
  return isRtu && keyOf(given, "port") === undefined
    ? [{ path: ["port"], expected: "the settings of the serial port, because framing is rtu" }]
    : [];
}

export function commonOf({ title, port, modbus, wait_after_open, reply_within }: CommonGiven) {
  return {
    title,
    port: port ?? USUAL_PORT,
    modbus: {
      framing: modbus.framing,
      unitId: modbus.unit_id,
      idleRest_s: modbus.idle_rest ?? IDLE_REST_s,
    },
    waitAfterOpen_s: wait_after_open ?? 0,
    replyWithin_s: reply_within,
  };
}

interface Orders {
  readonly word_order?: "high_word_first" | "low_word_first" | undefined;
  readonly byte_order?: "high_byte_first" | "low_byte_first" | undefined;
}

type PlaceGiven = Pick<NumberPlace, "table" | "address" | "type"> & Orders;

/** @param usual how the instrument's numbers lie where this one says nothing else */
export function placeOf(
  { table, address, type, word_order, byte_order }: PlaceGiven,
  usual: Orders,
): NumberPlace {
  return {
    table,
    address,
    type,
    lowWordFirst: (word_order ?? usual.word_order) === "low_word_first",
    lowByteFirst: (byte_order ?? usual.byte_order) === "low_byte_first",
  };
}

export function identityOf(given: z.output<typeof identity>, usual: Orders): ModbusIdentity {
  if (given.text) return { kind: "text", ...given.text };
  if (given.number)
    return { kind: "number", place: placeOf(given.number, usual), expect: given.number.expect };
  if (given.device_identification)
    return { kind: "device_identification", expect: given.device_identification.expect };
  throw new Error("An identity without a way to ask for it was let through.");
}
