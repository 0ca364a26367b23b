import { z } from "zod";
import { readPattern } from "./pattern.ts";
import { quantityIssue } from "./quantity-schema.ts";

const LONGEST_NAME = 40;
const LONGEST_SHORT = 60;

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

/** Shown in one line among others, and chosen by its number. */
export const shortText = (description: string) =>
  z
    .string({ error: () => `text: ${description}` })
    .max(LONGEST_SHORT, { error: () => `at most ${LONGEST_SHORT} characters` })
    .refine((text) => text.trim() === text && text !== "" && !/[\p{C}\p{Zl}\p{Zp}]/u.test(text), {
      error: () => "text in one line, without control characters and without space at its ends",
    })
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
