import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { stopsStation } from "../../station/cycle/reason.ts";
import { ABORTED } from "../../station/cycle/unit-reasons.ts";
import { pressureBeforeVent_Pa, ventFinding } from "../../station/cycle/vent-findings.ts";
import type { Outcome } from "../../station/cycle/watchers.ts";
import { attemptOn, type BenchFaults, pod, type UnitBench, unitBench } from "./unit-bench.ts";

const rules = { testPressure_Pa: 5_000, ventShortest_s: 0.15 };
const suction = { testPressure_Pa: -8_000, ventShortest_s: 0.5 };

describe("what a vent tells", () => {
  it.each([
    ["a body that took its time", { from_Pa: 4_200, took_s: 0.3 }, rules, false],
    ["one that took just the shortest", { from_Pa: 4_200, took_s: 0.15 }, rules, false],
    ["a hose", { from_Pa: 4_200, took_s: 0.04 }, rules, true],
    ["a hose under suction", { from_Pa: -7_000, took_s: 0.04 }, suction, true],
    ["a hose from half of the pressure", { from_Pa: 2_500, took_s: 0.04 }, rules, true],
    ["a body with hardly half left", { from_Pa: 2_490, took_s: 0.04 }, rules, false],
    ["an open body", { from_Pa: -10, took_s: 0 }, suction, false],
    ["a gauge on the wrong side of ambient", { from_Pa: 7_000, took_s: 0 }, suction, false],
    ["a time that is no number", { from_Pa: 4_200, took_s: Number.NaN }, rules, true],
    ["a pressure that is no number", { from_Pa: Number.NaN, took_s: 0.04 }, rules, true],
  ])("%s", (_, seen, step, isBlocked) => {
    const reason = ventFinding(seen, step);
    expect(reason?.code ?? null).toBe(isBlocked ? "BLOCKED_FIXTURE" : null);
    expect(reason && stopsStation(reason)).toBe(isBlocked ? true : null);
  });

  it("says the same of suction as of pressure, and names the one the body may hold", () => {
    const seen = fc.record({
      from_Pa: fc.integer({ min: -9_000, max: 9_000 }),
      took_s: fc.float({ noNaN: true }),
    });
    fc.assert(
      fc.property(seen, ({ from_Pa, took_s }) => {
        const pressure = ventFinding({ from_Pa, took_s }, rules)?.sentence;
        const under = ventFinding(
          { from_Pa: -from_Pa, took_s },
          { ...rules, testPressure_Pa: -5_000 },
        )?.sentence;
        expect(under).toBe(pressure?.replace("may still hold pressure", "may still hold suction"));
      }),
    );
  });

  it("one wild reading does not change what it began with", () => {
    const t_us = [0, 1, 2, 3, 4, 5];
    const measure = { t_us, pressure_mPa: [9_000_000, 4_100_000, 4_100_001, 4_099_999, 4_100_000, 0] };
    expect(pressureBeforeVent_Pa({ step: "leak", measure })).toBe(4_100);
    expect(pressureBeforeVent_Pa({ step: "leak" })).toBeNaN();
  });
});

const afterVent_s = (bench: UnitBench, took_s: number): Outcome => ({
  kind: "vented",
  at_s: bench.clock.now_s() + took_s,
});

describe("the vent of a test", () => {
  async function vented(took_s: number, faults: BenchFaults = {}, attempt = attemptOn(pod)) {
    const bench = await unitBench(faults, { attempt });
    await bench.reach("leak.vent");
    await bench.fulfil(afterVent_s(bench, took_s));
    return bench;
  }

  it("that took as long as a body takes goes on to the next step", async () => {
    const bench = await vented(0.3);
    expect(bench.phase()).toBe("airflow.runUp");
  });

  it.each([
    ["a conforming unit", {}, attemptOn(pod)],
    ["a unit that does not conform", { stepConforms: false }, attemptOn(pod)],
    [
      "a reference piece",
      {},
      {
        ...attemptOn(pod),
        reference: {
          serial: "REF-TIGHT-POD-4",
          kind: "tight" as const,
          model: "POD-4",
          certified_m3_s: 0,
          tolerance_m3_s: 1e-8,
          orifice: null,
          unit: "mL/min",
        },
      },
    ],
  ])("that was over too soon makes %s void, and no motor starts", async (_, faults, attempt) => {
    const bench = await vented(0.04, faults, attempt);
    expect(bench.phase()).toBe("safing.seeing");
    await bench.fulfil();
    if (bench.phase() === "safing.stopping") await bench.fulfil();
    const { evidence } = await bench.end();
    expect(evidence.voids.map(({ code }) => code)).toEqual(["BLOCKED_FIXTURE"]);
    expect(evidence.leaks[0]?.vent).toMatchObject({ from_Pa: 5_000 });
    expect(bench.commands.some(({ motor }) => motor === true)).toBe(false);
  });

  it("that was over soon after a gross leak, with little pressure left, is no fault of the fixture", async () => {
    const bench = await unitBench();
    await bench.reach("leak.fill");
    const fill = { end: "too_slow", rise_s: 5, pressure_Pa: 900, source_Pa: 5_130 } as const;
    await bench.fulfil({ kind: "fill", fill });
    const curve = { t_us: [0, 1, 2], pressure_mPa: [500_000, 400_000, 300_000] };
    await bench.fulfil({ kind: "curve", curve });
    await bench.reach("leak.vent");
    await bench.fulfil(afterVent_s(bench, 0.04));
    expect(bench.phase()).toBe("airflow.runUp");
  });
});

describe("a test broken off with pressure on the body", () => {
  async function voidsAfter(took_s: number, newestPressure_Pa: number) {
    const bench = await unitBench({ newestPressure_Pa });
    await bench.reach("leak.settle");
    bench.send({ type: "ABORT", reason: ABORTED });
    await bench.clock.advance_s(0.01);
    // The vent was told to open when safing began, not when its readings are first looked at.
    await bench.fulfil(afterVent_s(bench, took_s - 0.01));
    await bench.fulfil();
    return (await bench.end()).evidence.voids.map(({ code }) => code);
  }

  it("warns when it was the hose that vented, and only then", async () => {
    expect(await voidsAfter(0.149, 4_800)).toEqual(["ABORTED", "BLOCKED_FIXTURE"]);
    expect(await voidsAfter(0.151, 4_800)).toEqual(["ABORTED"]);
    expect(await voidsAfter(0.04, 1_000)).toEqual(["ABORTED"]);
  });

  it("in the airflow step has nothing left to vent", async () => {
    const bench = await unitBench({ newestPressure_Pa: 4_800 });
    await bench.reach("airflow.runUp");
    bench.send({ type: "ABORT", reason: ABORTED });
    await bench.clock.advance_s(0.01);
    await bench.fulfil(afterVent_s(bench, 0));
    await bench.fulfil();
    expect((await bench.end()).evidence.voids.map(({ code }) => code)).toEqual(["ABORTED"]);
  });
});
