import { z } from "zod";

const Name = z.string().min(1).max(200);
const Text = z.string().min(1).max(1000);

/** Value and standard uncertainty, SI. */
const Result = z.strictObject({ value: z.number(), uncertainty: z.number().nonnegative() });

/** Means over the steady samples of a point, before any correction. */
const MeanReading = z.strictObject({
  mean: z.number(),
  /** Standard uncertainty of the mean from the samples' scatter. */
  scatter: z.number().nonnegative(),
});

const Opening = z.strictObject({
  bore_m: z.number().positive(),
  bore_uncertainty_m: z.number().nonnegative(),
  coefficient: z.number().positive(),
  coefficient_uncertainty: z.number().nonnegative(),
});

/** Where the flow came from, with what it was calculated with. */
const FlowFrom = z.discriminatedUnion("kind", [
  z.strictObject({ kind: z.literal("gauge") }),
  z.strictObject({
    kind: z.literal("plenum_orifices"),
    orifices: z.array(
      z.strictObject({
        orifice: Name,
        /** Null for a closed inlet; `calibrated` where the coefficient is from a calibration and not the house's. */
        opening: z.strictObject({ ...Opening.shape, calibrated: z.iso.date().nullable() }).nullable(),
      }),
    ),
  }),
  z.strictObject({
    kind: z.literal("plate_in_pipe"),
    pipe_m: z.number().positive(),
    pipe_uncertainty_m: z.number().nonnegative(),
    bore_m: z.number().positive(),
    bore_uncertainty_m: z.number().nonnegative(),
    taps: z.enum(["corner", "flange", "d-d2"]),
    /** Null: ISO 5167-2's own. */
    coefficient: z
      .strictObject({ value: z.number().positive(), uncertainty: z.number().nonnegative() })
      .nullable(),
    calibrated: z.iso.date().nullable(),
  }),
]);

const Point = z.strictObject({
  point: Name,
  orifice: Name,
  samples: z.int().positive(),
  readings: z.strictObject({
    suction_Pa: MeanReading,
    power_W: MeanReading,
    voltage_V: MeanReading,
    flow_m3_s: MeanReading.optional(),
    drop_Pa: MeanReading.optional(),
  }),
  suction_Pa: Result,
  flow_m3_s: Result,
  power_W: Result,
  suction_power_W: Result,
  /** Null where it has no value: no input power. */
  efficiency: Result.nullable(),
});

/** What can't be told, and why. */
const Undetermined = z.strictObject({ kind: z.literal("none"), why: Text });

/** Read off the fan curve; `extrapolated` where no tested flow is as small or as large. */
const Figure = z.strictObject({ ...Result.shape, extrapolated: z.boolean() });

const Curve = z.discriminatedUnion("kind", [
  Undetermined,
  z.strictObject({
    kind: z.enum(["line", "parabola"]),
    /** Suction, Pa, over flow, m3/s, to the powers 0, 1 (and 2). */
    coefficients: z.array(z.number()).min(2).max(3),
    suction_at_zero_flow_Pa: z.union([Figure, Undetermined]),
    flow_at_zero_suction_m3_s: z.union([Figure, Undetermined]),
    largest_suction_power_W: z.union([
      z.strictObject({ ...Figure.shape, at_flow_m3_s: z.number() }),
      Undetermined,
    ]),
    /** The curve at each tested point's flow with its standard uncertainty, and how far the point lies from it. */
    tested: z
      .array(
        z.strictObject({
          point: Name,
          flow_m3_s: z.number(),
          suction_Pa: z.number(),
          uncertainty_Pa: z.number().nonnegative(),
          residual_Pa: z.number(),
          /** Residual over what is expected of it, and the chance of a larger one; absent where the curve goes through by force. */
          normalised: z
            .strictObject({ residual: z.number(), probability: z.number().min(0).max(1) })
            .optional(),
        }),
      )
      .readonly(),
    /** Chance of residuals as large as these; null without points to spare. */
    fit_probability: z.number().min(0).max(1).nullable(),
  }),
]);

/**
 * What an airflow step yielded, SI. Results are at `stated_at` (air of 1.20 kg/m3, the supply voltage), or as measured where
 * that is null.
 */
export const TravellerAirflow = z.strictObject({
  step: Name,
  air: z.strictObject({ density_kg_m3: Result }),
  stated_at: z
    .strictObject({
      density_kg_m3: z.number().positive(),
      supply_voltage_V: z.number().positive(),
      speed_per_density: z.number(),
      speed_per_voltage: z.number(),
      exponent_uncertainty: z.number().nonnegative(),
    })
    .nullable(),
  flow_from: FlowFrom,
  points: z.array(Point).readonly(),
  curve: Curve,
});
export type TravellerAirflow = z.infer<typeof TravellerAirflow>;

/** What a failed unit is suspected of, most likely first. */
export const TravellerSuspect = z.strictObject({
  cause: Text,
  look_at: Text,
  evidence: z.array(Text).readonly(),
});
export type TravellerSuspect = z.infer<typeof TravellerSuspect>;
