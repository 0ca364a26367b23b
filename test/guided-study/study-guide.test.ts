import { describe, expect, it } from "vitest";
import { loadLimitFile } from "../../limits/limit-file.ts";
import { planStudy } from "../../station/guided-study/plan-study.ts";
import { StudyGuide } from "../../station/guided-study/study-guide.ts";
import { NOBODY } from "../../station/people/person.ts";

const limits = loadLimitFile("limits/models/pod-4.yaml");

function guide(): StudyGuide {
  const plan = planStudy(
    {
      ...{ study: "repeatability", name: "RR-1", characteristic: "leak_rate", references: new Map() },
      ...{ parts: ["POD531811", "POD531812"], appraisers: ["A. Marsh", "B. Reyes"], trials: 2, seed: 1 },
    },
    { station: "Line 1", limits, limitFile: "pod-4.yaml", pieces: [], made_ms: 0 },
  );
  return new StudyGuide(plan, [], "drumtight study");
}

const signedIn = (name: string) => ({ name, role: "inspector", how: "badge" }) as const;

describe("the appraiser whose turn it is", () => {
  it("alone may measure where people sign in, however the name is written", () => {
    const { next } = guide().now();
    const [turn, other] =
      next?.appraiser === "A. Marsh" ? ["A. Marsh", "B. Reyes"] : ["B. Reyes", "A. Marsh"];
    const part = next?.part ?? "";
    expect(guide().ask(part, signedIn(turn.toUpperCase())).kind).toBe("asked for");
    expect(guide().ask(part, signedIn(other))).toMatchObject({
      kind: "refused",
      reason: {
        code: "OTHER_APPRAISER",
        sentence: `Study RR-1, 1 of 8, is measured by ${turn}, and ${other} is signed in. Let ${turn} sign in and scan it.`,
      },
    });
  });

  it("is taken at the plan's word where nobody signs in", () => {
    expect(guide().ask(guide().now().next?.part ?? "", NOBODY).kind).toBe("asked for");
  });
});

it("a study does not go on with limits that were changed under it", () => {
  const others = { ...limits, source: { ...limits.source, sha256: "0".repeat(64) } };
  expect(guide().refuseLimits(limits)).toEqual([]);
  expect(
    guide()
      .refuseLimits(others)
      .map(({ code }) => code),
  ).toEqual(["STUDY_LIMITS_CHANGED"]);
});
