import { z } from "zod";
import { FINDING_CODES } from "./finding-code.ts";
import { name, pattern, sentence } from "./text-schema.ts";

const times = (description: string) =>
  z
    .number({ error: () => "a number, at least 0: how many times the limit" })
    .min(0)
    .meta({ description });

const condition = z.discriminatedUnion("kind", [
  z
    .strictObject({
      kind: z.literal("ratio"),
      of: name("name of a characteristic"),
      to: z.enum(["lower", "upper"]).meta({ description: "the limit its value is divided by" }),
      at_least: times("the ratio is this or more").optional(),
      at_most: times("the ratio is this or less").optional(),
    })
    .meta({ description: "value over limit; never holds for what was not measured" }),
  z.strictObject({
    kind: z.literal("verdict"),
    of: name("name of a characteristic"),
    is: z.enum(["pass", "fail"]),
  }),
  z
    .strictObject({
      kind: z.literal("finding"),
      codes: z.array(z.enum(FINDING_CODES)).min(1).max(20),
    })
    .meta({ description: "the test found one of these reasons" }),
  z
    .strictObject({
      kind: z.literal("part"),
      part: name("name of a tracked part"),
      pattern: pattern("regular expression of the whole part number", "^T3$"),
    })
    .meta({ description: "the unit's tracked part has such a number" }),
]);

export const suspect = z.strictObject({
  cause: name("what is likely wrong"),
  look_at: sentence("where to look and what to do, in one sentence"),
  when: z.array(condition).min(1).max(20).meta({ description: "conditions that must all hold" }),
});
