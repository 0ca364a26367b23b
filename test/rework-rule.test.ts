import { describe, expect, it } from "vitest";
import { NOBODY } from "../station/people/person.ts";
import { decider } from "../station/records/disposition.ts";
import { type Dispositions, openDispositions } from "../station/records/dispositions.ts";
import type { RecordStore } from "../station/records/store.ts";
import { whyNoRework } from "../station/rework-rule.ts";
import { facts, outcome } from "./records/example-attempt.ts";
import { open, record } from "./records/running-store.ts";
import { scratchFolder } from "./records/scratch-folder.ts";

const RULE = { afterFail: 1, afterVoid: 2 };
const MAY = null;

type Step = "fail" | "void" | "pass" | "rework" | "scrap";

/** What happened to one unit, as the records of a station tell it. */
async function unitAfter(...steps: readonly Step[]) {
  const folder = scratchFolder();
  const { store } = await open(folder);
  const dispositions = await openDispositions(folder);
  let attempt = 0;
  for (const step of steps) {
    if (step === "rework" || step === "scrap") await decide(dispositions, step);
    else await test(store, ++attempt, step);
  }
  return dispositions.standingOf("A1");
}

async function test(store: RecordStore, attempt: number, verdict: "pass" | "fail" | "void"): Promise<void> {
  if (verdict === "pass") {
    await record(store, "A1", attempt);
    return;
  }
  const code = verdict === "fail" ? "GROSS_LEAK" : "GUARD_OPENED";
  const begun = await store.begin(facts("A1", attempt));
  await store.commit(begun, outcome({ verdict, reasons: [{ code, sentence: "So it was." }] }));
}

async function decide(dispositions: Dispositions, kind: "rework" | "scrap"): Promise<void> {
  const { newest } = await dispositions.standingOf("A1");
  if (!newest) throw new Error("Nothing was tested.");
  await dispositions.dispose({
    kind,
    by: decider(NOBODY),
    units: [{ serial: "A1", attempt: newest.attempt, traveller: newest.sha256 }],
    reason: { code: "BY_HAND", sentence: "Somebody decided." },
    ...(kind === "rework" ? { rework: { cause: "gasket pinched", action: "new gasket" } } : {}),
  });
}

describe("a rework may be recorded", () => {
  it.each<[readonly Step[], RegExp | null]>([
    [["fail"], MAY],
    [["fail", "fail"], MAY],
    // The retest measured nothing: the unit is a failed one still.
    [["fail", "void"], MAY],
    [["void", "void", "void"], MAY],
    [["fail", "rework", "fail"], MAY],
    [["fail", "rework", "void", "void", "void"], MAY],
    [["pass"], /did not fail, its attempt 1 passed/],
    [["fail", "pass"], /its attempt 2 passed/],
    [["void", "void"], /gave no valid measurement, and did not fail: test it again/],
    [["fail", "rework"], /recorded already, after attempt 1: test it now/],
    // Else one fail would be worth two reworks, and as many tests.
    [["fail", "rework", "void"], /gave no valid measurement/],
    [["fail", "rework", "pass"], /attempt 2 passed/],
    [["fail", "scrap"], /was scrapped/],
  ])("after %j: %s", async (steps, words) => {
    const why = whyNoRework(await unitAfter(...steps), RULE);
    if (words === null) expect(why).toBeNull();
    else expect(why).toMatch(words);
  });

  it("for want of valid measurements only where the limit file's rule is known", async () => {
    const unit = await unitAfter("void", "void", "void");
    expect(whyNoRework(unit, null)).toMatch(/add --station FILE/);
    expect(whyNoRework(await unitAfter("fail"), null)).toBeNull();
  });
});
