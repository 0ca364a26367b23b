import type { Rating } from "../../../station/quality/measurement-system/rated-units.ts";

/** Two appraisers who rated each unit once, so that their cross table is the given one. */
export function ratingsFrom(
  table: readonly (readonly number[])[],
  names: readonly string[] = ["0", "1", "2"],
): Rating[] {
  let unit = 0;
  return table.flatMap((row, i) =>
    row.flatMap((count, j) =>
      Array.from({ length: count }, () => {
        unit += 1;
        const of = { unit: String(unit), trial: "1" };
        return [
          { ...of, appraiser: "A", rating: names[i] ?? "" },
          { ...of, appraiser: "B", rating: names[j] ?? "" },
        ];
      }).flat(),
    ),
  );
}
