import { describe, expect, it } from "vitest";
import { afterLook, afterNews, type News } from "../../station/screen/screen-state.ts";
import { keysNow, whatToDo } from "../../station/screen/sentences.ts";
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

describe("the verdict on the screen", () => {
  it("comes from a recorded attempt and from no other news", () => {
    const others: News[] = [
      { type: "armed", attempt },
      { type: "started", attempt },
      { type: "refused", serial: "TUB531812", reasons: [CALIBRATION] },
      { type: "faulted", reasons: [NO_VENT] },
      { type: "recovered" },
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
});

describe("the keys shown", () => {
  it("offer Esc while a test can be aborted, and no longer while the fixture is made safe", () => {
    const during = (phase: "settle" | "safing") => {
      const progress = { phase, step: null, point: null, elapsed_s: null };
      return keysNow(afterLook(testing(), observed({ machine: "testing", progress }))).map(([key]) => key);
    };
    expect(during("settle")).toContain("Esc");
    expect(during("safing")).not.toContain("Esc");
  });

  it("offer Tab on a fault and Enter on an armed unit", () => {
    expect(keysNow(afterNews(testing(), { type: "faulted", reasons: [NO_VENT] }))[0]).toEqual([
      "Tab",
      "acknowledge",
    ]);
    expect(keysNow(armed())[0]).toEqual(["Enter", "start"]);
    expect(keysNow(atWork("ready")).map(([key]) => key)).not.toContain("Enter");
  });
});

describe("what to do now", () => {
  it("is the refusal's own sentence when a scan was refused", () => {
    const refused = afterNews(atWork("identifying"), {
      type: "refused",
      serial: "TUB531812",
      reasons: [CALIBRATION],
    });
    expect(whatToDo({ ...refused, machine: "ready" })).toBe(
      `TUB531812 was not started. ${CALIBRATION.sentence}`,
    );
  });

  it("is to scan again after a refused start, since the unit is armed no more", () => {
    const guard = { code: "GUARD_OPEN", sentence: "The guard is open. Close it, then start." } as const;
    const checking = { ...armed(), machine: "checking" };
    const refused = afterNews(checking, { type: "refused", serial: "TUB531812", reasons: [guard] });
    expect(whatToDo({ ...refused, machine: "ready" })).toBe(
      "TUB531812 was not started. The guard is open. Close it, then start. It must be scanned again first.",
    );
  });

  it("points to further reasons of a refusal", () => {
    const reasons = [CALIBRATION, NO_VENT];
    const refused = afterNews(armed(), { type: "refused", serial: "TUB531812", reasons });
    expect(whatToDo({ ...refused, machine: "ready" })).toContain("And 1 more, below.");
  });

  it("does not change when a second unit is scanned during a test; the refusal is said beside it", () => {
    const busy = { code: "BUSY", sentence: "A unit is being tested." } as const;
    const scanned = afterNews(testing(), { type: "refused", serial: "TUB531813", reasons: [busy] });
    expect(whatToDo(scanned)).toBe("Keep clear and wait: TUB531812 is being tested.");
    expect(scanned.unit?.serial).toBe("TUB531812");
    expect(scanned.remark).toBe("TUB531813 was not taken. A unit is being tested.");
  });

  it("is to acknowledge after a fault, and the fault is kept until the station has recovered", () => {
    const stopped = afterNews(testing(), { type: "faulted", reasons: [NO_VENT] });
    expect(whatToDo(stopped)).toContain("press Tab");
    expect(stopped.faults).toEqual([NO_VENT.sentence]);
    const scanned = afterNews(stopped, { type: "refused", serial: "X", reasons: [NO_VENT] });
    expect(scanned.faults).toEqual([NO_VENT.sentence]);
    expect(afterNews(scanned, { type: "recovered" }).faults).toEqual([]);
  });

  it("is to start an armed unit, with hands clear", () => {
    expect(whatToDo(armed())).toMatch(/hands clear.*press Enter.*TUB531812/);
  });

  it("names the reference piece that is due", () => {
    const due = observed({ reference: { kind: "due", pieces: ["REF-TIGHT-TUB-12", "REF-LEAK-TUB-12"] } });
    expect(whatToDo(afterLook(atWork("needsReference"), due))).toBe(
      "The reference check is due: put on REF-TIGHT-TUB-12 and scan it.",
    );
  });

  it("names the next simulated unit", () => {
    const next = observed({ next: { serial: "POD531811", isReference: false } });
    expect(whatToDo(afterLook(atWork("ready"), next))).toBe(
      "Press Enter: the next simulated unit, POD531811, is put on and scanned.",
    );
  });

  it.each([
    ["pass", "TUB531812 is good: take it off. Put the next unit on and scan it."],
    [
      "fail",
      "TUB531812 failed: take it off and set it aside for rework. Unplug it before it is opened. Put the next unit on and scan it.",
    ],
    ["void", "TUB531812 has no valid verdict: see why below, then scan it again."],
  ] as const)("after a %s says where the unit goes", (verdict, sentence) => {
    const reasons = verdict === "pass" ? [] : [ABORTED];
    const shown = afterNews(testing(), { type: "finished", finished: finished({ verdict, reasons }) });
    expect(whatToDo(afterLook(shown, observed()))).toBe(sentence);
  });
});
