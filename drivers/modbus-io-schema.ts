import { z } from "zod";
import { type Contradiction, keyOf, listOf, numberOf, withContradictions } from "../limits/faulty-file.ts";
import { wholeNumber } from "../limits/quantity-schema.ts";
import type { ModbusIoBlockProfile } from "./modbus-profile.ts";
import { numberProblems } from "./modbus-profile-checks.ts";
import {
  address,
  bitNumber,
  common,
  commonOf,
  identity,
  identityOf,
  link,
  numberKeys,
  placeOf,
  portProblems,
} from "./modbus-profile-parts.ts";
import { every, number, word } from "./profile-words.ts";

const anyTable = z.enum(["coil", "discrete_input", "input_register", "holding_register"]);
const writable = z.enum(["coil", "holding_register"]);
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
