import { z } from "zod";
import { type Dimension, parseQuantity } from "../limits/quantity.ts";
import { quantity, quantityIssue, wholeNumber } from "../limits/quantity-schema.ts";
import type { ReferencePiece } from "./cycle/attempt.ts";
import type { ReferenceRules } from "./cycle/reference-due.ts";
import { SHORT_NAME } from "./station-file-checks.ts";
import { CLOCK_TIME } from "./station-reference-checks.ts";

/** When the station has to be proven, and by which pieces. */
export interface ReferenceCheck extends ReferenceRules {
  readonly pieces: readonly ReferencePiece[];
}

const name = z.string().regex(SHORT_NAME.pattern, SHORT_NAME.words);

/** A certified value, whose unit is kept, because readings are shown in it. */
function certified(dimension: Dimension) {
  return z.string().transform((text, context) => {
    const parsed = parseQuantity(text, dimension);
    if (!parsed.ok) {
      context.addIssue(quantityIssue(parsed));
      return z.NEVER;
    }
    return { value_m3_s: parsed.value.value_SI, unit: parsed.value.unit.symbol };
  });
}

const leakPiece = {
  serial: name,
  model: name,
  certified: certified("leakRate"),
  tolerance: quantity("leakRate", { above: "0 mL/min @ 20 degC" }),
};

const piece = z.discriminatedUnion("kind", [
  z.strictObject({ kind: z.literal("tight"), ...leakPiece }),
  z.strictObject({ kind: z.literal("leak"), ...leakPiece }),
  z.strictObject({
    kind: z.literal("orifice"),
    serial: name,
    model: name,
    point: z.string().min(1),
    certified: certified("flow"),
    at_suction: quantity("pressure", {
      above: "0 Pa",
      description: "suction that the certified flow is stated for",
      examples: ["8 kPa"],
    }),
    tolerance: quantity("flow", { above: "0 L/s" }),
  }),
]);

/** `reference_check` of a station file. */
export const referenceCheckShape = z.union(
  [
    z.literal("off"),
    z.strictObject({
      every: quantity("time", { above: "0 s", description: "in force no longer than this" }),
      every_units: wholeNumber({
        atLeast: 1,
        atMost: 1_000_000,
        description: "nor for more units of a model",
      }).optional(),
      at_shift_start: z.boolean().optional(),
      after_fault: z.boolean().optional(),
      pieces: z.array(piece).min(1),
    }),
  ],
  { error: () => '"off", or a mapping with every and pieces' },
);

/** `shifts` of a station file: when they begin, by the computer's local time. */
export const shiftsShape = z
  .array(z.string().regex(CLOCK_TIME, 'a local time in quotes, like "06:00" or "22:30"'))
  .min(1)
  .max(6)
  .optional();

/** `stop_after_same_fails` of a station file. */
export const sameFailsShape = wholeNumber({
  atLeast: 2,
  atMost: 50,
  description: "so many units in a row that fail alike stop the station",
}).optional();

/** @returns null where the station runs without */
export function referenceCheckOf(given: z.output<typeof referenceCheckShape>): ReferenceCheck | null {
  if (given === "off") return null;
  return {
    every_s: given.every,
    everyUnits: given.every_units ?? null,
    atShiftStart: given.at_shift_start ?? false,
    afterFault: given.after_fault ?? true,
    pieces: given.pieces.map(pieceOf),
  };
}

function pieceOf(given: z.output<typeof piece>): ReferencePiece {
  return {
    serial: given.serial,
    kind: given.kind,
    model: given.model,
    certified_m3_s: given.certified.value_m3_s,
    tolerance_m3_s: given.tolerance,
    unit: given.certified.unit,
    orifice: given.kind === "orifice" ? { point: given.point, atSuction_Pa: given.at_suction } : null,
  };
}
