import { describe, expect, it } from "vitest";
import type { Levels } from "../../drivers/ports.ts";
import type { FillEnd } from "../../station/cycle/fill-findings.ts";
import { stopsStation } from "../../station/cycle/reason.ts";
import { type UnitBench, unitBench, valvesShut } from "./unit-bench.ts";

// The bench's model is pressurised to 5 kPa, its source stands at 5.15 kPa, and its fill takes at least 1.5 s.
const reached: FillEnd = { end: "reached", rise_s: 3.7, pressure_Pa: 4_860, source_Pa: 5_130 };
const tooSlow: FillEnd = { end: "too_slow", rise_s: 5, pressure_Pa: 3_100, source_Pa: 5_130 };

const EMPTIES = { t_us: [0, 250_000, 500_000], pressure_mPa: [3_100_000, 700_000, 10_000] };
const KEEPS = { t_us: [0, 250_000, 500_000], pressure_mPa: [3_100_000, 3_095_000, 3_092_000] };

async function afterFill(fill: FillEnd): Promise<UnitBench> {
  const bench = await unitBench();
  await bench.reach("leak.fill");
  await bench.fulfil({ kind: "fill", fill });
  return bench;
}

function expectSourceOff(bench: UnitBench): void {
  const levels: Levels = Object.assign({}, ...bench.commands);
  expect(levels.source).toBe(false);
}

describe("a unit that can't be filled", () => {
  it.each([
    ["takes some pressure", {}, "GROSS_LEAK"],
    ["takes hardly any while the source gives air", { pressure_Pa: 8, source_Pa: 5_111 }, "UNIT_NOT_SEALED"],
  ])(
    "and %s is a fail of its leak step: how fast it empties is kept, and the test goes on",
    async (_, seen, code) => {
      const fill = { ...tooSlow, ...seen };
      const bench = await afterFill(fill);
      expect(bench.phase()).toBe("leak.gross");
      expectSourceOff(bench);
      await bench.fulfil({ kind: "curve", curve: EMPTIES });
      expect(bench.phase()).toBe("leak.trial.ventShut");
      await bench.fulfil();
      await bench.fulfil();
      expect(bench.phase()).toBe("leak.vent");
      await bench.reach("airflow.coast.relieving");
      await bench.fulfil();
      const { evidence } = await bench.end();
      expect(evidence.fails.map((it) => it.code)).toEqual([code]);
      expect(evidence.voids).toEqual([]);
      expect(evidence.leaks[0]).toMatchObject({ fill: { ...fill, sourceAtRest_Pa: 5_150 } });
      expect(evidence.leaks[0]?.gross).toBeDefined();
    },
  );
});

describe("a source or a fixture that can't fill the unit", () => {
  it.each([
    ["the source gave way", { ...tooSlow, source_Pa: 2_500 }, "SOURCE_FAULT"],
    ["nothing flowed", { ...tooSlow, pressure_Pa: 2, source_Pa: 5_149 }, "BLOCKED_FIXTURE"],
    ["only the hose was filled", { ...reached, rise_s: 0.3 }, "BLOCKED_FIXTURE"],
  ] satisfies [string, FillEnd, string][])(
    "makes the unit void and the outputs safe at once, and stops the station: %s",
    async (_, fill, code) => {
      const bench = await afterFill(fill);
      expect(bench.phase()).toBe("safing.seeing");
      expectSourceOff(bench);
      await bench.reach("safing.stopping");
      await bench.fulfil();
      const { evidence } = await bench.end();
      expect(evidence.voids.map((it) => it.code)).toEqual([code]);
      expect(evidence.voids.some(stopsStation)).toBe(true);
      expect(evidence.fails).toEqual([]);
      expect(evidence.leaks[0]?.measure).toBeUndefined();
    },
  );

  it("makes the unit void, and stops nothing, when the unit went past its pressure", async () => {
    const bench = await afterFill({ ...reached, end: "overfilled", pressure_Pa: 5_300 });
    expect(bench.phase()).toBe("safing.seeing");
    await bench.fulfil();
    await bench.fulfil();
    const { evidence } = await bench.end();
    expect(evidence.voids.map((it) => it.code)).toEqual(["OVERFILLED"]);
    expect(evidence.voids.some(stopsStation)).toBe(false);
  });

  it("is seen before the fill when the source is weak from the start: no valve is opened", async () => {
    const bench = await unitBench();
    await bench.reach("leak.rest.sourceShut");
    await bench.fulfil({ kind: "valve_trial", trial: valvesShut(4_800) });
    expect(bench.phase()).toBe("safing.seeing");
    const { evidence } = await bench.end();
    expect(evidence.voids[0]).toMatchObject({ code: "SOURCE_FAULT" });
    expect(evidence.voids[0]?.sentence).toContain("4.80 kPa before the fill");
    expect(bench.commands.some((levels) => levels.source === true)).toBe(false);
  });
});

describe("a fixture that is at fault and looks like an open unit", () => {
  it("is void when the unit keeps what little it took: it was cut off on the way", async () => {
    const bench = await afterFill(tooSlow);
    await bench.fulfil({ kind: "curve", curve: KEEPS });
    expect(bench.phase()).toBe("safing.seeing");
    const { evidence } = await bench.end();
    expect(evidence.voids[0]).toMatchObject({ code: "BLOCKED_FIXTURE" });
    expect(evidence.leaks[0]?.isOfFixture).toBe(true);
  });

  it("is void when opening the vent changes nothing: it stands open already", async () => {
    const bench = await afterFill(tooSlow);
    await bench.fulfil({ kind: "curve", curve: EMPTIES });
    await bench.fulfil({ kind: "pressure", pressure_Pa: 37 });
    expect(bench.phase()).toBe("leak.trial.ventOpen");
    await bench.fulfil({ kind: "pressure", pressure_Pa: 36 });
    expect(bench.phase()).toBe("safing.seeing");
    expectSourceOff(bench);
    const { evidence } = await bench.end();
    expect(evidence.voids[0]).toMatchObject({ code: "VALVE_STUCK" });
    expect(evidence.voids.some(stopsStation)).toBe(true);
    expect(evidence.leaks[0]?.isOfFixture).toBe(true);
  });

  it("is tried in the same way when a body loses all its pressure while it is measured", async () => {
    const bench = await unitBench();
    await bench.reach("leak.measure");
    const lost = { t_us: [0, 1, 2, 3, 4, 5], pressure_mPa: [4_850_000, 90_000, 2000, 1000, 0, 1000] };
    await bench.fulfil({ kind: "curve", curve: lost });
    expect(bench.phase()).toBe("leak.trial.ventShut");
  });

  it("says so when a gauge falls silent in the trial", async () => {
    const bench = await afterFill(tooSlow);
    await bench.fulfil({ kind: "curve", curve: EMPTIES });
    const { evidence } = await bench.end();
    expect(evidence.voids[0]).toMatchObject({ code: "PHASE_SILENT" });
  });
});

describe("the valves before the body", () => {
  it("are tried one by one before each fill, with the vent shut", async () => {
    const bench = await unitBench();
    await bench.reach("leak.fill");
    expect(bench.commands.slice(-3, -1)).toMatchObject([
      { source: false, isolate: true, vent: false, motor: false },
      { source: true, isolate: false, vent: false },
    ]);
  });

  it("make the unit void, and stop the station, when one of them passes", async () => {
    const bench = await unitBench();
    await bench.reach("leak.rest.isolateShut");
    await bench.fulfil({ kind: "valve_trial", trial: { ...valvesShut(), body_Pa_s: 1_300 } });
    expect(bench.phase()).toBe("safing.seeing");
    expectSourceOff(bench);
    const { evidence } = await bench.end();
    expect(evidence.voids[0]).toMatchObject({ code: "VALVE_STUCK" });
    expect(evidence.voids[0]?.sentence).toContain("the isolate valve of the fixture does not shut");
    expect(evidence.voids.some(stopsStation)).toBe(true);
  });
});
