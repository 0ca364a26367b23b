import { mkdirSync, mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { writeStudyPlan } from "../station/guided-study/plan-file.ts";
import { makeStudyPlan, type PlanRequest, type StudyPlan } from "../station/guided-study/study-plan.ts";
import type { AttemptFacts } from "../station/records/traveller.ts";
import { open } from "./records/running-store.ts";
import { runStudy, studyJson, studyRefusal } from "./run-study.ts";
import { leaking, reading, type Store } from "./study-data/made-records.ts";

const PIECE = "REF-LEAK-1";

function planOf(more: Partial<PlanRequest>): StudyPlan {
  return makeStudyPlan({
    ...{ name: "rr", study: "repeatability", station: "line 1", model: "demo-body" },
    ...{ characteristic: "leak rate", unit: "mL/min", upper: 60 },
    limit_file: { path: "demo-body.yaml", revision: 3, sha256: "a".repeat(64) },
    made_at: "2026-01-05T05:00:00.000Z",
    ...{ seed: 1, trials: 2, appraisers: ["A. Marsh", "B. Reyes"], parts: [] },
    ...more,
  });
}

const partsOf = (...serials: string[]) => serials.map((serial) => ({ serial }));
const january = planOf({ parts: partsOf("U1", "U2", "U3") });
const february = planOf({ parts: partsOf("U4", "U5", "U6"), made_at: "2026-02-05T05:00:00.000Z" });
const gross = planOf({ name: "gross", parts: partsOf("U7", "U8") });
const oneGauge = planOf({
  ...{ name: "t1", study: "type1", trials: 30, appraisers: ["A. Marsh"] },
  parts: [{ serial: PIECE, reference: 15 }],
});

let folder = "";
let records = "";

/** As the station marks its attempts for a plan. */
function forPlan({ name, sha256, runs }: StudyPlan, run: number): Partial<AttemptFacts> {
  const { appraiser = "", trial = 0 } = runs[run - 1] ?? {};
  return { draft: true, study: { name, plan_sha256: sha256, run, of: runs.length, appraiser, trial } };
}

async function measureUnits(store: Store, plan: StudyPlan): Promise<void> {
  for (const [i, { part }] of plan.runs.entries()) {
    const value = 5 * Number(part.slice(1)) + ((i * 7) % 5) / 10;
    const characteristic = plan === gross && i === 0 ? { uncertainty: null } : {};
    await leaking(store, part, value, { ...forPlan(plan, i + 1), characteristic });
  }
}

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), "drumtight-by-plan-"));
  records = join(folder, "records");
  mkdirSync(records);
  writeStudyPlan(join(folder, "january.json"), january);
  writeStudyPlan(join(folder, "february.json"), february);
  writeStudyPlan(join(folder, "gross.json"), gross);
  writeStudyPlan(join(folder, "t1.json"), oneGauge);
  writeStudyPlan(join(folder, "never.json"), planOf({ parts: partsOf("U1", "U2"), seed: 9 }));
  const { store } = await open(records);
  await measureUnits(store, january);
  await measureUnits(store, february);
  await measureUnits(store, gross);
  for (const i of oneGauge.runs.keys())
    await reading(store, 15 + ((i * 7) % 5) / 10, forPlan(oneGauge, i + 1));
  for (const [k, value] of [15.2, 15.1, 14.9, 15].entries())
    await reading(store, value, { started_at: `2026-01-0${6 + k}T06:00:00.000Z` });
});

afterAll(() => rmSync(folder, { recursive: true, force: true }));

const by = (plan: string) => ["--records", records, "--study", join(folder, plan)];

describe("a study evaluated by its plan", () => {
  it.each(["january.json", "february.json"])(
    "is not in the way of another one of the same name: %s",
    async (plan) => {
      const { parts, trials, notes } = await studyJson("repeatability", ...by(plan));
      expect({ parts, trials }).toEqual({ parts: 3, trials: 2 });
      expect(notes).toContainEqual("12 attempts for another study of this name, by another plan, left out.");
    },
  );

  it("says where values are rough estimates of gross leaks", async () => {
    const { notes } = await studyJson("repeatability", ...by("gross.json"));
    expect(notes).toContainEqual(
      expect.stringMatching(/^1 of 8 values are rough estimates of gross leaks and no measurements/),
    );
  });

  it("is refused where the records have another plan's measurements alone", async () => {
    expect(await studyRefusal("repeatability", ...by("never.json"))).toMatch(
      /^Study rr was measured with another plan in .*: give the plan it was measured with/,
    );
  });

  it("of one piece takes the width of a leak's tolerance as it does from reference checks", async () => {
    const told = await studyJson("type1", ...by("t1.json"));
    expect(told).toMatchObject({ n: 30, reference: 15, tolerance: 60 });
    expect(told.notes).toContainEqual(expect.stringContaining("from no leak to the upper limit, 60 mL/min"));
    expect((await studyJson("type1", ...by("t1.json"), "--tolerance", "4")).tolerance).toBe(4);
  });
});

describe("what was measured for a plan", () => {
  it("is left out of studies of records, which say so", async () => {
    const asked = ["--records", records, "--model", "demo-body"];
    expect(await studyRefusal("agreement", ...asked)).toMatch(/No valid test of "demo-body"/);
    const leak = [...asked, "--characteristic", "leak_rate"];
    const { out } = await runStudy("stability", ...leak);
    expect(out.replace(/\s+/g, " ")).toContain(
      "30 attempts on reference pieces were for planned studies and were left out.",
    );
  });
});
