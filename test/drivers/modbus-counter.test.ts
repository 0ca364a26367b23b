import { describe, expect, it } from "vitest";
import { PRESSURE, scriptedBench } from "./modbus-gauge-bench.ts";
import { hex, wire } from "./modbus-rigs.ts";

describe("a gauge that counts its measurements", () => {
  const IDENTITY = `01 03 14 ${hex("PRESSURE-MB;SN1\0\0\0\0\0")}`;

  /** Answers with this count as it stands at the time. */
  function counting(count: (t_s: number) => number) {
    const words = (value: number) =>
      value
        .toString(16)
        .padStart(4, "0")
        .replace(/(..)(..)/, "$1 $2");
    return scriptedBench((question, rig) => {
      if (question.startsWith("01 03")) return IDENTITY;
      return `01 04 08 C5 FA 00 00 00 00 ${words(count(rig.clock.now_s()) & 0xffff)}`;
    }, PRESSURE);
  }

  it("tells each measurement once, however often it is asked", async () => {
    const bed = counting((t_s) => Math.floor(t_s / 0.1 + 1e-9));
    await bed.settle(bed.gauge.connect());
    bed.gauge.watch(bed.listener);
    await bed.clock.advance_s(2.001);
    expect(bed.faults).toEqual([]);
    const counts = bed.seen.map(({ sequence }) => sequence);
    expect(counts).toEqual([...new Set(counts)]);
    expect(counts.length).toBeGreaterThanOrEqual(20);
    expect(counts.length).toBeLessThanOrEqual(21);
    expect(bed.received.length).toBeGreaterThan(90);
  });

  it("waits for a measurement made after the question when one fresh reading is wanted", async () => {
    const bed = counting((t_s) => Math.floor(t_s / 0.4 + 1e-9));
    await bed.settle(bed.gauge.connect());
    const asked_s = bed.clock.now_s();
    const [reading] = await bed.settle(bed.gauge.read());
    expect((reading?.sequence ?? 0) * 0.4).toBeGreaterThanOrEqual(asked_s);
  });

  it("is out of sequence when its count stands still, half a second after it should have gone on", async () => {
    const bed = counting((t_s) => Math.min(50, Math.floor(t_s * 100)));
    await bed.settle(bed.gauge.connect());
    bed.gauge.watch(bed.listener);
    await bed.clock.advance_s(1.1);
    expect(bed.faults).toMatchObject([
      { code: "OUT_OF_SEQUENCE", message: expect.stringContaining("has stood still at 50 for 500 ms") },
    ]);
    expect(bed.seen.at(-1)?.sequence).toBe(50);
  });

  it("waits for a new measurement no longer than its count may stand still, however slowly it answers", async () => {
    // No profile file may say so; nothing else bounds the wait.
    const slow = { ...PRESSURE, replyWithin_s: 2 };
    const bed = scriptedBench((question, rig) => {
      if (question.startsWith("01 03")) return IDENTITY;
      rig.clock.setTimeout(() => rig.far().send(wire("01 04 08 C5 FA 00 00 00 00 00 07")), 600);
      return undefined;
    }, slow);
    await bed.settle(bed.gauge.connect());
    const asked_s = bed.clock.now_s();
    await expect(bed.settle(bed.gauge.read())).rejects.toMatchObject({
      code: "OUT_OF_SEQUENCE",
      message: expect.stringContaining("has stood still at 7 for 500 ms"),
    });
    expect(bed.clock.now_s() - asked_s).toBeLessThan(2);
    await expect(bed.gauge.read()).rejects.toMatchObject({ code: "OUT_OF_SEQUENCE" });
  });

  it("is out of sequence, too, where each answer takes as long as it may", async () => {
    const bed = scriptedBench((question, rig) => {
      if (question.startsWith("01 03")) return IDENTITY;
      rig.clock.setTimeout(() => rig.far().send(wire("01 04 08 C5 FA 00 00 00 00 00 07")), 290);
      return undefined;
    }, PRESSURE);
    await bed.settle(bed.gauge.connect());
    bed.gauge.watch(bed.listener);
    await bed.clock.advance_s(0.5 + 3 * 0.3);
    expect(bed.faults).toMatchObject([{ code: "OUT_OF_SEQUENCE" }]);
    expect(bed.seen).toHaveLength(1);
  });

  it("is out of sequence when its count goes back, and not when it goes round", async () => {
    const round = counting((t_s) => 65_500 + Math.floor(t_s * 100));
    await round.settle(round.gauge.connect());
    round.gauge.watch(round.listener);
    await round.clock.advance_s(1);
    expect(round.faults).toEqual([]);
    const back = counting((t_s) => (t_s < 0.5 ? 900 : 10) + Math.floor(t_s * 100));
    await back.settle(back.gauge.connect());
    back.gauge.watch(back.listener);
    await back.clock.advance_s(1);
    expect(back.faults).toMatchObject([
      { code: "OUT_OF_SEQUENCE", message: expect.stringContaining("it started anew; check its supply") },
    ]);
  });

  it("may have gone any way round while nobody looked for ten minutes", async () => {
    const bed = counting((t_s) => Math.floor(t_s * 100));
    await bed.settle(bed.gauge.connect());
    await bed.settle(bed.gauge.read());
    await bed.clock.advance_s(600);
    expect(await bed.settle(bed.gauge.read())).toMatchObject([{ quality: "good" }]);
  });

  it("goes on from what earlier answers left behind, for playing back", async () => {
    const bed = counting((t_s) => Math.floor(t_s * 100));
    await bed.settle(bed.gauge.connect());
    await bed.settle(bed.gauge.read());
    const memory = bed.gauge.memory();
    const again = counting((t_s) => Math.floor(t_s * 100));
    await again.settle(again.gauge.connect());
    again.gauge.resume(memory);
    expect(again.gauge.memory()).toEqual(memory);
  });
});
