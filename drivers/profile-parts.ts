import { z } from "zod";
import { type Contradiction, keyOf } from "../limits/faulty-file.ts";
import { type Dimension, findUnit, type Unit, UnitError } from "../limits/quantity.ts";
import { wholeNumber } from "../limits/quantity-schema.ts";
import type { ChannelProfile } from "./profile.ts";
import { number, word } from "./profile-words.ts";

const QUANTITIES = [
  "pressure",
  "flow",
  "temperature",
  "power",
  "voltage",
  "relativeHumidity",
  "ratio",
  "length",
  "time",
] as const satisfies readonly Dimension[];
const quantityNames = [
  "relative_humidity",
  ...QUANTITIES.filter((name) => name !== "relativeHumidity"),
] as const;

const DIMENSION_OF: ReadonlyMap<unknown, Dimension> = new Map([
  ...QUANTITIES.map((name) => [name, name] as const),
  ["relative_humidity", "relativeHumidity"],
]);

/** A unit must belong to the quantity named beside it; where that is no quantity, its own mistake is named. */
export function unitProblems(
  text: unknown,
  dimension: Dimension | undefined,
  path: string[],
): Contradiction[] {
  if (typeof text !== "string" || dimension === undefined) return [];
  const unit = findUnit(text, dimension);
  if (unit.ok) return [];
  const { found, expected, hint } = unit;
  return [{ path, found, expected, ...(hint === undefined ? {} : { hint }) }];
}

/** @throws UnitError for what `unitProblems` refuses */
export function checkedUnit(text: string, dimension: Dimension): Unit {
  const unit = findUnit(text, dimension);
  if (!unit.ok) throw new UnitError(unit);
  return unit.value;
}

/** What every channel says of itself, wherever its number stands. */
export const channelKeys = {
  name: word,
  quantity: z.enum(quantityNames),
  unit: z.string().meta({ examples: ["Pa", "L/s", "degC"] }),
  scale: number
    .refine((factor) => factor !== 0, { error: () => "a factor other than 0" })
    .optional()
    .meta({ description: "Factor from the number on the wire to the number in the unit; 1 if left out." }),
  offset: number.optional().meta({ description: "Added to the scaled number, in the unit; 0 if left out." }),
};

/** @returns what is wrong with the unit of a channel as the file has it */
export function channelProblems(given: unknown): Contradiction[] {
  return unitProblems(keyOf(given, "unit"), DIMENSION_OF.get(keyOf(given, "quantity")), ["unit"]);
}

interface ChannelGiven {
  readonly name: string;
  readonly quantity: (typeof quantityNames)[number];
  readonly unit: string;
  readonly scale?: number | undefined;
  readonly offset?: number | undefined;
}

/** @throws UnitError for what `channelProblems` refuses */
export function channelOf({ name, quantity, unit, scale, offset }: ChannelGiven): ChannelProfile {
  return {
    name,
    unit: checkedUnit(unit, quantity === "relative_humidity" ? "relativeHumidity" : quantity),
    scale: scale ?? 1,
    offset: offset ?? 0,
  };
}

/** How a serial port is set. */
export const port = z
  .strictObject({
    baud: wholeNumber({ atLeast: 50, atMost: 4_000_000 }),
    data_bits: z.union([z.literal(7), z.literal(8)]),
    parity: z.enum(["none", "even", "odd"]),
    stop_bits: z.union([z.literal(1), z.literal(2)]),
    flow_control: z.enum(["none", "rts_cts", "xon_xoff"]),
  })
  .transform((given) => ({
    baud: given.baud,
    dataBits: given.data_bits,
    parity: given.parity,
    stopBits: given.stop_bits,
    flowControl: given.flow_control,
  }));
