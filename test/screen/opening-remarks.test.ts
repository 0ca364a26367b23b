import { describe, expect, it } from "vitest";
import { openingRemarks } from "../../station/screen/opening-remarks.ts";
import { facts } from "../records/example-attempt.ts";

describe("what is said when the station opens", () => {
  it("names the units whose test was broken off, and why units were put on hold", () => {
    const sentence = "The leak reference failed at 08:00 and had passed at 06:00.";
    const interrupted = [
      { traveller: facts("TUB531812", 2, { model: "TUB-12" }) },
      { traveller: facts("TUB531813", 1, { model: "TUB-12" }) },
    ];
    const held = [{ reason: { code: "REFERENCE_FAILED" as const, sentence } }];
    expect(openingRemarks({ interrupted, held })).toEqual([
      "Interrupted before and now void: TUB531812 (attempt 2), TUB531813 (attempt 1).",
      sentence,
    ]);
  });

  it("is nothing where nothing has happened", () => {
    expect(openingRemarks({ interrupted: [], held: [] })).toEqual([]);
  });
});
