import { describe, expect, it } from "vitest";
import type { ReasonCode } from "../../station/cycle/reason.ts";
import { stationMachine } from "../../station/cycle/station-machine.ts";
import type { RetestLeft } from "../../station/retest-left.ts";
import { afterNews } from "../../station/screen/after-news.ts";
import {
  afterLook,
  firstQuestion,
  type ReferenceOnScreen,
  type ScreenState,
} from "../../station/screen/screen-state.ts";
import { keysNow, whatToDo } from "../../station/screen/sentences.ts";
import { STATE_MEANINGS } from "../../station/screen/station-states.ts";
import {
  ABORTED,
  armed,
  armedWith,
  attempt,
  atWork,
  CALIBRATION,
  finished,
  NO_VENT,
  observed,
  testing,
} from "./example-state.ts";

const INES = { name: "Ines Roth", role: "inspector", how: "badge" } as const;
const ENGINEER = { name: "Uwe Lang", role: "engineer", how: "badge" } as const;
const SAME_FAIL = {
  code: "SAME_FAIL_IN_A_ROW",
  sentence: "6 units in a row failed by their leak rate.",
} as const;

/** Every state the station's machine can be in, and each page. */
const MACHINES = Object.keys(stationMachine.states);
const PAGES = ["cautions", "sign_in", "work", "summary", "leaving"] as const;

function ofPeople(state: ScreenState): ScreenState {
  const facts = { ...state.facts, signIn: "people" as const };
  return { ...state, facts, signIn: firstQuestion(facts) };
}

function due(more: Partial<Extract<ReferenceOnScreen, { kind: "due" }>> = {}): ReferenceOnScreen {
  const [tight, leak] = (["tight", "leak"] as const).map((kind) => ({
    serial: `REF-${kind.toUpperCase()}-TUB-12`,
    kind,
    model: "TUB-12",
    why: "shift" as const,
  }));
  if (!tight || !leak) throw new Error("There are two.");
  return { kind: "due", pieces: [tight, leak], step: 1, of: 2, warnings: [], ...more };
}

describe("every state of the station", () => {
  it("has a meaning, and no state that does not exist has one", () => {
    expect(Object.keys(STATE_MEANINGS).sort()).toEqual([...MACHINES].sort());
  });

  it("has a sentence of what to do and a key that works, on every page", () => {
    for (const machine of MACHINES) {
      for (const page of PAGES) {
        for (const state of [atWork(machine, { page }), ofPeople(atWork(machine, { page }))]) {
          expect(whatToDo(state), `${machine} on ${page}`).toMatch(/^[A-Z].*[.]$/);
          expect(keysNow(state).length, `${machine} on ${page}`).toBeGreaterThan(0);
        }
      }
    }
  });

  it("says another thing at work than the states beside it", () => {
    const said = [
      "needsReference",
      "armed",
      "checking",
      "testing",
      "faulted",
      "recovering",
      "identifying",
    ].map((machine) =>
      whatToDo(
        machine === "armed"
          ? armed()
          : atWork(machine, { observed: observed({ machine, reference: due() }) }),
      ),
    );
    expect(new Set(said).size).toBe(said.length);
  });
});

function finishedPiece(verdict: "pass" | "fail") {
  const { traveller } = finished({ verdict, reasons: verdict === "pass" ? [] : [ABORTED] });
  const reference = {
    serial: "TUB531812",
    kind: "tight",
    model: "TUB-12",
    certified_m3_s: 0,
    tolerance_m3_s: 3e-8,
    unit: "mL/min",
    orifice: null,
  } as const;
  return { attempt: { ...attempt, reference }, traveller: { ...traveller, kind: "reference" as const } };
}

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

  it("calls a stopped station safe only where the I/O block has confirmed it, and nothing is left in the body", () => {
    const stoppedBy = (code: ReasonCode, areOutputsSafe: boolean) => {
      const stopped = afterNews(testing(), { type: "faulted", reasons: [{ code, sentence: "Why." }] });
      return whatToDo(afterLook(stopped, observed({ machine: "faulted", areOutputsSafe })));
    };
    expect(stoppedBy("INSTRUMENT_FAULT", true)).toMatch(/^STOPPED, outputs safe: keep clear/);
    for (const said of [stoppedBy("INSTRUMENT_FAULT", false), stoppedBy("OUTPUT_FAULT", true)]) {
      expect(said).toMatch(/^STOPPED, outputs NOT confirmed: treat the fixture as live, keep clear/);
    }
    // A gauge that stands still shows no vent either.
    for (const said of [stoppedBy("VENT_NOT_COMPLETED", true), stoppedBy("GAUGE_FROZEN", true)]) {
      expect(said).toMatch(/^STOPPED, pressure may be trapped in the body: do not open, keep clear/);
    }
    expect(stoppedBy("MOTOR_STILL_RUNNING", true)).toMatch(/^STOPPED, the motor may still run: /);
    expect(stoppedBy("VENT_NOT_COMPLETED", false)).toMatch(/NOT confirmed, pressure may be trapped/);
  });

  it("is to start an armed unit, with hands clear", () => {
    expect(whatToDo(armed())).toMatch(/hands clear.*press Enter.*TUB531812/);
  });

  it("leads through the reference check: which piece, which step, what to do, why", () => {
    const first = afterLook(
      atWork("needsReference"),
      observed({ machine: "needsReference", reference: due() }),
    );
    expect(whatToDo(first)).toBe(
      "Reference check, step 1 of 2: put on REF-TIGHT-TUB-12, close the guard, scan it, press Enter. It is due because the shift has begun.",
    );
    const [, leak] = (first.observed.reference.kind === "due" && first.observed.reference.pieces) || [];
    const second = observed({
      machine: "needsReference",
      reference: due({ pieces: leak ? [leak] : [], step: 2 }),
    });
    const passed = afterNews(testing(), { type: "finished", finished: finishedPiece("pass") });
    expect(whatToDo(afterLook(passed, second))).toBe(
      "Reference piece TUB531812 reads as certified. Reference check, step 2 of 2: put on REF-LEAK-TUB-12, close the guard, scan it, press Enter. It is due because the shift has begun.",
    );
  });

  it("blames no computer's clock for the clock of a simulation, which begins anew with each run", () => {
    const [piece] = (({ pieces }) => pieces)(due() as Extract<ReferenceOnScreen, { kind: "due" }>);
    const clock = piece ? [{ ...piece, why: "clock" as const }] : [];
    const shown = afterLook(atWork("needsReference"), observed({ reference: due({ pieces: clock }) }));
    expect(whatToDo(shown)).toContain("have this computer's clock put right");
    const simulated = { ...shown, facts: { ...shown.facts, handsAreSimulated: true } };
    expect(whatToDo(simulated)).toContain("a simulation's clock begins anew with each run");
  });

  it("says of a failed piece what to look at and how many units are on hold", () => {
    const failed = afterNews(testing(), { type: "finished", finished: finishedPiece("fail") });
    const held = afterNews(failed, { type: "held", held: { units: 14, sentence: "In doubt." } });
    expect(whatToDo(afterLook(held, observed()))).toContain(
      "does not read as certified: look for a leak at the fixture's seals and hoses and at the piece itself, then test it again. 14 units tested since its last good check are on hold: see drumtight suspects.",
    );
  });

  it("is to scan what is missing, then to say why it is tested again, before an armed unit starts", () => {
    const missing = armedWith({ missingParts: ["gasket_lot", "motor_serial"] });
    expect(whatToDo(missing)).toBe("Scan the gasket lot of TUB531812, and 1 more: it can't start before.");
    const asked = armedWith({ retestReasons: ["seal was dirty"], number: 2, kind: "retest" });
    expect(whatToDo(asked)).toContain("Why is TUB531812 tested again?");
    expect(keysNow(asked)[0]).toEqual(["1-1 Enter", "say why"]);
  });

  it("says why an armed unit was not started, and that it is armed still", () => {
    const guard = { code: "GUARD_OPEN", sentence: "The guard is open. Close it, then start." } as const;
    const refused = afterNews(
      { ...armed(), machine: "checking" },
      { type: "refused", serial: "TUB531812", reasons: [guard] },
    );
    expect(whatToDo(afterLook(refused, observed({ machine: "armed" })))).toBe(
      "Not started. The guard is open. Close it, then start. TUB531812 is armed still: Enter or the start button starts it.",
    );
  });

  it("is to scan the serial that scanned parts belong to", () => {
    expect(whatToDo(atWork("ready", { waitingParts: { tub_cavity: "T1" } }))).toBe(
      "Now scan the serial that the tub cavity T1 belongs to.",
    );
  });

  it("says of a label that can't be read that the unit is armed no more, and what is kept for it", () => {
    const unknown = { code: "UNKNOWN_SCAN", sentence: '"N12" is no label this station knows.' } as const;
    const before = { ...armed(), waitingParts: { tub_cavity: "T1" }, waitingFor: "TUB531812" };
    const refused = afterNews(before, { type: "refused", serial: "N12", reasons: [unknown] });
    expect(whatToDo(afterLook(refused, observed()))).toBe(
      'Not taken. "N12" is no label this station knows. TUB531812 is armed no more, its tub cavity T1 is kept: scan TUB531812 again.',
    );
  });

  it("says why a number is no reason, and promises no start that would be refused", () => {
    const no = {
      code: "RETEST_REASON_MISSING",
      sentence: "9 is no reason. Type a number from 1 to 2.",
    } as const;
    const asked = armedWith({ retestReasons: ["seal was dirty", "it was bumped"] });
    const wrong = afterNews(asked, { type: "refused", serial: "TUB531812", reasons: [no] });
    expect(whatToDo(wrong)).toBe(no.sentence);
    const missing = {
      code: "PART_MISSING",
      sentence: "The lid is missing. Scan its label, then start.",
    } as const;
    const incomplete = afterNews(armedWith({ missingParts: ["lid"] }), {
      type: "refused",
      serial: "TUB531812",
      reasons: [missing],
    });
    expect(whatToDo(incomplete)).toBe(`Not started. ${missing.sentence}`);
  });

  it("says of a unit that was put aside only that it has to be scanned again", () => {
    const off = {
      code: "ABORTED",
      sentence: "The start was called off. Scan the unit again to test it.",
    } as const;
    const refused = afterNews(armed(), { type: "refused", serial: "TUB531812", reasons: [off] });
    expect(whatToDo(afterLook(refused, observed()))).toBe(`TUB531812 was not started. ${off.sentence}`);
  });

  it("is to call the engineer where only they may acknowledge, and to press Tab once they are there", () => {
    const stopped = afterNews(ofPeople(atWork("ready", { who: INES })), {
      type: "faulted",
      reasons: [SAME_FAIL],
    });
    expect(whatToDo(stopped)).toContain("call the engineer");
    expect(whatToDo({ ...stopped, who: ENGINEER })).toContain("then press Tab");
    const unnamed = afterNews(atWork("ready"), { type: "faulted", reasons: [SAME_FAIL] });
    expect(whatToDo(unnamed)).toContain("then press Tab");
  });

  it("says at the sign-in why the station is stopped", () => {
    const stopped = afterNews(ofPeople(atWork("ready", { who: INES })), {
      type: "faulted",
      reasons: [NO_VENT],
    });
    expect(whatToDo({ ...stopped, page: "sign_in" })).toBe(
      `STOPPED: ${NO_VENT.sentence} Scan your badge; or type your name, then press Enter.`,
    );
  });

  it("names the next simulated unit", () => {
    const next = observed({ next: { serial: "POD531811", isReference: false } });
    expect(whatToDo(afterLook(atWork("ready"), next))).toBe(
      "Press Enter: the next simulated unit, POD531811, is put on and scanned.",
    );
  });

  it("says after a fail how often, when and why the unit may be tested again, or that it goes to rework", () => {
    const failed = (retest: RetestLeft) => {
      const told = { ...finished({ verdict: "fail", reasons: [] }), retest };
      const shown = afterNews(testing(), { type: "finished", finished: told });
      return whatToDo(afterLook(shown, observed()));
    };
    const from_ms = observed().now_ms + 26_500;
    const once = { tests: 1, refusal: null, reasons: ["the seal was not seated", "it was bumped"], from_ms };
    expect(failed(once)).toBe(
      "TUB531812 failed: take it off, and unplug it before it is opened. It may be tested once more, in 27 s, for one of 2 reasons that its scan asks for; else it goes to rework. Put the next unit on and scan it.",
    );
    expect(failed({ ...once, tests: 3, reasons: [], from_ms: 0 })).toContain(
      "It may be tested 3 times more, now; else",
    );
    const refusal = {
      allowed: false,
      code: "ATTEMPTS_USED_UP",
      sentence: "Unit TUB531812 has failed twice.",
    } as const;
    expect(failed({ ...once, tests: 0, refusal })).toContain(
      "may not be tested again: rework it, then record that (drumtight rework TUB531812), or scrap it.",
    );
  });

  it("says after a void that may not be repeated where the unit goes, and with another one ready that both are open", () => {
    const refusal = { allowed: false, code: "VOIDS_USED_UP", sentence: "Put it aside." } as const;
    const told = { ...finished({ verdict: "void", reasons: [ABORTED] }) };
    const usedUp = { ...told, retest: { tests: 0, refusal, reasons: [], from_ms: 0 } };
    const shown = afterNews(testing(), { type: "finished", finished: usedUp });
    expect(whatToDo(afterLook(shown, observed()))).toBe("TUB531812 has no valid verdict. Put it aside.");
    const next = observed({ next: { serial: "POD531811", isReference: false } });
    const other = afterNews(testing(), { type: "finished", finished: told });
    expect(whatToDo(afterLook(other, next))).toContain("then scan it again. Or press Enter: the next");
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

describe("a station that measures a study", () => {
  const next = { run: 7, part: "TUB531812", appraiser: "B. Reyes", trial: 2 };
  const study = { name: "RR-1", of: 90, next, evaluate: "drumtight study repeatability --study rr.json" };
  const mark = { name: "RR-1", planSha256: "0".repeat(64), run: 7, of: 90, appraiser: "B. Reyes", trial: 2 };
  const ready = atWork("ready", { observed: observed({ study }) });

  it("says which piece is next, whose turn it is and how far it is", () => {
    expect(whatToDo(ready)).toBe(
      "Study RR-1, 7 of 90: put TUB531812 on and scan it. Appraiser B. Reyes, trial 2.",
    );
    expect(whatToDo({ ...ready, who: INES })).toBe(
      "Study RR-1, 7 of 90: B. Reyes measures now. Sign in as B. Reyes (F4), then put TUB531812 on and scan it.",
    );
    const done = atWork("ready", { observed: observed({ study: { ...study, next: null } }) });
    expect(whatToDo(done)).toMatch(
      /^Study RR-1 is complete: all 90 .* drumtight study repeatability --study rr\.json$/,
    );
  });

  it("sends no measured piece to rework or production, and nobody to open it, whatever its verdict", () => {
    const failed = finished({
      verdict: "fail",
      reasons: [{ code: "GROSS_LEAK", sentence: "It leaks." }],
      suspects: [{ cause: "lid not seated", look_at: "Open it.", evidence: [] }],
    });
    const told = { ...failed, attempt: { ...attempt, isDraft: true, study: mark } };
    const after = observed({ study: { ...study, next: { ...next, run: 8, part: "TUB531899" } } });
    const state = { ...afterNews(testing(), { type: "finished", finished: told }), observed: after };
    expect(whatToDo({ ...state, machine: "ready" })).toBe(
      "TUB531812 is measured, 7 of 90: take it off. Study RR-1, 8 of 90: put TUB531899 on and scan it. Appraiser B. Reyes, trial 2.",
    );
    expect(state.result).toMatchObject({ kind: "verdict", study: mark, suspects: [] });
    const again = { ...state, machine: "ready", observed: observed({ study }) };
    expect(whatToDo(again)).toMatch(
      /^TUB531812 gave no value for the study: see why below\. Study RR-1, 7 of 90/,
    );
  });
});
