import { z } from "zod";
import { positive, quantity, wholeNumber } from "./quantity-schema.ts";
import { name } from "./text-schema.ts";

const airflowPoint = z.strictObject({
  name: name("name of the point, for the characteristics to point at"),
  orifice: name("name of an orifice of the station file"),
  known_within: quantity("ratio", {
    above: "0 %",
    atMost: "10 %",
    description:
      "the point ends when its means are known this well, or as well as the constant part of the gauge's certificate, where that is more: expanded uncertainty (k = 2) of their scatter",
    examples: ["0.3 %"],
  }),
  samples_least: wholeNumber({
    atLeast: 4,
    atMost: 10_000,
    description: "never from fewer steady samples than this",
  }),
  hold_longest: positive("time", "0 s", "void when not known by then"),
});

const steady = z
  .strictObject({
    within: quantity("ratio", {
      above: "0 %",
      atMost: "20 %",
      description: "part of its mean that a steady quantity may still move in the time ahead",
      examples: ["1 %"],
    }),
    window: positive("time", "0 s", "shortest time the trend is taken from"),
    ahead: positive("time", "0 s", "how far ahead the trend is followed"),
  })
  .meta({ description: "when suction and power count as steady" });

const exponent = (least: number, most: number, description: string) =>
  z
    .number({ error: () => `a number from ${least} to ${most}: the exponent of the motor's speed` })
    .min(least)
    .max(most)
    .meta({ description });

const correction = z
  .union(
    [
      z.literal("off").meta({ description: "results are stated as measured" }),
      z.strictObject({
        speed_per_density: exponent(
          -0.5,
          0,
          "speed answers as (density / 1.20 kg/m3) to this power; a series motor: -0.17, one held at constant speed: 0",
        ),
        speed_per_voltage: exponent(
          0,
          1,
          "speed answers as (voltage / supply voltage) to this power; a series motor: 0.55, one held at constant speed: 0",
        ),
        exponent_uncertainty: z
          .number({ error: () => "a number from 0 to 0.5: the standard uncertainty of either exponent" })
          .min(0)
          .max(0.5)
          .meta({ description: "standard uncertainty of either exponent" }),
      }),
    ],
    {
      error: () => '"off", or a mapping with speed_per_density, speed_per_voltage and exponent_uncertainty',
    },
  )
  .meta({ description: "states results at 1.20 kg/m3 and at the supply voltage, by the fan laws" });

export const airflowStep = z.strictObject({
  step: z.literal("airflow"),
  name: name("name of the step, for the characteristics to point at"),
  supply_voltage: positive("voltage", "0 V", "mains voltage the limits hold for"),
  supply_tolerance: positive("voltage", "0 V", "outside this deviation the unit is void, not failed"),
  running_above: positive("power", "0 W", "input power above which the motor counts as started"),
  stopped_below: positive("power", "0 W", "input power below which the motor counts as stopped"),
  power_highest: positive(
    "power",
    "0 W",
    "more than this after the inrush ends the run-up: the motor draws too much",
  ),
  inrush_longest: positive("time", "0 s", "a sound motor's inrush is over by then"),
  run_up_longest: positive("time", "0 s", "a motor not steady by then did not start, or stays slow"),
  steady,
  points: z.array(airflowPoint).min(1).max(20),
  coast_longest: positive("time", "0 s", "a motor still drawing power by then has a contactor fault"),
  correction,
});
