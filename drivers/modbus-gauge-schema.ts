import { z } from "zod";
import { withContradictions } from "../limits/faulty-file.ts";
import { quantity, wholeNumber } from "../limits/quantity-schema.ts";
import { asHeld } from "./modbus-numbers.ts";
import type { ModbusChannel, ModbusGaugeProfile, ModbusStatus } from "./modbus-profile.ts";
import { gaugeReadProblems, numberProblems, statusProblems } from "./modbus-profile-checks.ts";
import {
  address,
  bitNumber,
  common,
  commonOf,
  identity,
  identityOf,
  link,
  numberKeys,
  orderKeys,
  placeOf,
  portProblems,
  registerTable,
} from "./modbus-profile-parts.ts";
import type { Quality } from "./ports.ts";
import { channelKeys, channelOf, channelProblems } from "./profile-parts.ts";
import { every, number } from "./profile-words.ts";

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

interface Marks {
  readonly good?: readonly number[] | undefined;
  readonly over_range?: readonly number[] | undefined;
  readonly invalid?: readonly number[] | undefined;
}

function qualities({ good = [], over_range = [], invalid = [] }: Marks): Map<number, Quality> {
  const all = (marks: readonly number[], quality: Quality) => marks.map((mark) => [mark, quality] as const);
  return new Map([...all(good, "good"), ...all(over_range, "over-range"), ...all(invalid, "invalid")]);
}
