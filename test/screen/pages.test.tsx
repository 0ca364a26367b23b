import { stripVTControlCharacters } from "node:util";
import { renderToString } from "ink";
import { describe, expect, it } from "vitest";
import type { ReferencePiece } from "../../station/cycle/attempt.ts";
import type { Reason } from "../../station/cycle/reason.ts";
import { afterNews } from "../../station/screen/after-news.ts";
import { CAUTIONS } from "../../station/screen/cautions-text.ts";
import { firstRows } from "../../station/screen/first-frame.ts";
import { keyMeanings, WORD_MEANINGS } from "../../station/screen/help-text.ts";
import { NO_LINE } from "../../station/screen/line-editor.ts";
import { lineReader } from "../../station/screen/line-reader.ts";
import type { Look } from "../../station/screen/look.ts";
import { press } from "../../station/screen/press.ts";
import { afterLook, type Observed, type ScreenState } from "../../station/screen/screen-state.ts";
import { StationView } from "../../station/screen/station-view.tsx";
import type { DayCount } from "../../station/yield/day-count.ts";
import { armed, attempt, atWork, finished, NO_VENT, observed, testing, tub } from "./example-state.ts";

const SIZES: readonly (readonly [string, Look])[] = [
  ["80 x 24", { columns: 80, rows: 24, isColoured: false }],
  ["100 x 30", { columns: 100, rows: 30, isColoured: false }],
  ["160 x 50", { columns: 160, rows: 50, isColoured: false }],
];
const [[, SMALL], , [, LARGE]] = SIZES as [[string, Look], [string, Look], [string, Look]];
const READER = lineReader({ models: [tub], referenceSerials: [], badge: null });
const [leak, airflow] = tub.steps;
if (leak?.kind !== "leak" || airflow?.kind !== "airflow") throw new Error("the demo model has both steps");

function frame(state: ScreenState, look = SMALL): string {
  return stripVTControlCharacters(
    renderToString(<StationView look={look} state={state} />, { columns: look.columns }),
  );
}

/** As one text, broken lines joined. */
function words(state: ScreenState, look = SMALL): string {
  return frame(state, look).replace(/[\s│║█]+/g, " ");
}

function signingIn(more: Partial<ScreenState["signIn"]>, typed = ""): ScreenState {
  const state = atWork("signedOut", { page: "sign_in", typed, cursor: typed.length });
  return {
    ...state,
    facts: { ...state.facts, signIn: "people" },
    signIn: { ...state.signIn, asks: "badge_or_name", ...more },
  };
}

describe.each(SIZES)("signing in at %s", (_, look) => {
  it("shows whose PIN is asked for and dots for what is typed", () => {
    const shown = frame(signingIn({ asks: "pin", name: "Ines Roth" }, "••••"), look);
    expect(shown).toMatch(/Ines Roth, PIN: ••••/);
  });

  it("says why a try was not taken, and for how long nobody may try again", () => {
    const lockedUntil_ms = observed().now_ms + 24_300;
    const shown = words(signingIn({ said: "That PIN is wrong.", lockedUntil_ms }), look);
    expect(shown).toContain("That PIN is wrong.");
    expect(shown).toContain("Locked for another 25 s.");
    expect(words(signingIn({}), look)).not.toContain("Locked");
  });

  it("keeps every caution in view", () => {
    const shown = words(signingIn({ said: "That PIN is wrong." }), look);
    for (const caution of CAUTIONS) expect(shown).toContain(caution);
  });
});

describe.each(SIZES)("the running test at %s", (_, look) => {
  const samples = Array.from({ length: 60 }, (__, i) => ({ t_s: 50 + i / 10, value: -8000 + i / 2 }));
  const measuring = (more: Partial<Observed> = {}) =>
    afterLook(
      testing(),
      observed({
        machine: "testing",
        progress: { phase: "measure", step: leak, point: null, elapsed_s: 6 },
        readings: { leak_pressure: -7970 },
        trace: { channel: "leak_pressure", phaseStart_s: 50, samples },
        timeLeft_s: 22.3,
        ...more,
      }),
    );

  it("draws the curve beside the limit leak's line, with both named and the seconds of the phase", () => {
    const shown = frame(measuring(), look);
    expect(shown).toMatch(/[\u2801-\u28ff]{10}/);
    expect(shown).toMatch(/│.*- - - -/);
    expect(shown).toContain("Pressure   - - from here on at the limit, 60 mL/min");
    expect(shown).toMatch(/-7\.\d+ kPa│/);
    expect(shown).toContain("16 s");
  });

  it("marks the running phase among all of them, and says how long it still takes", () => {
    const shown = frame(measuring(), look);
    expect(shown).toContain("leak: fill settle [measure] vent airflow: run-up closed working open coast");
    expect(shown).toContain("about 23 s left");
    expect(frame(measuring({ timeLeft_s: null }), look)).not.toContain(" left");
    expect(frame(measuring({ isTimeLeftLearned: false }), look)).toContain("at most 23 s left");
  });

  it("holds a reference piece against its certificate, and lists only the phases that it goes through", () => {
    const REFERENCE = {
      model: "TUB-12",
      certified_m3_s: 0,
      tolerance_m3_s: 4e-6 / 60,
      unit: "mL/min",
      orifice: null,
    };
    const shownOf = (reference: ReferencePiece, more: Partial<Observed>) => {
      const started = afterNews(testing(), { type: "started", attempt: { ...attempt, reference } });
      return frame(afterLook(started, measuring(more).observed), look);
    };
    const tight = shownOf({ ...REFERENCE, serial: "REF-TIGHT", kind: "tight" }, {});
    expect(tight).toContain("from here on at the limit, 4 mL/min");
    expect(tight).toMatch(/leak: fill settle \[measure\] vent$/m);
    expect(tight).not.toContain("airflow");
    const certified = { certified_m3_s: 30e-6 / 60, tolerance_m3_s: 5e-6 / 60 };
    const leaking = shownOf({ ...REFERENCE, ...certified, serial: "REF-LEAK", kind: "leak" }, {});
    expect(leaking).toContain("from here on at the limits, 25 to 35 mL/min");
    const [, point = null] = airflow.points;
    const held = shownOf(
      {
        ...REFERENCE,
        serial: "REF-ORIFICE",
        kind: "orifice",
        certified_m3_s: 0.04,
        tolerance_m3_s: 0.001,
        unit: "L/s",
        orifice: { point: "working", atSuction_Pa: 13_000 },
      },
      {
        progress: { phase: "hold", step: airflow, point, elapsed_s: 1 },
        readings: { suction: 13_000, flow: 0.04, power: 1000 },
        trace: { channel: "suction", phaseStart_s: 50, samples },
      },
    );
    expect(held).toMatch(/airflow: run-up \[working\] coast$/m);
    expect(held).toMatch(/flow +40\.0 L\/s +39 to 41/);
    expect(held).not.toMatch(/>= 13|1010 to 1288/);
  });

  it("shows a target only where the pressure is brought to it", () => {
    expect(frame(measuring(), look)).not.toContain("target");
  });

  it("draws no curve before there is one", () => {
    expect(frame(measuring({ trace: null }), look)).not.toMatch(/[\u2801-\u28ff]/);
  });

  it("shows the target of a fill, the limit of a held point, and where the motor counts as stopped", () => {
    const at = (progress: Observed["progress"], channel: "leak_pressure" | "suction" | "power") =>
      frame(measuring({ progress, trace: { channel, phaseStart_s: 50, samples } }), look);
    const filling = at({ phase: "fill", step: leak, point: null, elapsed_s: 6 }, "leak_pressure");
    expect(filling).toContain("- - target -8 +- 0.2 kPa");
    const point = airflow.points[1] ?? null;
    const holding = at({ phase: "hold", step: airflow, point, elapsed_s: 1 }, "suction");
    expect(holding).toContain("Suction   - - limit >= 13 kPa");
    const coasting = at({ phase: "coast", step: airflow, point: null, elapsed_s: 1 }, "power");
    expect(coasting).toContain("Input power   - - stopped below 5 W");
  });
});

describe.each(SIZES)("the reference check at %s", (_, look) => {
  const due = (more: object = {}) =>
    afterLook(
      atWork("needsReference"),
      observed({
        machine: "needsReference",
        reference: {
          kind: "due",
          step: 2,
          of: 3,
          warnings: [],
          pieces: [
            { serial: "REF-LEAK-TUB-12", kind: "leak", model: "TUB-12", why: "shift" },
            { serial: "REF-ORIFICE-TUB-12", kind: "orifice", model: "TUB-12", why: "fault" },
          ],
          ...more,
        },
      }),
    );

  it("is guided step by step: what is done, what is now, what comes next and why", () => {
    const shown = frame(due(), look);
    expect(shown).toMatch(/done +step 1/);
    expect(shown).toMatch(/> NOW +2 +REF-LEAK-TUB-12 +leak reference, TUB-12: the shift has begun/);
    const columns = ["leak reference,", "reference orifice,"].map((kind) =>
      shown
        .split("\n")
        .map((line) => line.indexOf(kind))
        .find((column) => column >= 0),
    );
    expect(columns[0]).toBe(columns[1]);
    expect(shown).toMatch(/next +3 +REF-ORIFICE-TUB-12 +reference orifice, TUB-12: a stop since/);
    expect(shown).toContain("Reference check: DUE, step 2 of 3, REF-LEAK-TUB-12");
  });

  it("warns of a piece that drifts, in full", () => {
    const warning =
      "REF-TIGHT-TUB-12 drifts: its average is 3.1 of the 4 mL/min it may be off. Look at seals and hoses.";
    expect(words(due({ warnings: [warning] }), look)).toContain(`Warning: ${warning}`);
  });

  it("warns early of a model's drift, after a piece that drifts", () => {
    const early = "Leak rate of TUB-12 rises since TUB531812, 15 units: tell the quality engineer.";
    const pieces = "REF-TIGHT-TUB-12 drifts.";
    const state = due();
    const of = (warnings: readonly string[]) =>
      words(
        {
          ...due({ warnings }),
          observed: { ...due({ warnings }).observed, earlyWarnings: [early] },
        },
        look,
      );
    expect(words(state, look)).not.toContain("Warning");
    expect(of([])).toContain(`Warning: ${early}`);
    expect(of([pieces])).toContain(`Warning, the first of 2: ${pieces}`);
  });
});

describe.each(SIZES)("an armed unit at %s", (_, look) => {
  const unitWith = (more: Partial<NonNullable<ScreenState["unit"]>>) => {
    const state = armed();
    return { ...state, unit: state.unit && { ...state.unit, ...more } };
  };

  it("says which parts are there and which are missing", () => {
    const shown = words(
      unitWith({ parts: { tub_cavity: "A1" }, missingParts: ["gasket_lot", "motor_serial"] }),
      look,
    );
    expect(shown).toContain("Still to be scanned: gasket lot, motor serial.");
    expect(shown).toContain("Parts: tub cavity A1");
  });

  it("numbers the reasons of a retest, all nine of them", () => {
    const reasons = Array.from({ length: 9 }, (__, i) => `reason ${"x".repeat(i + 20)}`);
    const shown = frame(unitWith({ retestReasons: reasons }), look);
    for (const [i, reason] of reasons.entries()) expect(shown).toContain(`${i + 1} ${reason}`);
    const chosen = words(unitWith({ retestReason: "the lid was not seated" }), look);
    expect(chosen).toContain("Tested again because: the lid was not seated");
  });
});

describe.each(SIZES)("today at %s", (_, look) => {
  const last = ["pass", "fail", "void", "doubt", "pass"] as const;
  const counts: DayCount = {
    ...observed().counts,
    tested: 1512,
    pass: 1410,
    fail: 98,
    void: 4,
    inspected: 1500,
    firstPassed: 1400,
    firstPassYield: 1400 / 1500,
    interval: { low: 0.9194, high: 0.9454 },
    heldInDoubt: 12,
    lastUnits: last.map((verdict, i) => ({
      serial: `POD53181${i}`,
      model: "POD-4",
      verdict,
      attempt: 1,
      at: "2026-01-05T08:00:00Z",
    })),
  };

  it("counts, gives the yield with its interval and how many are held, and names the last five in words", () => {
    const shown = frame(afterLook(atWork("ready"), observed({ counts })), look);
    expect(shown).toContain("1512 tests: 1410 pass, 98 fail, 4 void, 12 held");
    expect(shown).toMatch(/(First pass yield|FPY) 93(\.3)? %/);
    expect(shown).toMatch(/91 to 95 %/);
    for (const [i, word] of ["PASS", "FAIL", "VOID", "HELD", "PASS"].entries()) {
      expect(shown).toMatch(new RegExp(`3181${i} ${word}`));
    }
  });
});

describe.each(SIZES)("a stopped station at %s", (_, look) => {
  it("shows what its outputs were told, and the verdict told just before", () => {
    const done = afterNews(testing(), { type: "finished", finished: finished({ verdict: "fail" }) });
    const stopped = afterNews(done, { type: "faulted", reasons: [NO_VENT] });
    const shown = words(stopped, look);
    expect(shown).toContain("Commanded: source off, vent open, motor off.");
    const lost = { ...stopped, observed: { ...stopped.observed, areOutputsSafe: false } };
    expect(words(lost, look)).toContain("Commanded, but NOT confirmed: source off, vent open, motor off.");
    expect(shown).toContain("TUB531812 is FAIL.");
  });

  it("says which units are on hold now, and why", () => {
    const failed = afterNews(testing(), { type: "finished", finished: finished({ verdict: "fail" }) });
    const held = { units: 14, sentence: "The leak reference failed at 08:00 and had passed at 06:00." };
    const shown = frame({ ...failed, held }, look).replace(/[║×]|TUB531812 +(?=║)/g, " ");
    expect(shown.replace(/[\s█]+/g, " ")).toContain(`ON HOLD: 14 units. ${held.sentence}`);
  });
});

describe("long sentences on the smallest terminal", () => {
  const NO_OUTPUTS: Reason = {
    code: "OUTPUT_FAULT",
    sentence:
      "The I/O block did not confirm its outputs: it has not answered for 1.0 s; check its supply and the cable. Treat the fixture as live, make it safe by hand by the local procedure, then acknowledge.",
  };
  const HUNG: Reason = {
    code: "BLOCKED_FIXTURE",
    sentence:
      "The pressure was there after 0.1 s, this body takes 0.8 s or more: the gauge sees the hose and not the body, which may hold pressure or suction all the same. Look for a hose kinked or shut off behind the gauge, then acknowledge.",
  };
  /** Without frames and letters, so that a sentence beside a block can be read on. */
  const read = (state: ScreenState) =>
    frame(state, SMALL)
      .replace(/[│┃║█×┏┓┗┛━╔╗╚╝═]|! station stopped/g, " ")
      .replace(/\s+/g, " ");

  it("leave two reasons of a stop whole, with the block and the row of the unit in their places", () => {
    const done = afterNews(testing(), { type: "finished", finished: finished({ verdict: "void" }) });
    const state = afterNews(done, { type: "faulted", reasons: [NO_OUTPUTS, HUNG] });
    const shown = frame(state, SMALL);
    expect(shown).toContain("! station stopped");
    expect(shown).toMatch(/^ Serial TUB531812 {3}Model TUB-12 {3}Attempt 1$/m);
    expect(shown).toMatch(/^ ┏━+┓/m);
    for (const { sentence } of [NO_OUTPUTS, HUNG]) expect(read(state)).toContain(sentence);
    expect(read(state)).toContain("TUB531812 is VOID.");
  });

  it("leave a failed reference piece its row, its word and why units are on hold", () => {
    const failed = afterNews(testing(), { type: "finished", finished: finished({ verdict: "fail" }) });
    const sentence =
      "REF-LEAK-TUB-12 failed its check, 87.33 +- 3.1 mL/min instead of 30 +- 5; its last good one was at 06:00.";
    const warnings = [
      "REF-TIGHT-TUB-12 drifts: its average is 3.1 of the 4 mL/min it may be off. Look at seals.",
    ];
    const reference = { kind: "in_force", at_ms: 0, until_ms: 1e13, unitsLeft: null, warnings } as const;
    const state = { ...afterLook(failed, observed({ reference })), held: { units: 14, sentence } };
    expect(frame(state, SMALL)).toMatch(/^ Serial TUB531812/m);
    expect(frame(state, SMALL)).toMatch(/^ ╔═+╗/m);
    expect(read(state)).toContain(`ON HOLD: 14 units. ${sentence}`);
  });

  it("take the cautions away from the one who signs in at a stopped station, rather than the half of each", () => {
    const stopped = afterNews(testing(), { type: "faulted", reasons: [NO_OUTPUTS, HUNG] });
    const remark =
      "Only an engineer or a supervisor may acknowledge this stop. Call one: they sign in here, look at the fixture, the gauges and the units put aside, and then acknowledge.";
    const state: ScreenState = { ...stopped, page: "sign_in", remark };
    expect(read(state)).toContain(remark);
    const isThere = CAUTIONS.map((caution) => read(state).includes(caution));
    expect(new Set(isThere).size).toBe(1);
    const calm = { ...atWork("signedOut"), page: "sign_in" } as const;
    for (const caution of CAUTIONS) expect(read(calm)).toContain(caution);
  });
});

describe.each(SIZES)("the help at %s", (_, look) => {
  it.each(["off", "people"] as const)("shows every key and every word whole, signing in: %s", (signIn) => {
    const facts = { ...atWork("ready").facts, signIn, handsAreSimulated: true };
    const shown = frame(atWork("ready", { overlay: "help", facts }), look);
    const left = textOf(shown, 0, Math.ceil(look.columns / 2) + 1);
    const right = textOf(shown, Math.ceil(look.columns / 2), look.columns);
    for (const [key, does] of keyMeanings(facts)) expect(left).toContain(`${key}: ${does}`);
    for (const [word, means] of WORD_MEANINGS) expect(right).toContain(`${word}: ${means}`);
  });

  it("says what the station does now where there is room", () => {
    expect(words(atWork("ready", { overlay: "help" }), LARGE)).toContain("Now: ");
  });
});

describe.each(SIZES)("the gauges' last lines at %s", (_, look) => {
  const conversationsWith = (...faulty: readonly string[]) =>
    ["leak_gauge", "flow_gauge", "power_meter", "io_block"].map((instrument, k) => ({
      instrument,
      isFaulty: faulty.includes(instrument),
      lines: Array.from({ length: 20 }, (__, i) => ({
        t_s: 100 + i / 10,
        direction: i % 2 === 0 ? ("sent" as const) : ("heard" as const),
        text: i % 2 === 0 ? `ASK${k}` : `P=${k}${i}`,
      })),
    }));

  it("give the one that stopped the station the rows, over its whole width, and keep the others in view", () => {
    const conversations = conversationsWith("leak_gauge");
    const state = afterLook(atWork("needsReference"), observed({ conversations }));
    const shown = frame({ ...state, overlay: "conversation" }, look);
    const rows = shown.split("\n").filter((row) => row.includes("ASK0") || row.includes("P=0"));
    expect(rows.length).toBeGreaterThanOrEqual(look.rows > 24 ? 12 : 8);
    expect(shown).toContain("leak_gauge, which stopped the station: its last lines up to then");
    expect(shown).toMatch(/ 0\.00 s heard < P=019/);
    for (const [k, { instrument }] of conversations.entries()) {
      if (k > 0) expect(shown).toContain(`${instrument}, until now`);
      expect(shown).toContain(`P=${k}19`);
    }
  });

  it("tell sent from heard, with how long ago, the newest of each instrument in view", () => {
    const conversations = conversationsWith();
    const state = afterLook(atWork("ready"), observed({ conversations }));
    const shown = frame({ ...state, overlay: "conversation" }, look);
    for (const [k, { instrument }] of conversations.entries()) {
      expect(shown).toContain(instrument);
      expect(shown).toMatch(new RegExp(`-0\\.10 s sent {2}> ASK${k}`));
      expect(shown).toMatch(new RegExp(` 0\\.00 s heard < P=${k}19`));
    }
  });

  it("say so where nothing has been said", () => {
    expect(frame(atWork("ready", { overlay: "conversation" }), look)).toContain("Nothing has been said");
  });
});

describe("what is opened over a running test", () => {
  it.each([
    ["help", "F1"],
    ["summary", "F2"],
    ["conversation", "F3"],
  ] as const)("the %s, is closed by the key that it was opened with: Esc aborts", (overlay, key) => {
    const shown = frame({ ...testing(), overlay }, SMALL).replace(/ +/g, " ");
    expect(shown).toContain(`Esc abort the test ${key} close this`);
    const kind = key.toLowerCase() as "f1" | "f2" | "f3";
    const { state, deed } = press({ ...testing(), overlay }, NO_LINE, { kind }, READER);
    expect([state.overlay, deed.do]).toEqual([null, "nothing"]);
  });
});

describe("the summary of the shift", () => {
  const lines = Array.from({ length: 30 }, (_, i) => `line ${i} of the shift`);
  const shown = (count: number, look: Look) =>
    frame(atWork("ready", { overlay: "summary", summaryLines: lines.slice(0, count) }), look);

  it("is there in full where it fits, in two columns where only they fit", () => {
    for (const line of lines.slice(0, 14)) expect(shown(14, SMALL)).toContain(line);
    const wide = { columns: 160, rows: 26, isColoured: false };
    for (const line of lines) expect(shown(30, wide)).toContain(line);
  });

  it("can be turned to every line on the smallest terminal, at work and after signing out", () => {
    for (const where of [{ overlay: "summary" }, { page: "summary" }] as const) {
      let state = atWork("ready", { ...where, summaryLines: lines });
      const seen = new Set<string>();
      const pages = Number(/Page 1 of (\d)/.exec(frame(state, SMALL))?.[1]);
      expect(pages).toBeGreaterThan(1);
      for (let turned = 0; turned < pages; turned++) {
        expect(frame(state, SMALL)).toContain(
          `Page ${turned + 1} of ${pages}: the keys Down and Up turn it.`,
        );
        for (const line of lines) if (frame(state, SMALL).includes(line)) seen.add(line);
        state = press(state, NO_LINE, { kind: "down" }, READER).state;
      }
      expect(seen.size).toBe(30);
      expect(frame(state, SMALL)).toContain("Page 1 of");
      expect(frame(press(state, NO_LINE, { kind: "up" }, READER).state, SMALL)).toContain(`Page ${pages} of`);
    }
  });
});

describe("the first frame", () => {
  it.each(SIZES)("has the cautions where the screen will have them, at %s", (_, look) => {
    const first = firstRows(look.columns, look.rows);
    const screen = frame(atWork("signedOut", { page: "cautions" }), look).split("\n");
    const from = first.findIndex((line) => line.includes("Cautions"));
    expect(from).toBeGreaterThan(0);
    for (let row = from; row < first.length; row++) expect(screen[row]?.trimEnd()).toBe(first[row]);
    for (const line of first) expect(line.length).toBeLessThanOrEqual(look.columns);
  });

  it("fits any terminal", () => {
    for (const [columns, rows] of [
      [20, 5],
      [1, 1],
      [300, 100],
    ] as const) {
      const first = firstRows(columns, rows);
      expect(first.length).toBeLessThanOrEqual(rows);
      for (const line of first) expect(line.length).toBeLessThanOrEqual(columns);
    }
  });
});

function textOf(shown: string, from: number, to: number): string {
  return shown
    .split("\n")
    .map((line) => line.slice(from, to).trim())
    .join(" ")
    .replace(/\s+/g, " ");
}
