import { stripVTControlCharacters } from "node:util";
import fc from "fast-check";
import { renderToString } from "ink";
import { describe, expect, it } from "vitest";
import type { ModelLimits } from "../../limits/model.ts";
import type { Traveller } from "../../station/records/traveller.ts";
import { afterNews } from "../../station/screen/after-news.ts";
import { bigText, TALL } from "../../station/screen/big-text.ts";
import { isMeasured, linesOf, measuredRows, type Row } from "../../station/screen/characteristics.tsx";
import type { Look } from "../../station/screen/look.ts";
import { layOutcome } from "../../station/screen/outcome-layout.ts";
import { afterLook, type ScreenState } from "../../station/screen/screen-state.ts";
import { StationView } from "../../station/screen/station-view.tsx";
import { armed, attempt, atWork, finished, observed, testing, tub } from "./example-state.ts";

const SMALL: Look = { columns: 80, rows: 24, isColoured: false };
const LARGE: Look = { columns: 160, rows: 50, isColoured: false };

function frame(state: ScreenState, look = SMALL): string {
  return stripVTControlCharacters(
    renderToString(<StationView look={look} state={state} />, { columns: look.columns }),
  );
}

type Characteristic = Traveller["characteristics"][number];
type Suspect = NonNullable<Traveller["suspects"]>[number];

function one(name: string, value: number | null, limits: { lower?: number; upper?: number }): Characteristic {
  const { lower = -Infinity, upper = Infinity } = limits;
  const verdict = value === null ? "void" : value >= lower && value <= upper ? "pass" : "fail";
  return {
    name,
    step: "airflow",
    measurand: "suction",
    value,
    unit: name.includes("flow") ? "L/s" : name.includes("power") ? "W" : "kPa",
    uncertainty: value === null ? null : 0.05,
    expanded_uncertainty: value === null ? null : 0.1,
    ...limits,
    rule: { kind: "simple" },
    conformance: value === null ? null : 1,
    verdict,
    ...(value === null ? { why: "not measured" } : {}),
  };
}

/** Ten characteristics, as many of the first ones failing or missing as said. */
function ten({ failing = 0, missing = 0 }): Characteristic[] {
  return TEN.map((name, i) => {
    if (i < failing) return one(name, 9.1, { lower: 13 });
    return one(name, i >= TEN.length - missing ? null : 15.62, { lower: 13 });
  });
}
const TEN = [
  "leak rate",
  "sealed suction",
  "working suction",
  "open flow",
  "input power",
  "working suction power",
  "working efficiency",
  "largest suction power",
  "suction at zero flow",
  "flow at zero suction",
];

const BLOCKED: Suspect = {
  cause: "blocked path",
  look_at: "Take the unit from the mains, then look through hose, inlet and filter for what blocks the air.",
  evidence: ["open flow 41.2 L/s is 0.84 of its lower limit 49 L/s"],
};
const WEAK: Suspect = {
  cause: "weak motor",
  look_at: "Take the unit from the mains, then try the lid of a unit that passed on the same body.",
  evidence: ["sealed suction 15.8 kPa is 0.81 of its lower limit 19.5 kPa"],
};
const GROSS = {
  code: "GROSS_LEAK",
  sentence:
    "The unit could not be brought to test pressure although the source is healthy: look for a missing gasket, a lid not seated or a crack.",
};

function outcome(
  characteristics: readonly Characteristic[],
  { verdict = "fail", reasons = [], suspects = [BLOCKED, WEAK] }: Partial<Traveller> = {},
): ScreenState {
  const outOfLimits = characteristics
    .filter((it) => it.verdict === "fail")
    .map(({ name }) => ({ code: "OUT_OF_LIMITS", sentence: `${name} is below the lower limit.` }));
  const traveller = {
    verdict,
    characteristics,
    reasons: [...reasons, ...outOfLimits],
    ...(verdict === "fail" ? { suspects } : {}),
  };
  return afterNews(testing(), { type: "finished", finished: finished(traveller) });
}

/** As one text, broken lines joined. */
function words(state: ScreenState, look = SMALL): string {
  return frame(state, look)
    .split("\n")
    .join(" ")
    .replace(/[\s│]+/g, " ");
}

describe("a unit that somebody held while it was tested", () => {
  const against = "Unit TUB531812 was put on hold by A. Marsh (dented): put it aside.";
  const held = (verdict: "pass" | "fail") => {
    const traveller = { verdict, characteristics: ten(verdict === "fail" ? { failing: 1 } : {}) };
    const told = { ...finished({ ...traveller, reasons: verdict === "fail" ? [GROSS] : [] }), against };
    return afterNews(testing(), { type: "finished", finished: told });
  };

  it.each([SMALL, LARGE])(
    "is HELD and not PASS, however good its values are, and says what to do",
    (look) => {
      const shown = frame(held("pass"), look);
      const isBig = (word: string) =>
        [1, 2, 3].some((scale) => shown.includes(bigText(word, scale, scale)?.[0] ?? "no such letters"));
      expect([isBig("HELD"), isBig("PASS")]).toEqual([true, false]);
      expect(words(held("pass"), look)).toContain(`Do not send it on. ${against}`);
    },
  );

  it("stays FAIL where it failed, and says the same", () => {
    expect(words(held("fail"))).toContain(`Do not send it on. ${against}`);
    expect(frame(held("fail"))).not.toContain(bigText("HELD", 1, 1)?.[0]);
  });
});

describe("the suspects of a failed unit", () => {
  it.each([
    ["80 x 24", SMALL],
    ["160 x 50", LARGE],
  ])("are told with where to look, the second as the other possibility, at %s", (_, look) => {
    const shown = words(outcome(ten({ failing: 4 })), look);
    expect(shown).toContain(`Look for: blocked path. ${BLOCKED.look_at}`);
    expect(shown).toContain("or: weak motor.");
    expect(shown).not.toContain("0.84 of its lower limit");
  });

  it("keep the first one's advice beside eight values that failed", () => {
    expect(words(outcome(ten({ failing: 8 })))).toContain(`Look for: blocked path. ${BLOCKED.look_at}`);
  });

  it("keep their advice for the inspector who has room for it", () => {
    expect(words(outcome(ten({ failing: 4 })), LARGE)).toContain(WEAK.look_at);
  });

  it("are not there where nothing is suspected, nor after a pass", () => {
    expect(frame(outcome(ten({ failing: 4 }), { suspects: [] }))).not.toContain("Look for");
    expect(frame(outcome(ten({}), { verdict: "pass" }))).not.toContain("Look for");
  });

  it("come with the word to unplug the unit first", () => {
    expect(words(outcome(ten({ failing: 1 })))).toContain("Unplug it before it is opened.");
  });
});

describe("the advice of the first suspect", () => {
  const LONG: Suspect = {
    cause: "weak motor or its seal",
    look_at:
      "Unplug the unit from the mains, then look at the seal between motor and body, then at the brushes, then exchange the motor.",
    evidence: [],
  };
  const lines = (failing: number, rows: number) =>
    layOutcome(
      { rows: measuredRows(ten({ failing })), reasons: [], suspects: [LONG, WEAK] },
      { rows, columns: 78, beside: 49, block: 8 },
    );

  it.each([10, 11, 12, 13])(
    "stays with eight values that failed in %d rows, rather than all of these",
    (rows) => {
      const { suspects, rows: shown, notes } = lines(8, rows);
      if (rows > 10) expect(suspects.join(" ")).toContain("Unplug the unit from the mains, then look at");
      const told = [...shown.map(({ name }) => name), notes.join(" ")].join(" ");
      for (const name of TEN.slice(0, 8)) expect(rows > 10 ? told : name).toContain(name);
    },
  );

  it("costs the second suspect its row before it costs a failed value its own", () => {
    const { suspects, rows } = lines(8, 12);
    expect(rows.filter(({ mark }) => mark === "FAIL")).toHaveLength(8);
    expect(suspects.join(" ")).not.toContain("weak motor.");
  });
});

describe("a verdict's word", () => {
  const reference = (verdict: "pass" | "fail"): ScreenState => {
    const value = verdict === "pass" ? 20.3 : 25;
    const state = outcome([one("reference flow", value, { lower: 19.8, upper: 20.8 })], {
      verdict,
      suspects: [],
    });
    return state;
  };
  const sizeOfWord = (shown: string, word: string) =>
    [
      [3, 3],
      [2, 2],
      [2, 1],
      [1, TALL],
      [1, 1],
    ].find(([across, down]) => {
      const rows = bigText(word, across, down) ?? [];
      const lines = shown.split("\n");
      return lines.some((_, from) => rows.every((row, i) => lines[from + i]?.includes(row.trimEnd())));
    });

  it("is twice as wide and as high where what was measured leaves room for it, at 80 x 24 too", () => {
    expect(sizeOfWord(frame(reference("pass")), "PASS")).toEqual([2, 2]);
    expect(frame(reference("pass"))).toMatch(/PASS reference flow +20\.3\d* .*19\.8 to 20\.8/);
    const middle = { columns: 100, rows: 30, isColoured: false };
    const held = { units: 4, sentence: "The reference failed at 08:00 and had passed at 06:00." };
    expect(sizeOfWord(frame({ ...reference("fail"), held }, middle), "FAIL")).toEqual([2, 2]);
  });

  it("beside ten values at 80 x 24 is as high as these leave room for", () => {
    expect(sizeOfWord(frame(outcome(ten({}), { verdict: "pass" })), "PASS")).toEqual([1, TALL]);
    expect(sizeOfWord(frame(outcome(ten({ failing: 8 }), { suspects: [BLOCKED] })), "FAIL")).toEqual([
      1,
      TALL,
    ]);
    const long = outcome(ten({ failing: 2 }), {
      suspects: [{ ...WEAK, look_at: "Unplug it. ".repeat(26).trim() }],
    });
    expect(sizeOfWord(frame(long), "FAIL")).toEqual([1, 1]);
  });

  it("of a void attempt is large, beside its reason, which comes before what was not measured", () => {
    const sentence = "The leak gauge stopped sending readings. Check its cable and supply, then acknowledge.";
    const state = outcome(ten({ missing: 10 }), {
      verdict: "void",
      reasons: [{ code: "GAUGE_SILENT", sentence }],
    });
    for (const look of [SMALL, LARGE]) {
      const shown = frame(state, look);
      expect(sizeOfWord(shown, "VOID")?.[0]).toBeGreaterThan(1);
      const lines = shown.split("\n");
      const first = (text: string) => lines.findIndex((line) => line.includes(text));
      expect(first("The leak gauge stopped")).toBeLessThan(first("leak rate"));
    }
    // It has been: a verdict is shown once the stop is over.
    expect(frame(state)).not.toContain("acknowledge");
  });

  it("is never smaller than that of a scan that was refused", () => {
    const widest = (state: ScreenState, look: Look) =>
      Math.max(...(frame(state, look).match(/[█ ]*█/g) ?? [""]).map((run) => run.trim().length));
    const refused = afterNews(atWork("ready"), {
      type: "refused",
      serial: "zzz",
      reasons: [{ code: "UNKNOWN_SERIAL", sentence: '"zzz" is no label.' }],
    });
    for (const look of [SMALL, { columns: 100, rows: 30, isColoured: false }, LARGE]) {
      expect(frame(refused, look)).toContain("NOT STARTED");
      expect(widest(refused, look)).toBeGreaterThan(10);
      for (const failing of [1, 5, 10]) {
        const failed = outcome(ten({ failing }));
        expect(widest(refused, look)).toBeLessThan(widest(failed, look));
      }
    }
  });
});

describe("ten characteristics", () => {
  it.each(Array.from({ length: 10 }, (_, i) => i + 1))(
    "of which %d failed leave every failed one and both causes to be read on the smallest terminal",
    (failing) => {
      const shown = frame(outcome(ten({ failing })));
      for (const name of TEN.slice(0, failing)) expect(shown).toMatch(new RegExp(`FAIL ${name} +9\\.1`));
      expect(shown).toContain("blocked path");
      expect(shown).toContain("weak motor");
      const passing = shown.match(/PASS/g)?.length ?? 0;
      const told = Number(/(\d+) passed, not shown/.exec(shown)?.[1] ?? 0);
      expect(failing + passing + told).toBe(10);
    },
  );

  it.each([0, 3, 9])("are all there on a large terminal, %d of them failed", (failing) => {
    const shown = frame(outcome(ten({ failing })), LARGE);
    for (const name of TEN) expect(shown).toMatch(new RegExp(`(PASS|FAIL) ${name} `));
    expect(shown).not.toContain("not shown");
  });

  it("that all passed are all there on the smallest terminal", () => {
    const shown = frame(outcome(ten({}), { verdict: "pass" }));
    for (const name of TEN) expect(shown).toMatch(new RegExp(`PASS ${name} `));
  });

  it("of which a gross leak left nine without a value are all named, beside the reason in full", () => {
    const state = outcome([one("leak rate", 9000, { upper: 60 }), ...ten({ missing: 9 }).slice(1)], {
      reasons: [GROSS],
    });
    const shown = frame(state);
    const right = shown.split("\n").map((line) => line.slice(30).trim());
    const told = `${right.join(" ")} ${words(state)}`;
    expect(shown).toMatch(/FAIL leak rate +9000/);
    for (const name of TEN.slice(1)) expect(told).toContain(name);
    expect(told).toContain(GROSS.sentence);
    expect(words(state)).toContain("Look for: blocked path");
  });

  it("without a value, of a void attempt, are all named, beside the reason in full", () => {
    const sentence = `No valid value for ${TEN.join(", ")}: the reading never came to rest. Test the unit again.`;
    const state = outcome(ten({ missing: 10 }), {
      verdict: "void",
      reasons: [{ code: "NOT_MEASURED", sentence }],
    });
    const right = frame(state)
      .split("\n")
      .map((line) => line.slice(30).trim());
    const told = `${right.join(" ")} ${words(state)}`;
    expect(told).toContain(sentence);
    for (const name of TEN) expect(told.split(name).length).toBeGreaterThan(2);
  });

  it.each([
    ["80 x 24", SMALL],
    ["160 x 50", LARGE],
  ])("are all listed before the start, in their units, at %s", (_, look) => {
    const limits = withTen(tub);
    const state = afterNews(armed(), { type: "armed", attempt: { ...attempt, limits } });
    const shown = frame({ ...state, machine: "armed" }, look);
    for (const name of TEN) expect(shown).toContain(name);
    expect(shown).toMatch(/working suction power +W +>= 300/);
    expect(shown).toMatch(/working efficiency +% +>= 30/);
    expect(shown).toMatch(/flow at zero suction +L\/s +>= 50/);
    const again = limits.characteristics.map((it) => ({ ...it, name: `${it.name} again` }));
    const more = { ...limits, characteristics: [...limits.characteristics, ...again] };
    const long = frame(
      { ...afterNews(armed(), { type: "armed", attempt: { ...attempt, limits: more } }), machine: "armed" },
      SMALL,
    );
    const listed = more.characteristics.filter(({ name }) => new RegExp(`^ ${name} {2,}`, "m").test(long));
    expect(long).toContain(`and ${20 - listed.length} more in the limit file`);
    expect(listed.length).toBeGreaterThan(8);
  });
});

describe("a remark", () => {
  it("has its row below ten limits, and takes none while there is none", () => {
    const limits = withTen(tub);
    const state = {
      ...afterNews(armed(), { type: "armed", attempt: { ...attempt, limits } }),
      machine: "armed",
    };
    const shown = frame({ ...state, remark: "TUB531813 was not taken. A unit is being tested." });
    for (const name of TEN) expect(shown).toContain(name);
    expect(shown).toContain("TUB531813 was not taken.");
    expect(shown.split("\n")).toHaveLength(frame(state).split("\n").length);
    expect(shown).toContain(" F1 ");
  });
});

function withTen(limits: ModelLimits): ModelLimits {
  const rule = { kind: "simple" } as const;
  const at = { step: "airflow", point: "working", rule };
  const curve = { step: "airflow", rule };
  const first = limits.characteristics.slice(0, 5);
  return {
    ...limits,
    characteristics: [
      ...first,
      { ...at, name: "working suction power", measurand: "suction_power", lower: 300, unit: "W" },
      { ...at, name: "working efficiency", measurand: "efficiency", lower: 0.3, unit: "%" },
      { ...curve, name: "largest suction power", measurand: "largest_suction_power", lower: 320, unit: "W" },
      {
        ...curve,
        name: "suction at zero flow",
        measurand: "suction_at_zero_flow",
        lower: 19_000,
        unit: "kPa",
      },
      { ...curve, name: "flow at zero suction", measurand: "flow_at_zero_suction", lower: 0.05, unit: "L/s" },
    ],
  };
}

describe("the words of a verdict", () => {
  const row = fc.record({
    name: fc.string({ minLength: 1, maxLength: 30 }),
    mark: fc.constantFrom("PASS", "FAIL", "VOID", ""),
    limit: fc.constantFrom(">= 13", "1010 to 1288"),
    note: fc.constantFrom("", "too close to its limit to be sure"),
    needsSpread: fc.boolean(),
  });
  const rows = fc.array(
    row.map(
      (it): Row => ({
        ...it,
        ...(it.mark === ""
          ? { value: "not measured", spread: "", unit: "", note: "", needsSpread: false }
          : { value: "15.62", spread: "+- 0.10", unit: "kPa" }),
      }),
    ),
    { maxLength: 14 },
  );
  const sentence = fc.string({ minLength: 1, maxLength: 200 });
  const suspects = fc.array(
    fc.record({
      cause: fc.string({ minLength: 1, maxLength: 60 }),
      look_at: sentence,
      evidence: fc.constant([]),
    }),
    { maxLength: 3 },
  );

  it("never take more rows than the panel has, and leave no failed row out while there is room for it", () => {
    fc.assert(
      fc.property(
        rows,
        fc.array(sentence, { maxLength: 4 }),
        suspects,
        fc.integer({ min: 9, max: 20 }),
        (all, reasons, causes, height) => {
          const laid = layOutcome(
            { rows: all, reasons, suspects: causes },
            { rows: height, columns: 78, beside: 48, block: 8 },
          );
          const beside = laid.above.length + linesOf(laid.rows, 48) + laid.notes.length;
          const below = laid.below.length + laid.suspects.length;
          expect(Math.max(8, beside) + below).toBeLessThanOrEqual(height);
          const bare = ({ name }: Row) => name.replaceAll(" ", "");
          const failed = (some: readonly Row[]) =>
            some.filter(({ mark }) => mark === "FAIL" || mark === "VOID").length;
          const told = laid.notes.join("").replaceAll(" ", "");
          const isTold = (it: Row) =>
            laid.rows.some((kept) => kept.name === it.name) || told.includes(bare(it));
          if (failed(all) < 8) {
            for (const it of all) if (it.mark === "FAIL" || it.mark === "VOID") expect(isTold(it)).toBe(true);
          }
          if (laid.isWhole) expect(laid.rows.length).toBeGreaterThanOrEqual(all.filter(isMeasured).length);
          if (causes.length > 0) expect(laid.suspects[0]).toMatch(/^Look for:/);
        },
      ),
    );
  });
});

describe("the airflow step while it runs", () => {
  const step = tub.steps.find((candidate) => candidate.kind === "airflow");
  if (step?.kind !== "airflow") throw new Error("the demo model has an airflow step");
  const running = (
    phase: "hold" | "coast",
    readings: Record<string, number>,
    more: { readsFlow?: boolean; limits?: ModelLimits; correction?: null } = {},
  ) => {
    const { readsFlow = true, limits = tub } = more;
    const stepped = more.correction === null ? { ...step, correction: null } : step;
    const point = phase === "hold" ? (step.points[1] ?? null) : null;
    const progress = { phase, step: stepped, point, elapsed_s: 1 };
    const started = afterNews(testing(), { type: "started", attempt: { ...attempt, limits } });
    const state = afterLook(started, observed({ machine: "testing", progress, readings }));
    return frame({ ...state, facts: { ...state.facts, readsFlow } });
  };

  it("does not miss the reading of a flow gauge that the station has not got", () => {
    const readings = { suction: 15_600, power: 1000 };
    expect(running("hold", readings, { readsFlow: false })).not.toContain("no reading");
    expect(running("hold", readings)).toMatch(/flow +no reading/);
  });

  it("says that readings are as read and what the limits refer to, where that differs", () => {
    const readings = { suction: 12_900, flow: 0.03, power: 1000 };
    expect(running("hold", readings)).toContain("As read; judged at 1.20 kg/m3 and 230 V.");
    expect(running("hold", readings, { correction: null })).not.toContain("As read");
    expect(running("coast", readings)).not.toContain("As read");
  });

  it("shows suction power at a point that is judged by it", () => {
    const readings = { suction: 12_900, flow: 0.03, power: 1000 };
    expect(running("hold", readings, { limits: withTen(tub) })).toMatch(/suction power +387 W +>= 300/);
    const characteristics = tub.characteristics.filter(({ measurand }) => measurand !== "suction_power");
    expect(running("hold", readings, { limits: { ...tub, characteristics } })).not.toContain("suction power");
    expect(running("hold", { power: 1000 }, { limits: withTen(tub) })).toMatch(/suction power +no reading/);
  });

  it("shows in coast below which power the motor counts as stopped", () => {
    expect(running("coast", { power: 3, suction: 20 })).toMatch(/power +3 W +stopped below 5 W/);
  });
});
