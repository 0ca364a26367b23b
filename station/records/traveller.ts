import { z } from "zod";
import { MEASURANDS } from "../../limits/measurand.ts";
import { CURVE_ENCODING, CURVE_UNITS } from "./curve.ts";
import { Instant, Reason, Serial, Sha256Hex, Text } from "./record-words.ts";
import { TravellerAirflow, TravellerSuspect } from "./traveller-airflow.ts";
import { contradictions, TRAVELLER_FORMAT } from "./traveller-rules.ts";

const Name = z.string().min(1).max(200);
const Duration_s = z.number().nonnegative();

const DecisionRule = z.discriminatedUnion("kind", [
  z.strictObject({ kind: z.literal("simple") }),
  z.strictObject({ kind: z.literal("guarded"), conformance: z.number().gt(0).lt(1) }),
]);

/**
 * One component of a measurement's uncertainty budget: `estimate` and its standard uncertainty `value` in `unit`;
 * `contribution` is standard, in the characteristic's unit, and `share` its part of the combined variance.
 */
const BudgetLine = z.strictObject({
  component: Name,
  estimate: z.number().optional(),
  value: z.number().nonnegative(),
  unit: z.string(),
  sensitivity: z.number(),
  contribution: z.number().nonnegative(),
  share: z.number().min(0).max(1).optional(),
});

/** The looks taken during a measuring time that could end early; `at_s` since the attempt's start. */
const Looks = z.strictObject({
  taken: z.int().positive(),
  at_s: Duration_s,
  early: z.boolean(),
  /** Of an early verdict: standard uncertainties from the limit, how many it had to be, and the risk spent by then. */
  distance: z.number().optional(),
  boundary: z.number().optional(),
  risk_spent: z.number().min(0).max(1).optional(),
});

/** How a leak rate was taken from its curve; times since the body was shut off. */
const HowMeasured = z.strictObject({
  method: z.enum(["fitted", "slope", "difference"]),
  mean_curve_subtracted: z.boolean().optional(),
  from_s: z.number(),
  to_s: z.number(),
  samples: z.int().positive(),
  left_out: z.int().nonnegative(),
  noise_ratio: z.number().nonnegative().optional(),
  fit_probability: z.number().min(0).max(1).optional(),
  tau_s: z.number().positive().optional(),
  spreads_widened: z.number().positive().optional(),
  looks: Looks.optional(),
});

/** A judged quantity. All numbers are in `unit`, the unit of the limit. */
const MeasuredCharacteristic = z
  .strictObject({
    name: Name,
    step: Name,
    point: Name.optional(),
    measurand: z.enum(MEASURANDS),
    value: z.number().nullable(),
    unit: Name,
    /** Standard uncertainty. */
    uncertainty: z.number().nonnegative().nullable(),
    /** Coverage factor k = 2. */
    expanded_uncertainty: z.number().nonnegative().nullable(),
    lower: z.number().optional(),
    upper: z.number().optional(),
    /** Where `upper` comes from: the rated input, with what IEC 60335-1 allows a motor-operated appliance. */
    rated_input: z.number().positive().optional(),
    rule: DecisionRule,
    /** Probability that the unit conforms, JCGM 106. */
    conformance: z.number().min(0).max(1).nullable(),
    verdict: z.enum(["pass", "fail", "void"]),
    why: Text.optional(),
    budget: z.array(BudgetLine).readonly().optional(),
    how: HowMeasured.optional(),
  })
  .refine((it) => it.value !== null || it.why !== undefined, {
    path: ["why"],
    error: "a characteristic without a value says why",
  })
  .refine((it) => it.value !== null || it.verdict !== "pass", {
    path: ["verdict"],
    error: "a characteristic without a value can't pass",
  });

const PhaseTime = z.strictObject({
  step: Name,
  phase: Name,
  point: Name.optional(),
  /** Since the attempt's start. */
  at_s: Duration_s,
  seconds: Duration_s,
  /** Of the phase "fill": gauge pressures of source and body, medians of a few readings. */
  fill: z
    .strictObject({
      source_at_rest_Pa: z.number(),
      source_at_end_Pa: z.number().nullable(),
      pressure_at_end_Pa: z.number(),
    })
    .optional(),
});

const Curve = z.strictObject({
  step: Name,
  phase: Name.optional(),
  channel: Name,
  point: Name.optional(),
  encoding: z.literal(CURVE_ENCODING),
  samples: z.int().nonnegative(),
  time_unit: z.literal("us"),
  value_unit: z.enum(CURVE_UNITS),
  data: z.string(),
});

const CertifiedPiece = z.strictObject({
  piece: Name,
  certified_value: z.number(),
  tolerance: z.number().nonnegative(),
  unit: Name,
});

/** Who was signed in: "off" and "stated" are nobody's word or their own, "badge" and "pin" are proven. */
const Who = z.strictObject({
  inspector: Text.nullable(),
  sign_in: z.enum(["off", "stated", "badge", "pin"]),
  role: z.enum(["inspector", "engineer", "supervisor"]).optional(),
});

/** Which measurement of a planned study the attempt is; the piece is the attempt's serial. */
const StudyRun = z.strictObject({
  name: Name,
  plan_sha256: Sha256Hex,
  run: z.int().positive(),
  of: z.int().positive(),
  appraiser: Text,
  trial: z.int().positive(),
});

/** What is known of an attempt before it starts; kept as the open-attempt intent until its traveller is on disk. */
export const AttemptFacts = z.strictObject({
  kind: z.enum(["unit", "reference"]),
  serial: Serial,
  model: Name,
  parts: z.record(Name, Text),
  attempt: z.strictObject({
    number: z.int().positive(),
    kind: z.enum(["first", "retest", "after_rework"]),
  }),
  /** Counts for nothing, whatever its verdict: on limits that nobody has approved, or measured for a study. */
  draft: z.boolean(),
  study: StudyRun.optional(),
  started_at: Instant,
  who: Who,
  /** Of a retest: why it was allowed, as the inspector chose it from the limit file's reasons. */
  retest_reason: Text.optional(),
  station: z.strictObject({ name: Name, software: Name, simulated: z.boolean() }),
  limit_file: z.strictObject({
    path: Name.refine((it) => !/[\\/]/.test(it), "expected a file name without folders"),
    model: Name,
    revision: z.int().nonnegative(),
    sha256: Sha256Hex,
    approved_by: Text.nullable(),
  }),
  gauges: z
    .array(
      z.strictObject({
        name: Name,
        profile: Name,
        identity: z.string(),
        calibration_due: z.iso.date().nullable(),
      }),
    )
    .readonly(),
  reference_check: z.strictObject({ at: Instant, travellers: z.array(Sha256Hex).readonly() }).nullable(),
  /** What had been learned of the model on this station, and was measured with. */
  calibrations: z
    .array(z.strictObject({ kind: z.enum(["settle", "volume"]), file: Name, date: Text, sha256: Sha256Hex }))
    .readonly()
    .optional(),
  /** The reference piece on the fixture, for kind "reference" only. */
  reference: CertifiedPiece.optional(),
});
export type AttemptFacts = z.infer<typeof AttemptFacts>;

/** What the test found. */
export const AttemptOutcome = z.strictObject({
  verdict: z.enum(["pass", "fail", "void"]),
  reasons: z.array(Reason).readonly(),
  /** Null, as the duration, only where nobody saw the end: the attempt was interrupted. */
  ended_at: Instant.nullable(),
  duration_s: Duration_s.nullable(),
  ambient: z
    .strictObject({
      temperature_K: z.number().positive(),
      pressure_Pa: z.number().positive(),
      relative_humidity: z.number().min(0).max(1),
      /** Read and entered by somebody, and when; absent where instruments gave it. */
      entered: z.strictObject({ by: Name, at: Instant }).optional(),
    })
    .nullable(),
  characteristics: z.array(MeasuredCharacteristic).readonly(),
  phases: z.array(PhaseTime).readonly(),
  curves: z.array(Curve).readonly(),
  /** One per airflow step that came to a point. */
  airflow: z.array(TravellerAirflow).readonly().optional(),
  /** Of a failed unit, by the limit file's rules, most likely first; absent where none fits. */
  suspects: z.array(TravellerSuspect).readonly().optional(),
  /** For kind "reference" only; `measured` is in the certified value's unit. */
  reference: z.strictObject({ measured: z.number().nullable(), conforms: z.boolean() }).optional(),
});
export type AttemptOutcome = z.infer<typeof AttemptOutcome>;

/** One attempt, as it is kept for ever. */
export const Traveller = z
  .strictObject({
    format: z.literal(TRAVELLER_FORMAT),
    id: z.string().regex(/^[0-9a-f]{32}$/),
    ...AttemptFacts.shape,
    ...AttemptOutcome.shape,
    reference: z
      .strictObject({ ...CertifiedPiece.shape, measured: z.number().nullable(), conforms: z.boolean() })
      .optional(),
    chain: z.strictObject({ sequence: z.int().positive(), previous: Sha256Hex.nullable() }),
  })
  .superRefine((it, context) => {
    for (const [path, message] of contradictions(it))
      context.addIssue({ code: "custom", path: [path], message });
  });
export type Traveller = z.infer<typeof Traveller>;
