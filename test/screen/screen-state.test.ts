import { describe, expect, it } from "vitest";
import { afterNews, type News } from "../../station/screen/after-news.ts";
import { afterLook, firstQuestion, type ScreenState } from "../../station/screen/screen-state.ts";
import {
  ABORTED,
  armed,
  attempt,
  atWork,
  CALIBRATION,
  finished,
  NO_VENT,
  observed,
  testing,
} from "./example-state.ts";

const INES = { name: "Ines Roth", role: "inspector", how: "badge" } as const;
const GUARD = { code: "GUARD_OPEN", sentence: "The guard is open. Close it, then start." } as const;

describe("the verdict on the screen", () => {
  it("comes from a recorded attempt and from no other news", () => {
    const others: News[] = [
      { type: "armed", attempt },
      { type: "started", attempt },
      { type: "refused", serial: "TUB531812", reasons: [CALIBRATION] },
      { type: "faulted", reasons: [NO_VENT] },
      { type: "recovered" },
      { type: "signed_in", who: INES },
      { type: "signed_out" },
      { type: "sign_in_refused", sentence: "No.", lockedUntil_ms: null },
      { type: "held", held: { units: 3, sentence: "Held." } },
      { type: "warned", sentence: "Soon." },
      { type: "summed_up", lines: [] },
    ];
    for (const news of others) expect(afterNews(testing(), news).result?.kind, news.type).not.toBe("verdict");
    const recorded = afterNews(testing(), { type: "finished", finished: finished({ verdict: "pass" }) });
    expect(recorded.result).toMatchObject({ kind: "verdict", verdict: "pass", serial: "TUB531812" });
  });

  it("of the unit before is gone as soon as the next one is armed, refused or tested", () => {
    const passed = afterNews(testing(), { type: "finished", finished: finished({}) });
    const next = { ...attempt, serial: "TUB531813" };
    expect(afterNews(passed, { type: "armed", attempt: next }).result).toBeNull();
    expect(afterNews(passed, { type: "started", attempt: next }).result).toBeNull();
    expect(
      afterNews(passed, { type: "refused", serial: "TUB531813", reasons: [CALIBRATION] }).result,
    ).toMatchObject({ kind: "refusal", serial: "TUB531813" });
  });

  it("stays while nothing happens", () => {
    const failed = afterNews(testing(), {
      type: "finished",
      finished: finished({ verdict: "fail", reasons: [ABORTED] }),
    });
    expect(afterLook(failed, observed()).result).toMatchObject({ verdict: "fail" });
  });

  it("is not left behind an overlay, nor is a test or a fault", () => {
    const behind: ScreenState = { ...testing(), overlay: "help" };
    expect(afterNews(behind, { type: "finished", finished: finished({}) }).overlay).toBeNull();
    expect(afterNews(behind, { type: "faulted", reasons: [NO_VENT] }).overlay).toBeNull();
    expect(afterNews({ ...armed(), overlay: "help" }, { type: "started", attempt }).overlay).toBeNull();
  });
});

describe("a refusal", () => {
  const refusedStart = afterNews(
    { ...armed(), machine: "checking" },
    { type: "refused", serial: "TUB531812", reasons: [GUARD] },
  );

  it("of a start leaves the unit armed where the station does", () => {
    const still = afterLook(refusedStart, observed({ machine: "armed" }));
    expect(still).toMatchObject({
      unit: { serial: "TUB531812" },
      result: { kind: "refusal", wasArmed: true },
    });
  });

  it("of a start takes the unit off the screen where the station has given it up", () => {
    expect(afterLook(refusedStart, observed({ machine: "ready" })).unit).toBeNull();
  });

  it("that holds for the moment changes nothing of what is shown", () => {
    const passed = afterNews(testing(), { type: "finished", finished: finished({}) });
    const busy = { code: "BUSY", sentence: "Wait a moment." } as const;
    const told = afterNews(passed, { type: "refused", serial: "TUB531813", reasons: [busy] });
    expect(told.result).toEqual(passed.result);
    expect(told.remark).toBe("TUB531813 was not taken. Wait a moment.");
  });

  it("of something else than a scan does not say that the unit under test was not taken", () => {
    const busy = {
      code: "BUSY",
      sentence: "A unit is being tested. Wait for its verdict, then sign out.",
    } as const;
    const told = afterNews(testing(), { type: "refused", serial: "TUB531812", reasons: [busy] });
    expect(told.remark).toBe(busy.sentence);
  });

  it("of a sign-in is said where it was tried", () => {
    const facts = { ...atWork("signedOut").facts, signIn: "people" as const };
    const asked: ScreenState = {
      ...atWork("signedOut"),
      facts,
      page: "sign_in",
      signIn: firstQuestion(facts),
    };
    const news: News = { type: "sign_in_refused", sentence: "Name or PIN is wrong.", lockedUntil_ms: 5000 };
    const refused = afterNews({ ...asked, signIn: { ...asked.signIn, isBusy: true } }, news);
    expect(refused.signIn).toMatchObject({ said: news.sentence, lockedUntil_ms: 5000, isBusy: false });
    const atStation = afterNews({ ...atWork("ready"), facts }, news);
    expect(atStation).toMatchObject({ page: "work", remark: news.sentence });
  });
});

describe("who is at the station", () => {
  it("is shown from their sign-in to their sign-out, and the next one finds nothing of theirs but the summary", () => {
    const asked: ScreenState = { ...atWork("signedOut"), page: "sign_in" };
    const there = afterNews(asked, { type: "signed_in", who: INES });
    expect(there).toMatchObject({ page: "work", who: INES });
    const busy: ScreenState = {
      ...afterNews(there, { type: "finished", finished: finished({}) }),
      waitingParts: { tub_cavity: "T1" },
      overlay: "help",
    };
    expect(afterNews(busy, { type: "signed_out" })).toMatchObject({
      page: "summary",
      who: { name: null },
      waitingParts: {},
      overlay: null,
      result: null,
      unit: null,
    });
  });

  it("makes no page of a program that is being left", () => {
    const leaving: ScreenState = { ...atWork("ready"), page: "leaving", who: INES };
    expect(afterNews(leaving, { type: "signed_out" }).page).toBe("leaving");
    expect(afterNews(leaving, { type: "signed_in", who: INES }).page).toBe("leaving");
  });
});

describe("units on hold", () => {
  it("are told from the failed check on until the next test", () => {
    const failed = afterNews(testing(), {
      type: "finished",
      finished: finished({ verdict: "fail", reasons: [ABORTED] }),
    });
    const held = afterNews(failed, { type: "held", held: { units: 14, sentence: "In doubt." } });
    expect(held.held).toEqual({ units: 14, sentence: "In doubt." });
    expect(afterNews(held, { type: "armed", attempt }).held?.units).toBe(14);
    expect(afterNews(held, { type: "started", attempt }).held).toBeNull();
  });
});

describe("a summed up shift", () => {
  it("is kept to be shown", () => {
    expect(afterNews(atWork("ready"), { type: "summed_up", lines: ["12 tested"] }).summaryLines).toEqual([
      "12 tested",
    ]);
  });
});
