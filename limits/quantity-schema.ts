import { z } from "zod";
import {
  type Dimension,
  dimensionHelp,
  type Parsed,
  parseQuantity,
  type QuantityOptions,
} from "./quantity.ts";

export interface QuantitySchemaOptions extends QuantityOptions {
  /** Texts of the smallest and largest allowed value, themselves allowed. */
  readonly atLeast?: string;
  readonly atMost?: string;
  /** Text of a value that must be exceeded. */
  readonly above?: string;
  /** For editors. */
  readonly description?: string;
  readonly examples?: readonly string[];
}

/**
 * A quantity as text with its unit; the output is the SI value. In JSON Schema (input) it is a string with
 * description and examples.
 * @throws RangeError at once if a bound of the options is not a quantity of the dimension
 * @example z.strictObject({ settle: quantity("time", { above: "0 s" }) })
 */
export function quantity(
  dimension: Dimension,
  options: QuantitySchemaOptions = {},
): z.ZodType<number, string> {
  const { expected, examples } = dimensionHelp(dimension);
  const bounds = boundChecks(dimension, options);
  return z
    .string({ error: () => expected })
    .meta({
      description: options.description ?? expected,
      examples: [...(options.examples ?? examples)],
    })
    .transform((text, context): number => {
      const parsed = parseQuantity(text, dimension, options);
      if (!parsed.ok) {
        context.addIssue(quantityIssue(parsed));
        return z.NEVER;
      }
      const { value_SI } = parsed.value;
      const broken = bounds.find((bound) => !bound.holds(value_SI));
      if (broken) {
        context.addIssue({ code: "custom", message: `${expected}, ${broken.words}` });
        return z.NEVER;
      }
      return value_SI;
    });
}

export interface WholeNumberOptions {
  /** Smallest and largest allowed value, themselves allowed. */
  readonly atLeast?: number;
  readonly atMost?: number;
  /** For editors. */
  readonly description?: string;
}

/** A quantity above zero. @param zero with the unit it is usually written in, for the words of a complaint */
export function positive(
  dimension: "time" | "pressure" | "voltage" | "power",
  zero: string,
  description: string,
) {
  return quantity(dimension, { above: zero, description });
}

/**
 * A whole number, complained of once whatever is wrong with it. In JSON Schema it is an integer with its bounds.
 * Unlike zod's own it lets the rest of the file be looked through.
 * @example z.strictObject({ samples: wholeNumber({ atLeast: 2, atMost: 10_000 }) })
 */
export function wholeNumber(options: WholeNumberOptions = {}): z.ZodType<number, number> {
  const { atLeast, atMost, description } = options;
  const minimum = atLeast ?? Number.MIN_SAFE_INTEGER;
  const maximum = atMost ?? Number.MAX_SAFE_INTEGER;
  const bounds = [
    ...(atLeast === undefined ? [] : [`at least ${atLeast}`]),
    ...(atMost === undefined ? [] : [`at most ${atMost}`]),
  ];
  const expected = ["a whole number", bounds.join(" and ")].filter((words) => words !== "").join(", ");
  return z
    .number({ error: () => expected })
    .refine((value) => Number.isSafeInteger(value) && value >= minimum && value <= maximum, {
      error: () => expected,
    })
    .meta({ type: "integer", minimum, maximum, ...(description === undefined ? {} : { description }) });
}

/** The issue a schema adds when a text is no quantity; readCheckedYaml shows it as found and expected. */
export function quantityIssue(failure: Extract<Parsed<unknown>, { ok: false }>): {
  code: "custom";
  message: string;
  params: { found: string; hint?: string };
} {
  const { found, expected, hint } = failure;
  return { code: "custom", message: expected, params: { found, ...(hint === undefined ? {} : { hint }) } };
}

interface Bound {
  readonly words: string;
  holds(value_SI: number): boolean;
}

function boundChecks(dimension: Dimension, options: QuantitySchemaOptions): Bound[] {
  const limit = (text: string) => {
    const parsed = parseQuantity(text, dimension, options);
    if (!parsed.ok) throw new RangeError(`bound ${parsed.found}: expected ${parsed.expected}`);
    return parsed.value.value_SI;
  };
  const bounds: Bound[] = [];
  const { atLeast, atMost, above } = options;
  if (atLeast !== undefined) {
    const least = limit(atLeast);
    bounds.push({ words: `at least ${atLeast}`, holds: (value) => value >= least });
  }
  if (atMost !== undefined) {
    const most = limit(atMost);
    bounds.push({ words: `at most ${atMost}`, holds: (value) => value <= most });
  }
  if (above !== undefined) {
    const exceeded = limit(above);
    bounds.push({ words: `more than ${above}`, holds: (value) => value > exceeded });
  }
  return bounds;
}
