import { z } from "zod";
import { wholeNumber } from "../../limits/quantity-schema.ts";
import type { TapeAllowance } from "./tape-keeper.ts";

/** A unit's tape is some tens of kilobytes: this holds a month of a busy line, or more. */
const DEFAULT: TapeAllowance = { keep_days: 30, keep_bytes: 2000e6 };

export const flightRecorderShape = z
  .union([
    z.literal("off"),
    z.strictObject({
      keep_days: wholeNumber({ atLeast: 1, atMost: 3650 }).optional(),
      keep_MB: wholeNumber({ atLeast: 10 }).optional(),
    }),
  ])
  .optional();

/** @returns null where no attempt's raw conversation is to be kept */
export function flightRecorderOf(given: z.infer<typeof flightRecorderShape>): TapeAllowance | null {
  if (given === "off") return null;
  return {
    keep_days: given?.keep_days ?? DEFAULT.keep_days,
    keep_bytes: given?.keep_MB === undefined ? DEFAULT.keep_bytes : given.keep_MB * 1e6,
  };
}
