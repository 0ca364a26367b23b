import { z } from "zod";
import { quantity } from "../limits/quantity-schema.ts";
import { compilePattern } from "./profile-pattern.ts";

/** The small things of which all profile schemas are made. */

export const word = z.string().regex(/^[a-z][a-z0-9_]*$/, { error: () => "a name of a-z, 0-9 and _" });

export const command = z
  .string()
  .regex(/^[\x20-\x7e\xa0-\xff]+$/, { error: () => "what to send, without the line ending" });

export const pattern = z
  .string()
  .meta({ description: "Regular expression for the whole line, from ^ to $; {number} stands for a number." })
  .transform((text, context): RegExp => {
    const compiled = compilePattern(text);
    if (compiled.ok) return compiled.pattern;
    context.addIssue({ code: "custom", message: compiled.expected });
    return z.NEVER;
  });

export const number = z.number({ error: () => "a number" });

export const every = quantity("time", { atLeast: "1 ms", atMost: "1 h" });

/** Text in a line that stands for something. */
export const mark = z.string().min(1, { error: () => "a text of at least one character" });
