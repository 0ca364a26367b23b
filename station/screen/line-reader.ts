import type { ModelLimits } from "../../limits/model.ts";
import { meaningOf, type ScanMeaning, type ScanPlace } from "../scan-meaning.ts";
import { BadgeCover } from "./badge-cover.ts";

/** What a whole line means at this station. */
export type LineMeaning =
  | ScanMeaning
  /** A badge stands in it beside something else, or a badge was read in part: nothing of it may be said again. */
  | { readonly kind: "part_of_badge" };

/** Reads entered lines, and says what of a line may be drawn. */
export interface LineReader {
  meaning(line: string, armed: ModelLimits | null): LineMeaning;
  /** @param cursor in characters, where more are being added */
  drawn(line: string, cursor: number): string;
}

export function lineReader(place: Omit<ScanPlace, "armed">): LineReader {
  const { models, badge } = place;
  const cover = new BadgeCover(
    badge,
    models.map(({ serialPattern }) => serialPattern),
  );
  let last = { line: "", cursor: 0, drawn: "" };
  return {
    meaning(line, armed) {
      const meaning = meaningOf(line, { ...place, armed });
      const isBadge = meaning.kind === "badge";
      return !isBadge && cover.holdsBadge(line.trim()) ? { kind: "part_of_badge" } : meaning;
    },
    drawn(line, cursor) {
      // Asked again with every look at the station, and a jammed scanner's line is long.
      if (line !== last.line || cursor !== last.cursor)
        last = { line, cursor, drawn: cover.drawn(line, cursor) };
      return last.drawn;
    },
  };
}
