import { z } from "zod";
import { airflowStep } from "./airflow-step-schema.ts";
import { MEASURANDS } from "./measurand.ts";
import { positive, quantity, wholeNumber } from "./quantity-schema.ts";
import { suspect } from "./suspect-schema.ts";
import { name, pattern, sentence, shortText } from "./text-schema.ts";

const subtractMeanCurve = z
  .boolean({ error: () => "true or false: whether the learned mean curve is taken off first" })
  .meta({ description: "whether the mean curve of the tight reference piece is taken off first" });

const leakMethod = z.discriminatedUnion("kind", [
  z.strictObject({ kind: z.literal("fitted") }).meta({
    description: "heat, slow part and leak fitted together, with what the settle calibration knows",
  }),
  z
    .strictObject({ kind: z.literal("slope"), subtract_mean_curve: subtractMeanCurve })
    .meta({ description: "fixed timer: settle, then the regression slope of all readings" }),
  z
    .strictObject({ kind: z.literal("difference"), subtract_mean_curve: subtractMeanCurve })
    .meta({ description: "fixed timer: settle, then the difference of the ends" }),
]);

const risk = (description: string) =>
  quantity("ratio", { above: "0 %", atMost: "5 %", description, examples: ["0.05 %"] });

const earlyVerdict = z
  .union(
    [
      z.literal("off").meta({ description: "always measure to the end" }),
      z
        .strictObject({
          measure_shortest: positive("time", "0 s", "no verdict sooner than this after settling"),
          look_every: quantity("time", {
            atLeast: "0.05 s",
            description: "time from one look at the curve to the next",
            examples: ["0.25 s"],
          }),
          false_accept: risk(
            'probability, over all looks together, of an early "conforms" for a unit exactly at the limit',
          ),
          false_reject: risk(
            'probability, over all looks together, of an early "does not conform" for a unit exactly at the limit',
          ),
        })
        .meta({ description: "measuring ends as soon as the verdict is certain, within the stated risks" }),
    ],
    {
      error: () => '"off", or a mapping with measure_shortest, look_every, false_accept and false_reject',
    },
  )
  .meta({ description: "whether measuring may end before its longest time" });

const leakStep = z.strictObject({
  step: z.literal("leak"),
  name: name("name of the step, for the characteristics to point at"),
  test_pressure: quantity("pressure", {
    description: "gauge pressure the body is filled to, negative for suction",
    examples: ["-8 kPa", "5 kPa"],
  }),
  fill_tolerance: positive("pressure", "0 Pa", "filled when the pressure is this near to the test pressure"),
  fill_shortest: positive("time", "0 s", "filled sooner than this, the way to the body is blocked"),
  fill_longest: positive("time", "0 s", "a body not filled by then leaks grossly"),
  settle: quantity("time", {
    atLeast: "0 s",
    description:
      "no reading before its end counts: a fixed timer waits here for the gas to reach the body's temperature",
    examples: ["8 s", "0 s"],
  }),
  method: leakMethod.meta({ description: "how the leak rate is taken from the curve" }),
  measure_longest: positive("time", "0 s", "measuring ends at the latest after this"),
  early_verdict: earlyVerdict,
  vented_within: positive("pressure", "0 Pa", "counts as vented within this distance from ambient"),
  vent_shortest: positive(
    "time",
    "0 s",
    "vented sooner than this from the test pressure, the gauge saw the hose and not the body",
  ),
  vent_longest: positive("time", "0 s", "a body not vented by then is not released"),
  if_failed: z
    .enum(["stop", "continue"])
    .meta({ description: "what follows when this step's characteristics do not conform" }),
});

const rule = z.discriminatedUnion("kind", [
  z.strictObject({ kind: z.literal("simple") }).meta({
    description: "simple acceptance: conforms when the value is within the limits (JCGM 106:2012, 8.2)",
  }),
  z
    .strictObject({
      kind: z.literal("guarded"),
      conformance: quantity("ratio", {
        atLeast: "50 %",
        atMost: "99.999 %",
        description: "probability of conformance a passing value must reach",
        examples: ["95 %"],
      }),
    })
    .meta({ description: "guarded acceptance (JCGM 106:2012, 8.3.2)" }),
]);

const limitText = z
  .string({ error: () => 'a limit with its unit, like "60 mL/min"' })
  .meta({ description: "a limit with its unit", examples: ["60 mL/min", "19.5 kPa", "49 L/s", "1290 W"] });

const characteristic = z.strictObject({
  name: name("name of the judged quantity, unique in the file"),
  step: name("name of the step it is measured in"),
  measure: z.enum(MEASURANDS).meta({
    description:
      "leak_rate in a leak step; at a point of an airflow step suction (positive below ambient), flow, power, suction_power or efficiency; from the fan curve through its points largest_suction_power, suction_at_zero_flow or flow_at_zero_suction",
  }),
  point: name("airflow: the point it is taken at").optional(),
  lower: limitText.optional(),
  upper: limitText.optional(),
  rated_input: positive(
    "power",
    "0 W",
    "power, instead of upper: rated input, with the deviation that IEC 60335-1 allows a motor-operated appliance",
  ).optional(),
  rule,
});

const check = z
  .enum(["gs1", "mod-97-10", "mod-37-36"])
  .meta({
    description:
      "check characters at its end: gs1 (digits only, 1 digit), or of ISO/IEC 7064 mod-97-10 (digits and capitals, 2 digits) or mod-37-36 (digits and capitals, 1 character)",
  })
  .optional();

const repeats = (description: string) => wholeNumber({ atLeast: 0, atMost: 10, description });

/** The limit file as written: quantities already SI, except the characteristics' limits, which keep their text. */
export const limitFileShape = z.strictObject({
  drumtight: z.literal("limits/1").meta({ description: "kind and version of this file" }),
  model: z
    .string({ error: () => "text: the model's name" })
    .regex(/^[A-Za-z0-9][A-Za-z0-9._-]{0,31}$/, {
      error: () => "up to 32 letters, digits, dots, hyphens and underscores",
    })
    .meta({ description: "name of the model, unique among the limit files", examples: ["TUB-12"] }),
  title: sentence("what the model is, for people"),
  revision: wholeNumber({ atLeast: 1, description: "counts up with every change" }),
  effective_date: z.iso
    .date({ error: () => "a calendar date, like 2026-01-31" })
    .meta({ description: "first day this revision may judge units (ISO 8601)", examples: ["2026-01-31"] }),
  author: name("who wrote this revision; somebody else approves it"),
  reason: sentence("why this revision was made"),
  serial: z.strictObject({
    pattern: pattern("regular expression of the whole serial", "^TUB[0-9]{6}$"),
    example: z
      .string({ error: () => "text: a serial that fits the pattern" })
      .min(1)
      .max(64),
    check,
  }),
  body: z.strictObject({
    volume: quantity("volume", { above: "0 L", description: "inside volume of the closed body" }),
    volume_uncertainty: quantity("volume", { atLeast: "0 L", description: "its standard uncertainty" }),
    rated_pressure: quantity("pressure", {
      description: "gauge pressure the body withstands, with the sign of the test pressure",
    }),
  }),
  reference: z
    .strictObject({
      temperature: quantity("temperature", { above: "0 K", description: "reference temperature" }),
      pressure: quantity("pressure", { above: "0 Pa", description: "reference pressure, absolute" }),
    })
    .optional()
    .meta({
      description: "what leak rates without conditions refer to; 20 degC and 101.325 kPa if left out",
    }),
  steps: z
    .array(z.discriminatedUnion("step", [leakStep, airflowStep]))
    .min(1)
    .max(10),
  characteristics: z.array(characteristic).min(1).max(100),
  suspects: z
    .array(suspect)
    .max(100)
    .optional()
    .meta({ description: "what a failed unit is suspected of, most likely first" }),
  retest: z.strictObject({
    after_fail: repeats("full tests allowed after a fail without rework"),
    after_void: repeats("repeats allowed after a void, which never count as fails"),
    reasons: z
      .array(shortText("why a failed unit may be tested again without rework"))
      .min(1)
      .max(9)
      .optional()
      .meta({ description: "of which the inspector chooses one, by its number, before a retest" }),
    pause: quantity("time", {
      atLeast: "0 s",
      atMost: "1 h",
      description: "after a fail, motor and gas need so long to cool before the retest",
      examples: ["30 s"],
    }).optional(),
  }),
  parts: z
    .array(
      z.strictObject({
        name: name("name of the tracked part"),
        pattern: pattern("regular expression of the whole part number", "^G[0-9]{4}$"),
        check,
        required: z.boolean().meta({ description: "whether a unit is refused without it" }),
      }),
    )
    .max(20),
});

export type LimitFileText = z.output<typeof limitFileShape>;
