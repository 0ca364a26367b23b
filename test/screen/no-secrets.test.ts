import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { loadLimitFile } from "../../limits/limit-file.ts";
import { afterNews, type News } from "../../station/screen/after-news.ts";
import { type Line, NO_LINE } from "../../station/screen/line-editor.ts";
import { lineReader } from "../../station/screen/line-reader.ts";
import { lineLeft, press } from "../../station/screen/press.ts";
import { afterLook, firstQuestion, type ScreenState } from "../../station/screen/screen-state.ts";
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
  tub,
} from "./example-state.ts";
import { keyOf } from "./press-keys.ts";

const BADGE = "K777123";
const PIN = "480913";
const INES = { name: "Ines Roth", role: "inspector", how: "pin" } as const;
const reader = lineReader({
  models: [tub, loadLimitFile("limits/models/pod-4.yaml")],
  referenceSerials: ["REF-TIGHT-POD-4"],
  badge: /^K[0-9]{6}$/u,
});

const NEWS: readonly News[] = [
  { type: "signed_in", who: INES },
  { type: "signed_out" },
  { type: "sign_in_refused", sentence: "Name or PIN is wrong.", lockedUntil_ms: null },
  { type: "armed", attempt },
  { type: "armed", attempt: { ...attempt, retestReasons: ["seal was dirty"] } },
  { type: "started", attempt },
  { type: "refused", serial: "TUB531812", reasons: [CALIBRATION] },
  { type: "finished", finished: finished({ verdict: "fail", reasons: [ABORTED] }) },
  { type: "finished", finished: finished({ verdict: "pass" }) },
  { type: "faulted", reasons: [NO_VENT] },
  { type: "recovered" },
  { type: "summed_up", lines: ["12 tested"] },
];
const MACHINES = [
  "signedOut",
  "needsReference",
  "ready",
  "identifying",
  "armed",
  "checking",
  "testing",
  "faulted",
];
const PAGES = ["cautions", "sign_in", "work", "summary"] as const;

type Step =
  | { readonly keys: readonly string[] }
  | { readonly pin: true }
  | { readonly news: News }
  | { readonly machine: string };

const KEYS = [
  ...Array<string>(8).fill("enter"),
  "escape",
  "tab",
  "backspace",
  "delete",
  "left",
  "right",
  "home",
  "end",
  "erase_line",
  "f1",
  "f2",
  "f3",
  "f4",
];
const TEXTS = [
  "TUB000123",
  "TUB000124",
  "POD0001",
  "P2",
  "G0815",
  "Ines Roth",
  "x",
  "2",
  "?",
  "s",
  "g",
  "o",
  "REF-TIGHT-POD-4",
];

const step: fc.Arbitrary<Step> = fc.oneof(
  { weight: 4, arbitrary: fc.constantFrom(...KEYS).map((key) => ({ keys: [key] })) },
  { weight: 4, arbitrary: fc.constantFrom(...TEXTS).map((text) => ({ keys: [text] })) },
  { weight: 3, arbitrary: fc.constantFrom(...TEXTS).map((text) => ({ keys: [...text, "enter"] })) },
  {
    weight: 2,
    arbitrary: fc.nat(BADGE.length).map((at) => ({ keys: [BADGE.slice(0, at), BADGE.slice(at)] })),
  },
  { weight: 2, arbitrary: fc.constant({ keys: [...BADGE, "enter"] }) },
  { weight: 2, arbitrary: fc.constant({ pin: true as const }) },
  { weight: 2, arbitrary: fc.constantFrom(...NEWS).map((news) => ({ news })) },
  { weight: 2, arbitrary: fc.constantFrom(...MACHINES).map((machine) => ({ machine })) },
);
const start: fc.Arbitrary<ScreenState> = fc
  .tuple(
    fc.constantFrom(...PAGES, "work", "work"),
    fc.constantFrom(...MACHINES, "armed", "armed"),
    fc.constantFrom("off", "people", "name"),
    fc.constantFrom(null, "help", "conversation", "summary"),
  )
  .map(([page, machine, signIn, overlay]) => {
    const state = machine === "armed" ? armed() : atWork(machine);
    const facts = { ...state.facts, signIn } as ScreenState["facts"];
    return { ...state, facts, page, overlay, signIn: firstQuestion(facts) } as ScreenState;
  });

/** One screen, as the desk keeps it. */
class Bench {
  state: ScreenState;
  line: Line = NO_LINE;
  told: unknown = null;

  constructor(state: ScreenState) {
    this.state = state;
  }

  *run(steps: readonly Step[]): Generator<{ before: ScreenState; line: Line; key: string; deed: string }> {
    for (const it of steps) {
      if ("news" in it) this.#hear(it.news);
      else if ("machine" in it) this.state = afterLook(this.state, observed({ machine: it.machine }));
      else {
        const isAsked = this.state.page === "sign_in" && this.state.signIn.asks === "pin";
        const keys = "keys" in it ? it.keys : isAsked ? [...PIN] : [];
        for (const key of keys) {
          const { state: before, line } = this;
          const pressed = press(before, line, keyOf(key), reader);
          this.state = pressed.state;
          this.line = pressed.line;
          yield { before, line, key, deed: pressed.deed.do };
        }
      }
    }
  }

  #hear(news: News): void {
    if (news.type === "finished") this.told = news.finished.traveller.verdict;
    const { state } = this;
    this.state = afterNews(state, news);
    this.line = lineLeft(state, this.state, this.line);
  }
}

const steps = fc.array(step, { minLength: 1, maxLength: 40 });
/** Near a start or an abort: what begins with a unit armed or tested seldom ends with one. */
const fewSteps = fc.array(step, { minLength: 1, maxLength: 5 });

describe("whatever is pressed, scanned and told, in every order", () => {
  it("no PIN is in the next question's line where its typing is cut short by a sign-out", () => {
    const asked = { ...atWork("signedOut"), page: "sign_in" } as ScreenState;
    const facts = { ...asked.facts, signIn: "people" } as ScreenState["facts"];
    const bench = new Bench({
      ...asked,
      facts,
      signIn: { ...firstQuestion(facts), asks: "pin", name: "Ines Roth" },
    });
    for (const _ of bench.run([{ pin: true }, { news: { type: "signed_out" } }, { keys: ["x"] }])) {
      expect(JSON.stringify(bench.state)).not.toContain(PIN);
    }
    expect(bench.line.text).toBe("x");
  });

  it("no PIN and no badge is in anything that is drawn", () => {
    fc.assert(
      fc.property(start, steps, (state, all) => {
        const bench = new Bench(state);
        for (const _ of bench.run(all)) {
          const drawn = JSON.stringify([bench.state, whatToDo(bench.state), keysNow(bench.state)]);
          expect(drawn).not.toContain(BADGE);
          expect(drawn).not.toContain(PIN);
        }
      }),
      { numRuns: 150 },
    );
  });

  it("nothing starts but an armed unit that is shown, by an Enter on an empty line", () => {
    fc.assert(
      fc.property(start, fewSteps, (state, all) => {
        for (const { before, line, key, deed } of new Bench(state).run(all)) {
          if (deed !== "start") continue;
          expect([before.machine, before.page, before.overlay, line.text.trim(), key]).toEqual([
            "armed",
            "work",
            null,
            "",
            "enter",
          ]);
        }
      }),
      { numRuns: 1500 },
    );
  });

  it("Esc aborts whenever a test runs or is about to, and else puts at most an armed unit aside that is in view", () => {
    fc.assert(
      fc.property(start, fewSteps, (state, all) => {
        for (const { before, key, deed } of new Bench(state).run(all)) {
          const runs = before.machine === "testing" || before.machine === "checking";
          if (key !== "escape" || before.page === "leaving") continue;
          if (runs) expect(deed).toBe("abort");
          else if (deed === "abort") {
            expect([before.machine, before.page, before.overlay]).toEqual(["armed", "work", null]);
          }
        }
      }),
      { numRuns: 1500 },
    );
  });

  it("no line that was scanned or typed is lost without a word", () => {
    fc.assert(
      fc.property(start, steps, (state, all) => {
        const bench = new Bench(state);
        for (const { before, line, key, deed } of bench.run(all)) {
          if (key !== "enter" || line.text.trim() === "" || before.page === "leaving") continue;
          const { remark, signIn, page, overlay, waitingParts } = bench.state;
          const answers = [
            deed !== "nothing",
            remark !== null,
            signIn.said !== null,
            signIn.asks !== before.signIn.asks,
            page !== before.page,
            overlay !== null,
            Object.keys(waitingParts).length > 0,
          ];
          expect(answers, line.text).toContain(true);
          expect(bench.line).toEqual(NO_LINE);
        }
      }),
      { numRuns: 150 },
    );
  });

  it("no verdict is shown but the one the station told last", () => {
    fc.assert(
      fc.property(start, steps, (state, all) => {
        const bench = new Bench(state);
        for (const _ of bench.run(all)) {
          const { result } = bench.state;
          if (result?.kind === "verdict") expect(result.verdict).toBe(bench.told);
        }
      }),
      { numRuns: 150 },
    );
  });
});
