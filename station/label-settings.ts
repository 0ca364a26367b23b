import { z } from "zod";
import { CHECK_SCHEMES, checkCharacters } from "../limits/check-characters.ts";
import { type Contradiction, entriesOf, keyOf } from "../limits/faulty-file.ts";
import type { ModelLimits } from "../limits/model.ts";
import { nearest } from "../limits/nearest.ts";

/** What printed pages and labels need to know besides the records. */
export interface LabelSettings {
  /** Global trade item numbers by model, 8, 12, 13 or 14 digits. */
  readonly gtins: ReadonlyMap<string, string>;
}

const GTIN_LENGTHS = [8, 12, 13, 14];
const GTIN_WORDS = 'a GTIN in quotation marks, like "04012345678901": 8, 12, 13 or 14 digits';

const gtin = z.string({ error: () => GTIN_WORDS }).superRefine((text, context) => {
  const issue = (message: string) => context.addIssue({ code: "custom", message });
  if (!/^\d+$/.test(text) || !GTIN_LENGTHS.includes(text.length)) return issue(GTIN_WORDS);
  const checked = checkCharacters("gs1", text);
  if (/^0+$/.test(text)) issue("the model's own GTIN: nothing but zeros is none");
  else if (!checked.ok) {
    issue(`a GTIN that ends in its ${CHECK_SCHEMES.gs1.characters}, which is ${checked.expected}`);
  }
});

/** `labels` of a station file. */
export const labelsShape = z.strictObject({ gtins: z.record(z.string(), gtin) }).optional();

export function labelSettings(given: z.output<typeof labelsShape>): LabelSettings {
  return { gtins: new Map(Object.entries(given?.gtins ?? {})) };
}

/** @param faulty models of limit files with mistakes of their own; null when one doesn't even say its model */
export function labelMismatches(
  file: unknown,
  models: readonly ModelLimits[],
  faulty: readonly string[] | null,
): Contradiction[] {
  if (faulty === null) return [];
  const known = [...models.map(({ model }) => model), ...faulty];
  return entriesOf(keyOf(file, "labels"), "gtins").flatMap(([model]): Contradiction[] => {
    if (known.includes(model)) return [];
    const near = nearest(model, known);
    return [
      {
        path: ["labels", "gtins", model],
        isAboutKey: true,
        found: JSON.stringify(model),
        expected: "a model that there is a limit file for",
        ...(near === undefined ? {} : { hint: `did you mean ${near}?` }),
      },
    ];
  });
}
