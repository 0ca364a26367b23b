import { z } from "zod";
import { readPattern } from "./pattern.ts";
import { quantityIssue } from "./quantity-schema.ts";

const LONGEST_NAME = 40;

export const name = (description: string) =>
  z
    .string({ error: () => `text: ${description}` })
    .min(1)
    .max(LONGEST_NAME)
    .regex(/^\S(?:.*\S)?$/u, { error: () => "text without space at its ends" })
    .meta({ description });

export const sentence = (description: string) =>
  z
    .string({ error: () => `text: ${description}` })
    .min(1)
    .max(400)
    .meta({ description });

export const pattern = (description: string, example: string) =>
  z
    .string({ error: () => `text: ${description}, like "${example}"` })
    .meta({ description, examples: [example] })
    .transform((text, context) => {
      const read = readPattern(text);
      if (read.ok) return read.value;
      context.addIssue(quantityIssue(read));
      return z.NEVER;
    });
