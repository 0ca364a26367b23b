import { z } from "zod";
import { type Contradiction, keyOf, listOf, numberOf, withContradictions } from "../limits/faulty-file.ts";
import { quantity, wholeNumber } from "../limits/quantity-schema.ts";
import { asHeld } from "./modbus-numbers.ts";
import {
  type ModbusChannel,
  type ModbusGaugeProfile,
  type ModbusIdentity,
  type ModbusIoBlockProfile,
  type ModbusStatus,
  NUMBER_TYPES,
  type NumberPlace,
} from "./modbus-profile.ts";
import {
  gaugeReadProblems,
  identityProblems,
  numberProblems,
  statusProblems,
} from "./modbus-profile-checks.ts";
import type { Quality } from "./ports.ts";
import { channelKeys, channelOf, channelProblems, port } from "./profile-parts.ts";
import { every, number, pattern, word } from "./profile-words.ts";
import type { SerialSettings } from "./transports/serial-settings.ts";

const address = wholeNumber({
  atLeast: 0,
  atMost: 65_535,
  description:
    "Address of the protocol, from 0. A manual that numbers registers from 1, or as 30001 and 40001, means 0 by its first.",
});
const bitNumber = wholeNumber({
  atLeast: 0,
  atMost: 15,
  description: "Bit of the register, 0 is the lowest.",
});
const registerTable = z.enum(["input_register", "holding_register"]);
const anyTable = z.enum(["coil", "discrete_input", "input_register", "holding_register"]);
const writable = z.enum(["coil", "holding_register"]);

const orderKeys = {
  word_order: z.enum(["high_word_first", "low_word_first"]).optional().meta({
    description:
      "Which register of a 32-bit number comes first. ABCD is high_word_first, CDAB low_word_first.",
  }),
  byte_order: z.enum(["high_byte_first", "low_byte_first"]).optional().meta({
    description:
      "high_byte_first is the protocol's own. BADC is low_byte_first with high_word_first, DCBA with low_word_first.",
  }),
};

const numberKeys = { table: registerTable, address, type: z.enum(NUMBER_TYPES), ...orderKeys };

const link = z.strictObject({
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

const identity = withContradictions(identityFile, identityProblems);

const statusFile = z.strictObject({
  table: registerTable,
  address,
  codes: z
    .strictObject({
      good: z.array(wholeNumber({ atLeast: 0, atMost: 65_535 })).min(1),
      over_range: z.array(wholeNumber({ atLeast: 0, atMost: 65_535 })).optional(),
      invalid: z.array(wholeNumber({ atLeast: 0, atMost: 65_535 })).optional(),
    })
    .optional()
    .meta({ description: "What each number means; any other refuses the reading." }),
  bits: z
    .strictObject({
      good: z.array(bitNumber).optional(),
      over_range: z.array(bitNumber).optional(),
      invalid: z.array(bitNumber).optional(),
    })
    .optional()
    .meta({ description: "Bits that must be set (good), and bits that say once set what is wrong." }),
});

const status = withContradictions(statusFile, statusProblems).transform(
  ({ table, address, codes, bits }): ModbusStatus => ({
    table,
    address,
    meaning: codes
      ? { kind: "codes", codes: qualities(codes) }
      : { kind: "bits", bits: qualities(bits ?? {}) },
  }),
);

const channel = withContradictions(
  z.strictObject({
    ...channelKeys,
    ...numberKeys,
    special_values: z
      .strictObject({ over_range: z.array(number).optional(), invalid: z.array(number).optional() })
      .optional()
      .meta({
        description: "Numbers as they stand in the register, before scale and offset. NaN is always invalid.",
      }),
    status: status.optional(),
  }),
  (given) => [...channelProblems(given), ...numberProblems(given)],
);

const common = {
  drumtight: z.literal("profile/1"),
  title: z.string().min(1),
  port: port.optional().meta({ description: "As set on the instrument; only Modbus TCP does without." }),
  wait_after_open: quantity("time", { atLeast: "0 s", atMost: "30 s" }).optional(),
  reply_within: quantity("time", { atLeast: "1 ms", atMost: "60 s" }),
};

const gaugeFile = z.strictObject({
  ...common,
  kind: z.literal("modbus_gauge"),
  modbus: link.extend(orderKeys),
  identity: identity.optional(),
  poll: z.strictObject({ every }),
  channels: z.array(channel).min(1),
  status: status.optional(),
  counter: z
    .strictObject({
      table: registerTable,
      address,
      type: z.enum(["uint16", "uint32"]),
      ...orderKeys,
      stale_after: quantity("time", { atLeast: "1 ms", atMost: "1 h" }),
    })
    .optional()
    .meta({ description: "Counts measurements; while it stands still there is no new one." }),
  read_together: z.boolean().optional().meta({
    description:
      "Read everything in one request, with the registers between. One table, 125 registers at most.",
  }),
});

/** A gauge whose values stand in registers. */
export const modbusGauge = withContradictions(gaugeFile, (given) => [
  ...portProblems(given),
  ...gaugeReadProblems(given),
]).transform(
  (given): Omit<ModbusGaugeProfile, "name"> => ({
    kind: "modbus_gauge",
    ...commonOf(given),
    ...(given.identity && { identity: identityOf(given.identity, given.modbus) }),
    pollEvery_s: given.poll.every,
    channels: given.channels.map((own): ModbusChannel => {
      const { over_range = [], invalid = [] } = own.special_values ?? {};
      const held = (values: readonly number[]) => values.map((value) => asHeld(own.type, value));
      return {
        ...channelOf(own),
        place: placeOf(own, given.modbus),
        specialValues: qualities({ over_range: held(over_range), invalid: held(invalid) }),
        ...(own.status && { status: own.status }),
      };
    }),
    ...(given.status && { status: given.status }),
    ...(given.counter && {
      counter: {
        place: placeOf(given.counter, given.modbus),
        staleAfter_s: given.counter.stale_after,
      },
    }),
    readTogether: given.read_together ?? false,
  }),
);

const names = z.array(word).min(1);

const ioBlockFile = z.strictObject({
  ...common,
  kind: z.literal("modbus_io_block"),
  modbus: link,
  identity,
  outputs: z.strictObject({ table: writable, address, names }).meta({
    description: "Coils in a row, or bits of one holding register from its lowest; written in one request.",
  }),
  inputs: z.strictObject({ table: anyTable, address, names }),
  poll: z.strictObject({ every }),
  heartbeat: z
    .strictObject({ address, every })
    .meta({ description: "Holding register that is written with another number each time." }),
  watchdog: z.strictObject({
    tripped: z.strictObject({ table: anyTable, address, bit: bitNumber.optional() }),
    reset: z.strictObject({
      table: writable,
      address,
      value: wholeNumber({ atLeast: 0, atMost: 65_535 }).optional(),
    }),
    time: z
      .strictObject({ ...numberKeys, expect: number })
      .optional()
      .meta({
        description: "The block's own watchdog setting, looked at at every connect, and what it must be.",
      }),
  }),
});

/** An I/O block with outputs in coils or a register, and a watchdog that a register keeps quiet. */
export const modbusIoBlock = withContradictions(ioBlockFile, ioBlockProblems).transform(
  (given): Omit<ModbusIoBlockProfile, "name"> => ({
    kind: "modbus_io_block",
    ...commonOf(given),
    identity: identityOf(given.identity, {}),
    outputs: given.outputs.names,
    inputs: given.inputs.names,
    outputsAt: { table: given.outputs.table, address: given.outputs.address },
    inputsAt: { table: given.inputs.table, address: given.inputs.address },
    pollEvery_s: given.poll.every,
    beatAddress: given.heartbeat.address,
    beatEvery_s: given.heartbeat.every,
    watchdog: {
      tripped: { ...given.watchdog.tripped, bit: given.watchdog.tripped.bit ?? 0 },
      reset: { ...given.watchdog.reset, value: given.watchdog.reset.value ?? 1 },
      ...(given.watchdog.time && {
        time: { place: placeOf(given.watchdog.time, {}), expect: given.watchdog.time.expect },
      }),
    },
  }),
);

/** Each name once, bits of a register within it, and a bit named where there are sixteen to choose from. */
function ioBlockProblems(given: unknown): Contradiction[] {
  const seen = new Set<unknown>();
  const problems = ["outputs", "inputs"].flatMap((key) =>
    listOf(keyOf(given, key), "names").flatMap((name, i): Contradiction[] => {
      const isNew = !seen.has(name);
      seen.add(name);
      const isBit = String(keyOf(keyOf(given, key), "table")).endsWith("register");
      const path = [key, "names", i];
      return [
        ...(isNew ? [] : [{ path, expected: "a name not used before" }]),
        ...(isBit && i === 16 ? [{ path, expected: "no more than the 16 bits of a register" }] : []),
      ];
    }),
  );
  const watchdog = keyOf(given, "watchdog");
  const tripped = keyOf(watchdog, "tripped");
  const isRegister = String(keyOf(tripped, "table")).endsWith("register");
  const hasBit = keyOf(tripped, "bit") !== undefined;
  if (isRegister !== hasBit && keyOf(tripped, "table") !== undefined)
    problems.push({
      path: ["watchdog", "tripped", ...(hasBit ? ["bit"] : [])],
      expected: isRegister ? "which bit of the register, 0 to 15" : "no bit, because it is one itself",
    });
  const value = numberOf(keyOf(watchdog, "reset"), "value");
  if (keyOf(keyOf(watchdog, "reset"), "table") === "coil" && value !== undefined && value > 1)
    problems.push({
      path: ["watchdog", "reset", "value"],
      expected: "0 or 1, because it is written to a coil",
    });
  const time = keyOf(watchdog, "time");
  return [
    ...portProblems(given),
    ...problems,
    ...numberProblems(time).map((problem) => ({ ...problem, path: ["watchdog", "time", ...problem.path] })),
  ];
}

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
function portProblems(given: unknown): Contradiction[] {
  const isRtu = keyOf(keyOf(given, "modbus"), "framing") === "rtu";
  return isRtu && keyOf(given, "port") === undefined
    ? [{ path: ["port"], expected: "the settings of the serial port, because framing is rtu" }]
    : [];
}

function commonOf({ title, port, modbus, wait_after_open, reply_within }: CommonGiven) {
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
function placeOf({ table, address, type, word_order, byte_order }: PlaceGiven, usual: Orders): NumberPlace {
  return {
    table,
    address,
    type,
    lowWordFirst: (word_order ?? usual.word_order) === "low_word_first",
    lowByteFirst: (byte_order ?? usual.byte_order) === "low_byte_first",
  };
}

function identityOf(given: z.output<typeof identity>, usual: Orders): ModbusIdentity {
  if (given.text) return { kind: "text", ...given.text };
  if (given.number)
    return { kind: "number", place: placeOf(given.number, usual), expect: given.number.expect };
  if (given.device_identification)
    return { kind: "device_identification", expect: given.device_identification.expect };
  throw new Error("An identity without a way to ask for it was let through.");
}

interface Marks {
  readonly good?: readonly number[] | undefined;
  readonly over_range?: readonly number[] | undefined;
  readonly invalid?: readonly number[] | undefined;
}

function qualities({ good = [], over_range = [], invalid = [] }: Marks): Map<number, Quality> {
  const all = (marks: readonly number[], quality: Quality) => marks.map((mark) => [mark, quality] as const);
  return new Map([...all(good, "good"), ...all(over_range, "over-range"), ...all(invalid, "invalid")]);
}
