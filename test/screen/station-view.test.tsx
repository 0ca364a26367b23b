import { createRequire } from "node:module";
import { pathToFileURL } from "node:url";
import { stripVTControlCharacters } from "node:util";
import { renderToString } from "ink";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { NOBODY, type SignedIn } from "../../station/people/person.ts";
import { afterNews } from "../../station/screen/after-news.ts";
import { BIG_ROWS, bigText } from "../../station/screen/big-text.ts";
import { type Look, wantsColours } from "../../station/screen/look.ts";
import { afterLook, type ScreenState } from "../../station/screen/screen-state.ts";
import { keysNow } from "../../station/screen/sentences.ts";
import { StationView } from "../../station/screen/station-view.tsx";
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
  tub,
} from "./example-state.ts";

/** The colour library that Ink draws with: it looked at the terminal when it was loaded, and there is none here. */
const chalkPath = createRequire(createRequire(import.meta.url).resolve("ink")).resolve("chalk");
const { default: chalk } = (await import(pathToFileURL(chalkPath).href)) as { default: { level: number } };
const levelBefore = chalk.level;
beforeAll(() => {
  chalk.level = 1;
});
afterAll(() => {
  chalk.level = levelBefore;
});

const SMALL: Look = { columns: 80, rows: 24, isColoured: true };
const MIDDLE: Look = { columns: 100, rows: 30, isColoured: true };
const LARGE: Look = { columns: 160, rows: 50, isColoured: true };
const [leakStep, airflowStep] = tub.steps;
const LONG_REASON = {
  code: "GROSS_LEAK",
  sentence:
    "The unit could not be brought to test pressure although the source is healthy: look for a missing gasket, a lid not seated or a crack.",
} as const;

function frame(state: ScreenState, look = SMALL): string {
  return stripVTControlCharacters(
    renderToString(<StationView look={look} state={state} />, { columns: look.columns }),
  );
}

function big(word: string, across = 1, down = across): string {
  return bigText(word, across, down)?.[0] ?? "no big form";
}

function sizeOf({ columns }: Look) {
  return columns === SMALL.columns ? "SMALL" : columns === MIDDLE.columns ? "MIDDLE" : "LARGE";
}

function withVerdict(verdict: "pass" | "fail" | "void"): ScreenState {
  const reasons = verdict === "pass" ? [] : [LONG_REASON];
  const characteristics = [
    { ...FIVE[0], value: 58.1234, uncertainty: 1.03, expanded_uncertainty: 2.06, verdict },
    ...FIVE.slice(1),
  ];
  return afterLook(
    afterNews(testing(), { type: "finished", finished: finished({ verdict, reasons, characteristics }) }),
    observed({
      counts: {
        ...observed().counts,
        tested: 12,
        pass: 10,
        fail: 2,
        inspected: 12,
        firstPassed: 10,
        firstPassYield: 10 / 12,
        interval: { low: 0.516, high: 0.979 },
      },
    }),
  );
}

const measured = (name: string, value: number, unit: string, limits: { lower?: number; upper?: number }) => ({
  name,
  step: "airflow",
  point: "open",
  measurand: "suction" as const,
  value,
  unit,
  uncertainty: value / 200,
  expanded_uncertainty: value / 100,
  ...limits,
  rule: { kind: "simple" as const },
  conformance: 1,
  verdict: "pass" as "pass" | "fail" | "void",
});
const FIVE = [
  measured("leak rate", 58, "mL/min @ 20 degC", { upper: 60 }),
  measured("sealed suction", 22.31, "kPa", { lower: 19.5 }),
  measured("working suction", 15.62, "kPa", { lower: 13 }),
  measured("open flow", 55.4, "L/s", { lower: 49 }),
  measured("input power", 1169, "W", { lower: 1010, upper: 1290 }),
] as const;

const AFTER_HOLD = armedWith({ number: 2, kind: "retest", isAfterHold: true });

const states: [string, ScreenState][] = [
  ["cautions", atWork("signedOut", { page: "cautions" })],
  ["sign-in", atWork("signedOut", { page: "sign_in", typed: "Ines" })],
  ["idle", atWork("ready")],
  ["armed", armed()],
  ["armed after a hold", AFTER_HOLD],
  ["fill", running("fill", { leak_pressure: -7912, source_pressure: -8241 })],
  ["hold", running("hold", { suction: 22_312, flow: 0.0001, power: 774 })],
  ["pass", withVerdict("pass")],
  ["fail", withVerdict("fail")],
  ["void", withVerdict("void")],
  ["refused", afterNews(armed(), { type: "refused", serial: "TUB531812", reasons: [CALIBRATION, NO_VENT] })],
  ["fault", afterNews(testing(), { type: "faulted", reasons: [NO_VENT, LONG_REASON] })],
  ["leaving", { ...testing(), page: "leaving" }],
];

function running(phase: "fill" | "settle" | "hold", readings: Record<string, number>): ScreenState {
  const step = phase === "hold" ? airflowStep : leakStep;
  const point = step?.kind === "airflow" ? (step.points[0] ?? null) : null;
  const progress = { phase, step: step ?? null, point, elapsed_s: 3.4 };
  return afterLook(testing(), observed({ machine: "testing", progress, readings }));
}

it("says of an armed unit whose last test is in doubt that it was held, and of no other", () => {
  expect(frame(AFTER_HOLD, MIDDLE)).toContain("It was held: a reference check failed after its last test");
  expect(frame(armed(), MIDDLE)).not.toContain("was held");
});

describe.each([
  ["80 x 24", SMALL],
  ["100 x 30", MIDDLE],
  ["160 x 50", LARGE],
])("a terminal of %s", (_, look) => {
  it.each(states)("is filled and never more than filled: %s", (_, state) => {
    const lines = frame(state, look).split("\n");
    expect(lines).toHaveLength(look.rows);
    for (const line of lines) expect(line.length, line).toBeLessThanOrEqual(look.columns);
  });

  it.each(states)("says what to do, which keys work and how many were good: %s", (_, state) => {
    const shown = frame(state, look);
    for (const [key, does] of keysNow(state)) expect(shown.replace(/ +/g, " ")).toContain(`${key} ${does}`);
    expect(shown).toMatch(/Today: \d+ tests?: \d+ pass, \d+ fail, \d+ void {3}First pass yield/);
  });

  it.each(["pass", "fail", "void"] as const)(
    "shows a %s as a big word, with every characteristic",
    (verdict) => {
      const shown = frame(withVerdict(verdict), look);
      const [across, down] = { SMALL: [2, 1], MIDDLE: [2, 2], LARGE: [3, 3] }[sizeOf(look)] ?? [];
      expect(shown).toContain(big(verdict.toUpperCase(), across, down));
      expect(shown).toContain("TUB531812");
      for (const { name } of FIVE) expect(shown).toContain(name);
      expect(shown).toMatch(new RegExp(`${verdict.toUpperCase()} leak rate +58\\.1.* mL/min +<= 60`));
      expect(shown).toMatch(/PASS input power +\d+.* W +1010 to 1290/);
      expect(shown).toMatch(/First pass yield 83(.3)? % \((51 to 98 %\)|10 of 12; 95 %: 51 to 98 %\))/);
    },
  );

  it("gives the reason of a fail in full", () => {
    expect(frame(withVerdict("fail"), look).replace(/[\s│║█]+/g, " ")).toContain("missing gasket");
  });
});

describe("the live values", () => {
  it("show the pressure big, against its target, with the seconds of the phase", () => {
    const shown = frame(running("fill", { leak_pressure: -7912, source_pressure: -8241 }));
    expect(shown).toContain(big("-7.91"));
    expect(shown).toMatch(/pressure +-7\.91 kPa +target -8 \+- 0\.2/);
    expect(shown).toMatch(/source +-8\.24 kPa/);
    expect(shown).toContain("3 of at most 8 s");
    expect(frame(running("settle", { leak_pressure: -7912 }))).toContain("3 of 0.3 s");
  });

  it("show suction, flow and power against the limits of the point that is held", () => {
    const shown = frame(running("hold", { suction: 22_312, flow: 0.0153, power: 774.4 }));
    expect(shown).toContain("airflow: hold, closed");
    expect(shown).toMatch(/suction +22\.31 kPa +>= 19\.5/);
    expect(shown).toMatch(/flow +15\.3 L\/s/);
    expect(shown).toMatch(/power +774 W/);
  });

  it("show that value big which the held point is judged by", () => {
    const step = airflowStep?.kind === "airflow" ? airflowStep : null;
    const progress = { phase: "hold" as const, step, point: step?.points[2] ?? null, elapsed_s: 1 };
    const readings = { suction: 1300, flow: 0.0554, power: 1169 };
    const shown = frame(afterLook(testing(), observed({ machine: "testing", progress, readings })));
    expect(shown).toContain(big("55.4"));
    expect(shown).toContain("flow, L/s");
  });

  it("say that there is no reading instead of showing an old one", () => {
    expect(frame(running("settle", {}))).toMatch(/pressure +no reading/);
  });
});

describe("a verdict", () => {
  it("of another unit is not on the screen during a test", () => {
    const next = { ...attempt, serial: "TUB531813" };
    const shown = frame(afterNews(withVerdict("pass"), { type: "started", attempt: next }));
    expect(shown).not.toContain(big("PASS"));
    expect(shown).not.toContain("TUB531812");
  });

  it("differs from the others in word and frame where there is no colour", () => {
    const corners = { pass: "╭", fail: "╔", void: "+" };
    for (const verdict of ["pass", "fail", "void"] as const) {
      const shown = frame(withVerdict(verdict), { ...SMALL, isColoured: false });
      expect(shown.split("\n").some((line) => line.startsWith(` ${corners[verdict]}`))).toBe(true);
      expect(shown).toContain(big(verdict.toUpperCase(), 2, 1));
    }
  });

  it("has colours only where they are wanted", () => {
    const raw = (isColoured: boolean) =>
      renderToString(<StationView look={{ ...SMALL, isColoured }} state={withVerdict("fail")} />);
    // biome-ignore lint/suspicious/noControlCharactersInRegex: colours are control characters
    const colour = /\x1b\[(?:3[0-8]|4[0-8]|9[0-7])/;
    expect(raw(true)).toMatch(colour);
    expect(raw(false)).not.toMatch(colour);
    expect(wantsColours({ NO_COLOR: "1" })).toBe(false);
    expect(wantsColours({ NO_COLOR: "0" })).toBe(false);
    expect(wantsColours({ NO_COLOR: "" })).toBe(true);
    expect(wantsColours({})).toBe(true);
  });

  it("under draft limits says that it does not count", () => {
    const state = afterNews(testing(), { type: "finished", finished: finished({ draft: true }) });
    expect(frame(state)).toContain("DRAFT, does not count");
  });

  it.each(["PASS", "FAIL", "VOID", "STOP", "-12.50", "1169"])(
    "%s has big letters of one height and width",
    (word) => {
      const rows = bigText(word) ?? [];
      expect(rows).toHaveLength(BIG_ROWS);
      expect(new Set(rows.map((row) => row.length)).size).toBe(1);
    },
  );
});

describe("what was measured, in the rows", () => {
  type Characteristic = ReturnType<typeof finished>["traveller"]["characteristics"][number];
  const leak = (more: Partial<Characteristic>): Characteristic => ({
    ...FIVE[0],
    measurand: "leak_rate",
    ...more,
  });
  const early = (look: number, to_s: number): Partial<Characteristic> => ({
    how: {
      method: "fitted",
      from_s: 0.3,
      to_s,
      samples: 400,
      left_out: 0,
      looks: { taken: look, at_s: 12.4, early: true },
    },
  });
  const verdictOn = (
    verdict: "pass" | "fail" | "void",
    first: Characteristic,
    rest: readonly Characteristic[],
  ) => {
    const characteristics = [first, ...rest];
    return afterNews(testing(), { type: "finished", finished: finished({ verdict, characteristics }) });
  };

  it.each([
    ["80 x 24", SMALL],
    ["160 x 50", LARGE],
  ])("say with its spread that a verdict was certain before the end, at %s", (_, look) => {
    const decided = leak({ value: 6.2, expanded_uncertainty: 27.1, ...early(17, 6.28) });
    const shown = frame(verdictOn("pass", decided, FIVE.slice(1)), look);
    expect(shown).toMatch(/PASS leak rate +6 /);
    expect(shown).toMatch(/\+- 27\b/);
    expect(shown).toContain("early: sure 6.3 s after the fill");
    expect(frame(withVerdict("pass"), look)).not.toContain("early");
  });

  it.each([
    ["80 x 24", SMALL],
    ["160 x 50", LARGE],
  ])("keep the spread of a value that fails under its limit, at %s", (_, look) => {
    const close = leak({ value: 58.1, expanded_uncertainty: 2.06, verdict: "fail" });
    const shown = frame(verdictOn("fail", close, FIVE.slice(1)), look);
    expect(shown).toMatch(/FAIL leak rate +58\.1/);
    expect(shown).toContain("+- 2.1");
    for (const { name } of FIVE) expect(shown).toContain(name);
  });

  it("call what a failed leak left out not measured, not void, with its names whole", () => {
    const leaky = leak({ value: 312.4, expanded_uncertainty: 33, verdict: "fail" });
    const skipped = FIVE.slice(1).map((it) => ({
      ...it,
      value: null,
      uncertainty: null,
      expanded_uncertainty: null,
      verdict: "void" as const,
    }));
    const shown = frame(verdictOn("fail", leaky, skipped));
    expect(shown).not.toContain("VOID");
    const said = shown.replace(/[\s║█×]+/g, " ");
    expect(said).toContain("Not measured: sealed suction, working suction, open flow, input power.");
  });
});

describe("a long name or serial", () => {
  it("cuts off neither mark nor value nor limit", () => {
    const serial = "S".repeat(200);
    const name = "suction at the inlet with the long hose and the brush";
    const characteristics = [measured(name, 22.31, "kPa", { lower: 19.5, upper: 31.25 })];
    const long = afterNews(testing(), { type: "finished", finished: finished({ characteristics }) });
    const state = long.result?.kind === "verdict" ? { ...long, result: { ...long.result, serial } } : long;
    expect(frame(state)).toMatch(/PASS suct.*… 22\.31 kPa +19\.5 to 31\.25/);
    expect(frame(state)).toContain("Model TUB-12   Attempt 1");
    expect(frame(state)).toContain("is good: take it off.");
    for (const row of bigText("PASS", 2) ?? []) expect(frame(state)).toContain(row.trimEnd());
  });
});

describe("the marks", () => {
  const marked = (facts: Partial<ScreenState["facts"]>) =>
    frame({ ...atWork("ready"), facts: { ...atWork("ready").facts, ...facts } });

  it("say SIMULATED and DRAFT where that is true, and nowhere else", () => {
    expect(marked({})).not.toMatch(/SIMULATED|DRAFT/);
    expect(marked({ isSimulated: true })).toContain("[SIMULATED]");
    expect(marked({ draftModels: ["POD-4"] })).toContain("[DRAFT LIMITS POD-4]");
  });

  it("say who is signed in, or that nobody signs in here", () => {
    expect(frame(atWork("ready"))).toContain("no sign-in");
    const at = (who: SignedIn, signIn: "name" | "people") => {
      const state = atWork("ready", { who });
      return frame({ ...state, facts: { ...state.facts, signIn } });
    };
    expect(at({ name: "Ines Roth", role: null, how: "stated" }, "name")).toContain(
      "Demo station 1   Ines Roth ",
    );
    expect(at({ name: "Ines Roth", role: "engineer", how: "pin" }, "people")).toContain(
      "Ines Roth, engineer",
    );
    expect(at(NOBODY, "people")).toContain("nobody signed in");
  });

  it("say when the next reference check is due, by time and by units", () => {
    const now_ms = observed().now_ms;
    const inForce = (unitsLeft: number | null) => {
      const at_ms = now_ms - 75 * 60_000;
      const until_ms = now_ms + 72 * 60_000 - 5_000;
      const reference = { kind: "in_force", at_ms, until_ms, unitsLeft, warnings: [] } as const;
      return frame(afterLook(atWork("ready"), observed({ reference })));
    };
    expect(inForce(88)).toMatch(/Reference check: passed \d\d:45; next in 1 h 12 min or 88 units/);
    expect(inForce(1)).toMatch(/next in 1 h 12 min or 1 unit\n/);
    expect(inForce(null)).toMatch(/next in 1 h 12 min\n/);
  });

  it("tell the time of day", () => {
    const at = new Date(observed().now_ms);
    expect(frame(atWork("ready"))).toContain(
      `${String(at.getHours()).padStart(2, "0")}:${String(at.getMinutes()).padStart(2, "0")}`,
    );
  });
});

describe("cautions", () => {
  it("name what can hurt, and what comes before this software, on the start-up screen", () => {
    const simulated = { ...atWork("signedOut").facts, handsAreSimulated: true };
    const shown = frame(atWork("signedOut", { page: "cautions", facts: simulated })).replace(/\s+/g, " ");
    for (const words of [
      "evacuated or pressurised",
      "moves and clamps",
      "mains motor",
      "Local safety rules",
      "licensed people",
      "unplug it and isolate it",
      "not the safety function",
      "are hard-wired.",
      "no record is of a real unit.",
    ]) {
      expect(shown).toContain(words);
    }
    expect(frame(atWork("ready"))).not.toContain("evacuated");
  });
});

describe("a terminal that is too small", () => {
  it.each([
    [79, 24],
    [80, 23],
    [20, 5],
  ])("of %d x %d says so, and that Esc still aborts", (columns, rows) => {
    const look = { ...SMALL, columns, rows };
    const shown = frame(running("settle", {}), look).replace(/\s+/g, " ");
    expect(shown).toContain(`This window has ${columns} x ${rows} characters and the screen needs 80 x 24`);
    expect(shown).toContain("Esc aborts it");
  });
});

describe("a fault", () => {
  it("is shown as STOP with the whole of what to do", () => {
    const shown = frame(afterNews(testing(), { type: "faulted", reasons: [NO_VENT, { ...ABORTED }] }));
    expect(shown).toContain(big("STOP"));
    const right = shown
      .split("\n")
      .map((line) => line.slice(30).trim())
      .join(" ");
    expect(right).toContain(NO_VENT.sentence);
  });
});
