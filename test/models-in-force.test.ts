import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { readLimitFile } from "../limits/limit-file.ts";
import type { ModelLimits } from "../limits/model.ts";
import { refuseLimits } from "../station/cycle/refusals.ts";
import { type LimitRevision, modelsOn } from "../station/models-in-force.ts";
import { GOOD } from "./limits/good-file.ts";

const limitsOfAll = readLimitFile("m.yaml", GOOD);

type State = "approved" | "draft" | "altered";

function revision(model: string, number: number, effectiveDate: string, state: State): LimitRevision {
  const limits: ModelLimits = { ...limitsOfAll, model, revision: number, effectiveDate };
  if (state === "approved") return { limits, approvedBy: "B. Imani", notApproved: null, isDraft: false };
  const notApproved = `${model} revision ${number} is ${state}.`;
  return { limits, approvedBy: null, notApproved, isDraft: state === "draft" };
}

const judging = (all: readonly LimitRevision[], today: string, allowDrafts = false) =>
  modelsOn(all, today, allowDrafts).models.map(({ limits }) => `${limits.model} ${limits.revision}`);

describe("of several revisions of a model", () => {
  const pods = [
    revision("POD-4", 6, "2026-03-01", "approved"),
    revision("POD-4", 4, "2026-01-05", "approved"),
    revision("TUB-12", 1, "2026-01-05", "approved"),
    revision("POD-4", 5, "2026-02-01", "approved"),
  ];
  it.each([
    ["2026-01-31", 4],
    ["2026-02-01", 5],
    ["2026-02-28", 5],
    ["2026-03-01", 6],
  ])("on %s revision %i judges", (today, number) => {
    expect(judging(pods, today)).toEqual([`POD-4 ${number}`, "TUB-12 1"]);
  });

  it("a lower one with a later day does not take the place of a higher one", () => {
    const both = [
      revision("POD-4", 5, "2026-02-01", "approved"),
      revision("POD-4", 4, "2026-02-20", "approved"),
    ];
    expect(judging(both, "2026-03-01")).toEqual(["POD-4 5"]);
  });

  it("whatever lies there, no model is left without one that is named, and only what is approved, effective and the highest such judges", () => {
    const states = fc.constantFrom<State>("approved", "draft", "altered");
    const days = fc.constantFrom("2026-01-01", "2026-01-02", "2026-01-03");
    const revisions = fc.uniqueArray(
      fc.record({
        model: fc.constantFrom("POD-4", "TUB-12"),
        number: fc.integer({ min: 1, max: 5 }),
        day: days,
        state: states,
      }),
      { minLength: 1, selector: ({ model, number }) => `${model} ${number}` },
    );
    fc.assert(
      fc.property(revisions, days, fc.boolean(), (them, today, allowDrafts) => {
        const all = them.map(({ model, number, day, state }) => revision(model, number, day, state));
        const { models } = modelsOn(all, today, allowDrafts);
        expect(new Set(models.map(({ limits }) => limits.model))).toEqual(
          new Set(them.map(({ model }) => model)),
        );
        for (const chosen of models) {
          const { model, revision: number, effectiveDate } = chosen.limits;
          const others = all.filter(({ limits }) => limits.model === model);
          const higher = others.filter(({ limits }) => limits.revision > number);
          if (refuseLimits(chosen, today, allowDrafts).length > 0) continue;
          expect(effectiveDate <= today).toBe(true);
          if (!allowDrafts) expect(chosen.notApproved).toBeNull();
          for (const { limits, isDraft } of higher) {
            const isAside = limits.effectiveDate > today || (isDraft && !allowDrafts);
            expect(isAside, `${model} ${limits.revision} beside ${number}`).toBe(true);
          }
        }
      }),
    );
  });
});
