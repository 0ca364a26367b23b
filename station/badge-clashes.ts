import { type Contradiction, keyOf, listOf, textOf } from "../limits/faulty-file.ts";
import type { ModelLimits } from "../limits/model.ts";
import { sharedText } from "../limits/pattern-overlap.ts";

/**
 * Labels that the station's badge pattern takes too: a badge is never anything else, so that nobody could ever scan such a
 * unit, part or reference piece.
 * @param file a station file, with its faults
 */
export function badgeClashes(file: unknown, models: readonly ModelLimits[]): Contradiction[] {
  const badge = keyOf(keyOf(file, "sign_in"), "badge");
  if (!(badge instanceof RegExp)) return [];
  const pieces = listOf(keyOf(file, "reference_check"), "pieces").flatMap((piece) => {
    const serial = textOf(piece, "serial");
    return serial !== undefined && badge.test(serial) ? [`${serial}, a reference piece`] : [];
  });
  const labels = models.flatMap(({ model, serialPattern, parts }) => [
    ...taken(badge, serialPattern, `as the serials of ${model} do`),
    ...parts.flatMap(({ name, pattern }) => taken(badge, pattern, `as the ${name} of ${model} does`)),
  ]);
  const [first] = [...pieces, ...labels];
  if (first === undefined) return [];
  return [
    {
      path: ["sign_in", "badge"],
      found: `a badge pattern that takes ${first}`,
      expected: "badges that are no serial, part or reference piece",
    },
  ];
}

function taken(badge: RegExp, label: RegExp, words: string): string[] {
  const shared = sharedText(badge, label);
  return shared === null ? [] : [`${shared}, ${words}`];
}
