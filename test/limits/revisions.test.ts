import { describe, expect, it } from "vitest";
import { revisionsOn } from "../../limits/revisions.ts";

const of = (model: string, revision: number, effectiveDate: string) => ({ model, revision, effectiveDate });

describe("of several revisions of a model", () => {
  const pods = [
    of("POD-4", 6, "2026-03-01"),
    of("POD-4", 4, "2026-01-05"),
    of("TUB-12", 1, "2026-01-05"),
    of("POD-4", 5, "2026-02-01"),
  ];
  it.each([
    ["2026-01-31", 4],
    ["2026-02-01", 5],
    ["2026-02-28", 5],
    ["2026-03-01", 6],
  ])("on %s revision %i counts", (today, revision) => {
    expect(revisionsOn(pods, today)).toEqual([
      expect.objectContaining({ model: "POD-4", revision }),
      expect.objectContaining({ model: "TUB-12" }),
    ]);
  });

  it("a lower one with a later day does not take the place of a higher one", () => {
    expect(revisionsOn([of("POD-4", 5, "2026-02-01"), of("POD-4", 4, "2026-02-20")], "2026-03-01")).toEqual([
      of("POD-4", 5, "2026-02-01"),
    ]);
  });

  it("before the day of any, it is the one that comes first", () => {
    expect(revisionsOn(pods.slice(0, 2), "2025-12-31")).toEqual([pods[1]]);
  });
});
