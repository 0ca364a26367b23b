import { stripVTControlCharacters } from "node:util";
import fc from "fast-check";
import { renderToString } from "ink";
import { describe, expect, it } from "vitest";
import type { UnitProgress } from "../../station/cycle/unit-progress.ts";
import { afterNews } from "../../station/screen/after-news.ts";
import { bigText } from "../../station/screen/big-text.ts";
import type { Observed, ScreenState } from "../../station/screen/screen-state.ts";
import { keysNow } from "../../station/screen/sentences.ts";
import { StationView } from "../../station/screen/station-view.tsx";
import { armed, atWork, finished, observed, tub } from "./example-state.ts";

const text = fc.oneof(
  fc.string({ maxLength: 60 }),
  fc.stringMatching(/^[a-z]{1,12}( [a-z]{1,12}){0,40}\.$/),
  fc.constant("X".repeat(200)),
);
const name = fc.stringMatching(/^[a-z][a-z_]{0,20}$/);
const parts = fc.dictionary(name, fc.stringMatching(/^[A-Z0-9]{1,20}$/), { maxKeys: 6 });
const count = fc.nat({ max: 99_999 });
const number = fc.double({ min: -1e6, max: 1e6, noNaN: true });

const progress: fc.Arbitrary<UnitProgress> = fc
  .record({
    phase: fc.constantFrom(
      ...(["opening", "ambient", "rest", "fill", "settle", "measure", "gross"] as const),
      ...(["vent", "run_up", "hold", "coast", "safing", "recording"] as const),
    ),
    elapsed_s: fc.option(fc.double({ min: 0, max: 100, noNaN: true })),
    point: fc.nat({ max: 2 }),
  })
  .map(({ phase, elapsed_s, point }) => {
    const isAir = ["run_up", "hold", "coast"].includes(phase);
    const isAround = ["opening", "ambient", "safing", "recording"].includes(phase);
    const step = isAround ? null : (tub.steps[isAir ? 1 : 0] ?? null);
    const points = step?.kind === "airflow" ? step.points : [];
    return { phase, step, elapsed_s, point: phase === "coast" ? null : (points[point] ?? null) };
  });

const piece = fc.record({
  serial: fc.stringMatching(/^REF-[A-Z0-9-]{1,30}$/),
  kind: fc.constantFrom("tight" as const, "leak" as const, "orifice" as const),
  model: fc.constant("TUB-12"),
  why: fc.constantFrom("never" as const, "failed" as const, "fault" as const, "clock" as const),
});
const reference: fc.Arbitrary<Observed["reference"]> = fc.oneof(
  fc.constant({ kind: "off" as const }),
  fc.record({
    kind: fc.constant("due" as const),
    pieces: fc.uniqueArray(piece, { selector: ({ serial }) => serial, minLength: 1, maxLength: 12 }),
    step: fc.integer({ min: 1, max: 9 }),
    of: fc.integer({ min: 9, max: 20 }),
    warnings: fc.array(text, { maxLength: 2 }),
  }),
  fc.record({
    kind: fc.constant("in_force" as const),
    at_ms: fc.constant(observed().now_ms - 3_600_000),
    until_ms: fc.nat().map((later) => observed().now_ms + later),
    unitsLeft: fc.option(count),
    warnings: fc.array(text, { maxLength: 2 }),
  }),
);
const lastUnit = fc.record({
  serial: fc.stringMatching(/^[A-Z0-9]{1,30}$/),
  model: fc.constant("TUB-12"),
  verdict: fc.constantFrom("pass" as const, "fail" as const, "void" as const, "doubt" as const),
  attempt: fc.constant(1),
  at: fc.constant("2026-01-05T08:00:00Z"),
});
const counts: fc.Arbitrary<Observed["counts"]> = fc
  .record({
    tested: count,
    pass: count,
    fail: count,
    void: count,
    heldInDoubt: count,
    firstPassYield: fc.option(fc.double({ min: 0, max: 1, noNaN: true })),
    interval: fc.option(fc.constant({ low: 0.9, high: 0.95 })),
    lastUnits: fc.array(lastUnit, { maxLength: 5 }),
  })
  .map((more) => ({ ...observed().counts, ...more }));
const look: fc.Arbitrary<Observed> = fc
  .record({
    progress: fc.option(progress),
    readings: fc.dictionary(fc.constantFrom("leak_pressure", "source_pressure", "suction", "power"), number),
    trace: fc.option(
      fc.record({
        channel: fc.constantFrom("leak_pressure" as const, "suction" as const, "power" as const),
        phaseStart_s: fc.constant(10),
        samples: fc.array(number.map((value) => ({ t_s: 12, value }))),
      }),
    ),
    isTimeLeftLearned: fc.boolean(),
    timeLeft_s: fc.option(fc.double({ min: 0, max: 1e5, noNaN: true })),
    reference,
    counts,
    conversations: fc.uniqueArray(
      fc.record({
        instrument: name,
        isFaulty: fc.boolean(),
        lines: fc.array(fc.record({ t_s: fc.nat(), direction: fc.constant("sent" as const), text }), {
          maxLength: 20,
        }),
      }),
      { selector: ({ instrument }) => instrument, maxLength: 8 },
    ),
    next: fc.option(fc.constant({ serial: "TUB531813", isReference: false })),
  })
  .map((more) => observed(more));

const state: fc.Arbitrary<ScreenState> = fc
  .record({
    page: fc.constantFrom("cautions", "sign_in", "work", "work", "work", "work", "summary", "leaving"),
    overlay: fc.constantFrom(null, null, null, "help", "conversation", "summary"),
    machine: fc.constantFrom(
      "signedOut",
      "needsReference",
      "ready",
      "armed",
      "checking",
      "testing",
      "faulted",
    ),
    shows: fc.constantFrom("nothing", "unit", "pass", "fail", "void", "refusal"),
    typed: text,
    remark: fc.option(text),
    faults: fc.array(text, { maxLength: 3 }),
    waitingParts: parts,
    missingParts: fc.array(name, { maxLength: 4 }),
    retestReasons: fc.array(text, { maxLength: 9 }),
    held: fc.option(fc.record({ units: count, sentence: text })),
    summaryLines: fc.option(fc.array(fc.string({ maxLength: 78 }), { maxLength: 60 })),
    reasons: fc.array(text, { minLength: 1, maxLength: 3 }),
    signIn: fc.constantFrom("off" as const, "name" as const, "people" as const),
    draftModels: fc.array(name, { maxLength: 5 }),
    observed: look,
  })
  .map(({ shows, missingParts, retestReasons, reasons, signIn, draftModels, ...more }) => {
    const base = { ...atWork(more.machine), ...more, cursor: more.typed.length } as ScreenState;
    const facts = { ...base.facts, signIn, draftModels, isSimulated: true, handsAreSimulated: true };
    const unit = armed().unit;
    if (shows === "unit" && unit) {
      return { ...base, facts, unit: { ...unit, parts: more.waitingParts, missingParts, retestReasons } };
    }
    if (shows === "refusal") {
      const result = { kind: "refusal" as const, serial: "TUB531812", wasArmed: false, reasons, codes: [] };
      return { ...base, facts, result };
    }
    if (shows === "nothing" || shows === "unit") return { ...base, facts };
    const verdict = shows as "pass" | "fail" | "void";
    const { result } = afterNews(base, {
      type: "finished",
      finished: finished({
        verdict,
        reasons: reasons.map((sentence) => ({ code: "GROSS_LEAK" as const, sentence })),
      }),
    });
    return { ...base, facts, result };
  });

const sizes = fc.constantFrom(
  { columns: 80, rows: 24 },
  { columns: 100, rows: 30 },
  { columns: 160, rows: 50 },
  { columns: 81, rows: 37 },
  { columns: 200, rows: 24 },
);

describe("whatever the station does", { timeout: 120_000 }, () => {
  it("the screen has just the terminal's rows, none wider than it, and ends with the keys and the typed line", () => {
    fc.assert(
      fc.property(state, sizes, (shown, size) => {
        const lines = frameOf(shown, size);
        expect(lines).toHaveLength(size.rows);
        for (const line of lines) expect(line.length, line).toBeLessThanOrEqual(size.columns);
        expect(lines.at(-1)).toMatch(/^ >/);
        const footer = lines.slice(-5).join("\n");
        for (const [key, does] of keysNow(shown))
          expect(footer.replace(/ +/g, " ")).toContain(`${key} ${does}`);
        expect(lines[0]).toContain("Demo station 1");
        expect(lines.some((line) => line.startsWith(" ┌"))).toBe(true);
      }),
      { numRuns: 150 },
    );
  });

  it("a verdict at work is its word in letters larger than anything else, whole", () => {
    fc.assert(
      fc.property(state, sizes, (generated, size) => {
        const { result } = generated;
        fc.pre(result?.kind === "verdict");
        const shown = { ...generated, page: "work", overlay: null, machine: "ready" } as const;
        const lines = frameOf(shown, size);
        const word = result?.kind === "verdict" ? result.verdict.toUpperCase() : "";
        const forms = [
          [1, 1],
          [1, 1.4],
          [2, 1],
          [2, 2],
          [3, 3],
        ];
        const isWhole = forms.some(([across, down]) =>
          (bigText(word, across, down) ?? []).every((row) =>
            lines.some((line) => line.includes(row.trimEnd())),
          ),
        );
        expect(isWhole, lines.join("\n")).toBe(true);
      }),
      { numRuns: 60 },
    );
  });
});

function frameOf(shown: ScreenState, size: { readonly columns: number; readonly rows: number }) {
  return stripVTControlCharacters(
    renderToString(<StationView look={{ ...size, isColoured: false }} state={shown} />, {
      columns: size.columns,
    }),
  ).split("\n");
}
