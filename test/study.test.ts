import { mkdtempSync, readdirSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { PassThrough } from "node:stream";
import { beforeEach, describe, expect, it, onTestFinished, vi } from "vitest";
import { Confirming } from "../station/commands/study/confirming.ts";
import { StudyReport } from "../station/commands/study/report.ts";
import { type SettleArguments, settleOn } from "../station/commands/study/settle.ts";
import { openStage, type Stage } from "../station/commands/study/stage.ts";
import type { DecayRun } from "../station/watch-decay.ts";

let out = "";
let told = "";

beforeEach(() => {
  out = mkdtempSync(join(tmpdir(), "drumtight-study-"));
  const made = out;
  onTestFinished(() => rmSync(made, { recursive: true, force: true }));
  told = "";
  const spy = vi.spyOn(process.stderr, "write").mockImplementation((text) => {
    told += String(text);
    return true;
  });
  onTestFinished(() => spy.mockRestore());
});

const args = (): SettleArguments => ({
  model: "POD-4",
  simulate: true,
  seed: 7,
  runs: 4,
  watch_s: 25,
  rest_s: 20,
  who: null,
  out,
  unitSpread: { tau: 0.08, heat: 0.05, slow: 0.25 },
});

/** Runs counted; nothing printed. */
class CountingReport extends StudyReport {
  runs = 0;
  constructor() {
    super({ asJson: true });
  }
  override run(_piece: string, _run: DecayRun, number: number): void {
    this.runs = number;
  }
  override found(): void {}
}

/** A program has one study and ends with it; here many follow each other in one process. */
function forgetStops(): () => void {
  const signals = ["SIGINT", "SIGTERM", "SIGHUP"] as const;
  const known = new Set(signals.flatMap((signal) => process.listeners(signal)));
  const onError = new Set(process.stdout.listeners("error"));
  return () => {
    for (const signal of signals) {
      for (const listener of process.listeners(signal))
        if (!known.has(listener)) process.off(signal, listener);
    }
    for (const listener of process.stdout.listeners("error")) {
      if (!onError.has(listener)) process.stdout.off("error", listener as () => void);
    }
  };
}

async function stageWith(
  prepare: (stage: Stage & { plant: NonNullable<Stage["plant"]> }) => void,
): Promise<Stage> {
  onTestFinished(forgetStops());
  const stage = await openStage({ ...args(), pieces: ["tight"], longest_s: 600 });
  onTestFinished(() => stage.close());
  const { plant } = stage;
  if (!plant) throw new Error("A simulated stage has a plant.");
  prepare({ ...stage, plant });
  return stage;
}

describe("a settle study", () => {
  it("that nothing disturbs makes its runs and saves one file", async () => {
    const report = new CountingReport();
    const stage = await stageWith(() => {});
    expect(await settleOn(stage, args(), report)).toBe(0);
    expect(report.runs).toBe(4);
    expect(readdirSync(out)).toEqual([
      expect.stringMatching(/^demo-station\.POD-4\.settle\.2026-01-05T05\d\dZ\.json$/),
    ]);
    expect(stage.plant?.isSafe).toBe(true);
  });

  it.each<[string, RegExp, (stage: Stage & { plant: NonNullable<Stage["plant"]> }) => void]>([
    [
      "the guard is opened in mid-run",
      /The guard was opened/,
      ({ plant, clock }) => clock.setTimeout(() => plant.guard(false), 40_000),
    ],
    [
      "the guard is open when a run should begin",
      /The guard is open/,
      ({ plant, clock }) => clock.setTimeout(() => plant.guard(false), 5_000),
    ],
    [
      "the program is stopped in mid-run",
      /The study was stopped/,
      ({ bench, clock }) => clock.setTimeout(() => bench.stop(STOP), 40_000),
    ],
    [
      "the program is stopped while the body rests",
      /The study was stopped/,
      ({ bench, clock }) => clock.setTimeout(() => bench.stop(STOP), 5_000),
    ],
    [
      "the source is weak",
      /source/,
      ({ plant }) => plant.instruments.get("io_block")?.misbehave("source_weak"),
    ],
    [
      "the leak gauge falls silent",
      /leak_gauge/,
      ({ plant, clock }) =>
        clock.setTimeout(() => plant.instruments.get("leak_gauge")?.misbehave("silent"), 40_000),
    ],
    [
      "the leak gauge falls silent while the body rests",
      /leak_gauge/,
      ({ plant, clock }) =>
        clock.setTimeout(() => plant.instruments.get("leak_gauge")?.misbehave("silent"), 5_000),
    ],
    [
      "the fixture does not vent",
      /did not vent/,
      ({ plant, clock }) =>
        clock.setTimeout(() => plant.instruments.get("io_block")?.misbehave("vent_stuck_closed"), 30_000),
    ],
  ])("ends with nothing saved and safe outputs where %s", async (_, words, disturb) => {
    const report = new CountingReport();
    const stage = await stageWith(disturb);
    expect(await settleOn(stage, args(), report)).toBe(2);
    expect(told).toMatch(/^The study has ended, and nothing was saved\. /);
    expect(told).toMatch(words);
    expect(report.runs).toBe(0);
    expect(readdirSync(out)).toEqual([]);
    expect(stage.plant?.outputs).toMatchObject({ source: false, vent: true, motor: false });
  });

  it("does not wait for a long rest to end when it is stopped", async () => {
    const stage = await stageWith(({ bench, clock }) => clock.setTimeout(() => bench.stop(STOP), 5_000));
    expect(await settleOn(stage, { ...args(), rest_s: 3_000 }, new CountingReport())).toBe(2);
    expect(stage.clock.now_s()).toBeLessThan(60);
  });

  it("answers no where the fixture leaks: what it would learn is no body's background", async () => {
    const stage = await stageWith(({ plant }) =>
      plant.instruments.get("io_block")?.misbehave("fixture_leak"),
    );
    expect(await settleOn(stage, args(), new CountingReport())).toBe(1);
    expect(told).toMatch(
      /^Nothing was saved\. REF-TIGHT-POD-4 reads [\d.]+ mL\/min.*more than its tolerance of 2 mL\/min.*seals/,
    );
    expect(readdirSync(out)).toEqual([]);
  });
});

const STOP = { code: "PROGRAM_STOPPED", sentence: "The study was stopped." } as const;

describe("asking for a piece", () => {
  function desk(isTTY = false) {
    const input = Object.assign(new PassThrough(), { isTTY });
    const output = new PassThrough();
    const confirming = new Confirming(input, output);
    onTestFinished(() => confirming.close());
    return { input, confirming, said: () => String(output.read() ?? "") };
  }

  it.each(["\n", "REF-1\n", "  REF-1 \r\n"])("takes %j for: it is on", async (typed) => {
    const { input, confirming } = desk();
    input.write(typed);
    expect(await confirming.ask("REF-1", "Put REF-1 on.")).toBe(true);
  });

  it("says what was scanned instead, and asks again", async () => {
    const { input, confirming, said } = desk();
    input.write("REF-2\nREF-1\n");
    expect(await confirming.ask("REF-1", "Put REF-1 on.")).toBe(true);
    expect(said()).toMatch(
      /^Put REF-1 on\. .*scan REF-1 or press Enter\.\nThat is "REF-2"\.\nPut REF-1 on\./,
    );
  });

  it("is answered by false where the input ends, or the asking", async () => {
    const ended = desk();
    ended.input.end();
    expect(await ended.confirming.ask("REF-1", "Put REF-1 on.")).toBe(false);
    const closed = desk();
    const answer = closed.confirming.ask("REF-1", "Put REF-1 on.");
    closed.confirming.close();
    expect(await answer).toBe(false);
  });

  it("takes piped lines one for each question, but no Enter that was pressed at a terminal before it was asked", async () => {
    const piped = desk();
    piped.input.write("\nREF-2\n");
    expect(await piped.confirming.ask("REF-1", "Put REF-1 on.")).toBe(true);
    expect(await piped.confirming.ask("REF-2", "Put REF-2 on.")).toBe(true);
    const typed = desk(true);
    typed.input.write("\n\n");
    expect(await typed.confirming.ask("REF-1", "Put REF-1 on.")).toBe(true);
    await new Promise((resolve) => setImmediate(resolve));
    const second = typed.confirming.ask("REF-2", "Put REF-2 on.");
    typed.input.write("REF-1\nREF-2\n");
    expect(await second).toBe(true);
    expect(typed.said()).toMatch(/That is "REF-1"/);
  });
});
