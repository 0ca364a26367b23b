import { describe, expect, it } from "vitest";
import type { Levels } from "../../drivers/ports.ts";
import type { FillEnd } from "../../station/cycle/fill-findings.ts";
import { stopsStation } from "../../station/cycle/reason.ts";
import { type UnitBench, unitBench } from "./unit-bench.ts";

// The bench's model is pressurised to 5 kPa, its source stands at 5.15 kPa, and its fill takes at least 1.5 s.
const reached: FillEnd = { end: "reached", rise_s: 3.7, pressure_Pa: 4_860, source_Pa: 5_130 };
const tooSlow: FillEnd = { end: "too_slow", rise_s: 5, pressure_Pa: 3_100, source_Pa: 5_130 };

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
      await bench.fulfil();
      expect(bench.phase()).toBe("leak.vent");
      await bench.reach("airflow.coast");
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
    await bench.reach("leak.rest");
    await bench.fulfil({ kind: "source_at_rest", pressure_Pa: 4_800 });
    expect(bench.phase()).toBe("safing.seeing");
    const { evidence } = await bench.end();
    expect(evidence.voids[0]).toMatchObject({ code: "SOURCE_FAULT" });
    expect(evidence.voids[0]?.sentence).toContain("4.80 kPa before the fill");
    expect(bench.commands.some((levels) => levels.source === true)).toBe(false);
  });
});
