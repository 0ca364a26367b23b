import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { loadLimitFile } from "../../limits/limit-file.ts";
import { readStudyPlan, writeStudyPlan } from "../../station/guided-study/plan-file.ts";
import { type PlanAsked, planStudy } from "../../station/guided-study/plan-study.ts";
import type { StudyPlan } from "../../station/guided-study/study-plan.ts";
import { readStationFileAlone } from "../../station/load-station.ts";
import { scratchFolder } from "../records/scratch-folder.ts";

const limits = loadLimitFile("limits/models/pod-4.yaml");
const pieces = readStationFileAlone("sim/demo-station.yaml").referenceCheck?.pieces ?? [];

function planned(more: Partial<PlanAsked> = {}): StudyPlan {
  const asked: PlanAsked = {
    study: "repeatability",
    name: "RR-1",
    characteristic: "leak_rate",
    parts: ["POD531811", "POD531812", "POD531813"],
    references: new Map(),
    appraisers: ["A. Marsh", "B. Reyes"],
    trials: 3,
    seed: 1,
    ...more,
  };
  return planStudy(asked, { station: "Line 1", limits, limitFile: "pod-4.yaml", pieces, made_ms: 0 });
}

const PART_COUNTS = fc.integer({ min: 2, max: 8 });

describe("the order of a study", () => {
  it("has each appraiser measure every part once in each trial, trial after trial, an appraiser at a time", () => {
    fc.assert(
      fc.property(PART_COUNTS, fc.nat(1000), fc.integer({ min: 2, max: 4 }), (count, seed, trials) => {
        const parts = Array.from({ length: count }, (_, i) => `POD53181${i}`);
        const { runs } = planned({ parts, seed, trials });
        const turns = Array.from({ length: trials * 2 }, (_, i) => runs.slice(i * count, (i + 1) * count));
        for (const [i, turn] of turns.entries()) {
          expect(turn.map(({ part }) => part).sort()).toEqual(parts);
          expect(new Set(turn.map(({ trial }) => trial))).toEqual(new Set([1 + Math.floor(i / 2)]));
          expect(new Set(turn.map(({ appraiser }) => appraiser)).size).toBe(1);
        }
        expect(runs).toHaveLength(count * trials * 2);
      }),
      { numRuns: 30 },
    );
  });

  it("is drawn from the seed: the same again for the same one, and another for another", () => {
    expect(planned({ seed: 5 })).toEqual(planned({ seed: 5 }));
    expect(planned({ seed: 5 }).runs).not.toEqual(planned({ seed: 6 }).runs);
  });

  it("favours no part: over many seeds each comes first about equally often", () => {
    const firsts = new Map<string, number>();
    for (let seed = 0; seed < 600; seed++) {
      const first = planned({ seed }).runs[0]?.part ?? "";
      firsts.set(first, (firsts.get(first) ?? 0) + 1);
    }
    // 200 of each, standard deviation 11.5.
    for (const count of firsts.values()) expect(Math.abs(count - 200)).toBeLessThan(50);
    expect(firsts.size).toBe(3);
  });
});

describe("a plan file", () => {
  it("is read as it was written, and is never written over", () => {
    const path = join(scratchFolder(), "rr-1.json");
    writeStudyPlan(path, planned());
    expect(readStudyPlan(path)).toEqual(planned());
    expect(() => writeStudyPlan(path, planned({ seed: 2 }))).toThrow(/is there already/);
    expect(readStudyPlan(path)).toEqual(planned());
  });

  it.each([
    ["an appraiser of one run", /"appraiser":"A. Marsh"/, '"appraiser":"B. Reyes"'],
    ["the seed", '"seed": 1', '"seed": 2'],
    ["a limit", '"upper": 25', '"upper": 50'],
    ["its limit file", '"revision": 4', '"revision": 5'],
  ])("is refused where somebody has changed %s", (_, from, to) => {
    const path = join(scratchFolder(), "rr-1.json");
    writeStudyPlan(path, planned());
    const text = readFileSync(path, "utf8");
    expect(text).toMatch(from);
    writeFileSync(path, text.replace(from, to));
    expect(() => readStudyPlan(path)).toThrow(/sha256: the plan was changed since it was written/);
  });

  it("is refused in one sentence where there is none, or half of one", () => {
    const path = join(scratchFolder(), "rr-1.json");
    expect(() => readStudyPlan(path)).toThrow(/^There is no study plan .*: write one with/);
    writeFileSync(path, '{"format": "drumtight');
    expect(() => readStudyPlan(path)).toThrow(/^.*rr-1.json is no study plan: it is no whole JSON file/);
    writeFileSync(path, "{}");
    expect(() => readStudyPlan(path)).toThrow(/^The study plan .*rr-1.json can't be used: format: /);
  });
});

describe("what is asked for", () => {
  it("comes with the certified values of the station's reference pieces, in the limit's unit", () => {
    const { parts, unit, upper } = planned({
      study: "type1",
      parts: ["REF-LEAK-POD-4"],
      trials: undefined,
      appraisers: ["A. Marsh"],
    });
    expect({ parts, unit, upper }).toEqual({
      parts: [{ serial: "REF-LEAK-POD-4", reference: 12.5 }],
      unit: "mL/min",
      upper: 25,
    });
  });

  it("takes known values with or without their unit", () => {
    const references = new Map([
      ["POD531811", "12.5"],
      ["POD531812", "0.012 L/min @ 20 degC"],
    ]);
    const { parts } = planned({ study: "bias", parts: [...references.keys()], references });
    expect(parts.map(({ reference }) => reference)).toEqual([12.5, 12]);
  });

  it.each<[string, Partial<PlanAsked>, RegExp]>([
    ["a serial of another model", { parts: ["TUB531811", "POD531812"] }, /"TUB531811" is no serial of POD-4/],
    ["a part twice", { parts: ["POD531811", "POD531811"] }, /--parts: "POD531811" is there twice/],
    ["one part alone", { parts: ["POD531811"] }, /give two or more/],
    ["an appraiser twice", { appraisers: ["A. Marsh", "a.  marsh"] }, /--appraisers: .* twice/],
    ["nobody", { appraisers: [] }, /--appraisers: give at least one/],
    ["one trial", { trials: 1 }, /--trials: give two or more/],
    ["more than anybody can measure", { trials: 500 }, /3000 measurements, and a plan has 2000 at most/],
    ["no such characteristic", { characteristic: "leek" }, /found "leek", and POD-4 has leak rate/],
    ["none at all", { characteristic: undefined }, /Add --characteristic: POD-4 has leak rate/],
    ["a bias of unknown values", { study: "bias" }, /what is known of POD531811/],
    ["two pieces for one", { study: "type1" }, /measures one piece again and again, and 3 are given/],
    [
      "a reference orifice for a leak",
      { parts: ["REF-ORIFICE-POD-4", "POD531812"] },
      /does not measure leak rate/,
    ],
    [
      "a piece of another model",
      { parts: ["REF-LEAK-TUB-12", "POD531812"] },
      /is of model TUB-12, not POD-4/,
    ],
    [
      "ratings of some parts only",
      { study: "agreement", characteristic: undefined, references: new Map([["POD531811", "pass"]]) },
      /of all parts whether they pass or fail/,
    ],
    [
      "a reference piece for a rating, whose verdict is of its certificate",
      { study: "agreement", characteristic: undefined, parts: ["REF-LEAK-POD-4", "POD531812"] },
      /REF-LEAK-POD-4 is judged by its certificate/,
    ],
    [
      "a value for a rating",
      { study: "agreement", characteristic: undefined, references: new Map([["POD531811", "30"]]) },
      /expected pass or fail/,
    ],
    ["a known value of no part", { references: new Map([["POD531899", "3"]]) }, /is none of --parts/],
  ])("is refused with a sentence: %s", (_, more, sentence) => {
    expect(() => planned(more)).toThrow(sentence);
  });
});
