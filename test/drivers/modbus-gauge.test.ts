import fc from "fast-check";
import { describe, expect, it, test } from "vitest";
import { ModbusGauge } from "../../drivers/protocols/modbus-gauge.ts";
import { ModbusAmbient, ModbusPower } from "../../sim/instruments/modbus-gauges.ts";
import { BARE, pressureBench, scriptedBench } from "./modbus-gauge-bench.ts";
import { hex, modbusGaugeProfile, simulatedRig, wire } from "./modbus-rigs.ts";

describe("a Modbus gauge", () => {
  it("asks who it is, then for all its registers in one request, and gives SI with the time the answer came", async () => {
    const bed = pressureBench();
    await bed.settle(bed.gauge.connect());
    expect(bed.gauge.identity).toBe("PRESSURE-MB;SN0001");
    const [reading] = await bed.settle(bed.gauge.read());
    expect(reading).toMatchObject({ channel: "leak_pressure", value: -8000, quality: "good" });
    expect(reading?.t_s).toBe(bed.clock.now_s());
    expect(bed.sent[0]).toBe("01 03 00 64 00 0A 84 12");
    expect(new Set(bed.sent.slice(1))).toEqual(new Set(["01 04 00 00 00 04 F1 C9"]));
  });

  it("shows its frames in hex with what they mean", async () => {
    const bed = pressureBench();
    await bed.settle(bed.gauge.connect());
    await bed.settle(bed.gauge.read());
    const lines = bed.gauge.conversation.lines().map(({ direction, text }) => `${direction} ${text}`);
    expect(lines).toContain("sent 01 04 00 00 00 04 F1 C9 (read 4 input registers from 0)");
    expect(lines.at(-1)).toMatch(/^heard 01 04 08 C5 FA 00 00 00 00 .* \(4 registers\)$/);
  });

  it("scales integers, and reads each maker's own order of words", async () => {
    const profile = modbusGaugeProfile("modbus-power");
    const rig = simulatedRig(
      profile,
      (clock) =>
        new ModbusPower(
          { name: "power_meter", clock, seed: 1, framing: "rtu", unitId: 3, latency_s: 0.005 },
          () => 12_345.6,
          () => 229.87,
        ),
    );
    const gauge = new ModbusGauge({ name: "power_meter", profile, ...rig });
    await rig.clock.runUntil(gauge.connect());
    expect(gauge.identity).toBe("DEMO WORKS;POWER-MB;1.0");
    const readings = await rig.clock.runUntil(gauge.read());
    expect(readings.map(({ value }) => Number(value.toFixed(6)))).toEqual([12_345.6, 229.87]);
  });

  it("reads the room: degrees below zero, pascals beyond 65535, tenths of a percent", async () => {
    const profile = modbusGaugeProfile("modbus-ambient");
    const rig = simulatedRig(
      profile,
      (clock) =>
        new ModbusAmbient(
          { name: "ambient", clock, seed: 1, framing: "rtu", unitId: 7, latency_s: 0.005 },
          { temperature_C: () => -3.21, pressure_Pa: () => 101_325, humidity_pct: () => 45.2 },
        ),
    );
    const gauge = new ModbusGauge({ name: "ambient", profile, ...rig });
    await rig.clock.runUntil(gauge.connect());
    const readings = await rig.clock.runUntil(gauge.read());
    expect(readings.map(({ value }) => Number(value.toFixed(6)))).toEqual([269.94, 101_325, 0.452]);
  });

  test.each([
    ["a number and a good status", "01 04 04 00 64 00 00", 1200, "good"],
    ["a negative number", "01 04 04 FF 9C 00 00", -800, "good"],
    ["a number that stands for over range", "01 04 04 7F FF 00 00", Number.POSITIVE_INFINITY, "over-range"],
    ["one that stands for under range", "01 04 04 80 01 00 00", Number.NEGATIVE_INFINITY, "over-range"],
    ["a number that stands for none", "01 04 04 80 00 00 00", Number.NaN, "invalid"],
    ["a status that says over range", "01 04 04 00 64 00 01", Number.POSITIVE_INFINITY, "over-range"],
    ["a status that says invalid, of a fine number", "01 04 04 00 64 00 02", Number.NaN, "invalid"],
  ])("takes %s for what it is", async (_what, answer, value, quality) => {
    const bed = scriptedBench(() => answer);
    await bed.settle(bed.gauge.connect());
    const [reading] = await bed.settle(bed.gauge.read());
    expect(reading?.quality).toBe(quality);
    expect(Number(reading?.value.toFixed(9))).toBe(value);
  });

  test.each([
    ["over_range", "over-range", Number.POSITIVE_INFINITY],
    ["sensor_fault", "invalid", Number.NaN],
  ])("says so when its status bits say %s", async (day, quality, value) => {
    const bed = pressureBench(() => 8000);
    await bed.settle(bed.gauge.connect());
    bed.instrument.misbehave(day);
    const [reading] = await bed.settle(bed.gauge.read());
    expect(reading).toMatchObject({ quality, value });
  });

  test.each([
    [
      "an unknown status",
      "01 04 04 00 64 00 09",
      "REPLY_MALFORMED",
      "status 9 in register 1, expected one of 0, 1, 2",
    ],
    ["too few registers", "01 04 02 00 64", "REPLY_TIMEOUT", "part of an answer"],
    ["more than was asked for", "01 04 04 00 64 00 00 00 00", "REPLY_MALFORMED", "more than the answer"],
    [
      "a byte count that is not its length",
      "01 04 02 00 64 00 00",
      "REPLY_MALFORMED",
      "1 registers in answer to 2",
    ],
    [
      "another unit's answer",
      "02 04 04 00 64 00 00",
      "REPLY_MALFORMED",
      "the frame of unit 2, and unit 1 was asked",
    ],
    [
      "another function's answer",
      "01 03 04 00 64 00 00",
      "REPLY_MALFORMED",
      "answer to function 3, and function 4",
    ],
    ["a wrong CRC", "=01 04 04 00 64 00 00 12 34", "REPLY_MALFORMED", "CRC"],
    ["its own question back", "=01 04 00 00 00 02 71 CB", "REPLY_TIMEOUT", "part of an answer"],
    [
      "a refusal",
      "01 84 02",
      "INSTRUMENT_ERROR",
      "refused to read 2 input registers from 0: Modbus exception 2",
    ],
    ["that it is busy", "01 84 06", "INSTRUMENT_ERROR", "exception 6, server device busy"],
    [
      "nothing",
      undefined,
      "REPLY_TIMEOUT",
      "did not answer 01 04 00 00 00 02 71 CB (read 2 input registers from 0)",
    ],
  ])("gives no reading for %s, and its connection has ended", async (_what, answer, code, words) => {
    const bed = scriptedBench(() => answer);
    await bed.settle(bed.gauge.connect());
    bed.gauge.watch(bed.listener);
    await bed.clock.advance_s(1);
    expect(bed.seen).toEqual([]);
    expect(bed.faults).toMatchObject([
      { code, instrument: "gauge", message: expect.stringContaining(words) },
    ]);
    await expect(bed.gauge.read()).rejects.toMatchObject({ code });
  });

  it("never takes a frame with a bit wrong, whichever it is", async () => {
    const good = wire("01 04 04 00 64 00 00");
    for (let bit = 0; bit < 8 * good.length; bit++) {
      const bytes = Buffer.from(good, "latin1");
      bytes[bit >> 3] = (bytes[bit >> 3] ?? 0) ^ (1 << (bit & 7));
      const bed = scriptedBench(() => `=${hex(bytes.toString("latin1"))}`);
      await bed.settle(bed.gauge.connect());
      await expect(bed.settle(bed.gauge.read())).rejects.toMatchObject({
        code: expect.stringMatching(/^(REPLY_|INSTRUMENT_ERROR)/),
      });
    }
  });

  it("takes an answer in whatever pieces it comes", async () => {
    const whole = wire("01 04 04 00 64 00 00");
    await fc.assert(
      fc.asyncProperty(
        fc.array(fc.integer({ min: 1, max: 9 }), { maxLength: 8 }),
        fc.integer({ min: 0, max: 30 }),
        async (cuts, wait_ms) => {
          const bed = scriptedBench((_question, rig) => {
            const ends = [...new Set([...cuts.map((cut) => Math.min(cut, whole.length)), whole.length])];
            let from = 0;
            ends
              .sort((a, b) => a - b)
              .forEach((end, i) => {
                const piece = whole.slice(from, end);
                from = end;
                rig.clock.setTimeout(() => rig.far().send(piece), i * wait_ms);
              });
            return undefined;
          });
          await bed.settle(bed.gauge.connect());
          expect(await bed.settle(bed.gauge.read())).toMatchObject([{ value: 1200, quality: "good" }]);
        },
      ),
      { numRuns: 60 },
    );
  });

  it("never takes a late answer for the next question's, on the same connection or the one after", async () => {
    let isLate = true;
    const bed = scriptedBench((_question, rig) => {
      if (!isLate) return "01 04 04 00 64 00 00";
      // It comes to whoever is connected by then, as on a serial line.
      rig.clock.setTimeout(() => rig.far().send(wire("01 04 04 11 11 00 00")), 700);
      return undefined;
    });
    await bed.settle(bed.gauge.connect());
    await expect(bed.settle(bed.gauge.read())).rejects.toMatchObject({ code: "REPLY_TIMEOUT" });
    isLate = false;
    await bed.settle(bed.gauge.connect());
    bed.gauge.watch(bed.listener);
    await bed.clock.advance_s(2);
    // The late one came between two polls, unasked: from there on nothing can be matched.
    expect(bed.faults).toMatchObject([
      { code: "REPLY_MALFORMED", message: expect.stringContaining("without being asked") },
    ]);
    expect(bed.seen.every(({ value }) => value === 1200)).toBe(true);
  });

  it("without an identity, hears a late answer out before its first question", async () => {
    // Its first answer takes 350 ms, which is too long, the others 250 ms: as long as that they would follow one late.
    let asked = 0;
    const bed = scriptedBench((_question, rig) => {
      const value = ++asked;
      const answer = wire(`01 04 04 00 0${value} 00 00`);
      rig.clock.setTimeout(() => rig.far().send(answer), value === 1 ? 350 : 250);
      return undefined;
    });
    await bed.settle(bed.gauge.connect());
    await expect(bed.settle(bed.gauge.read())).rejects.toMatchObject({ code: "REPLY_TIMEOUT" });
    await bed.settle(bed.gauge.connect());
    // Scale 0.1 hPa, offset 2 hPa.
    expect(await bed.settle(bed.gauge.read())).toMatchObject([{ value: expect.closeTo(220, 6) }]);
    expect(await bed.settle(bed.gauge.read())).toMatchObject([{ value: expect.closeTo(230, 6) }]);
  });

  it("does so, too, where its identity comes in the form of a reading", async () => {
    const place = {
      table: "input_register",
      type: "uint32",
      lowWordFirst: false,
      lowByteFirst: false,
    } as const;
    const identity = { kind: "number", place: { ...place, address: 40 }, expect: 7 } as const;
    const bed = scriptedBench(
      (question) => (question.startsWith("01 04 00 28") ? "01 04 04 00 00 00 07" : "01 04 04 00 64 00 00"),
      { ...BARE, identity },
    );
    const connecting = bed.gauge.connect();
    await bed.clock.advance_s(0.1);
    // Of before: it has the identity's form, and not its number.
    bed.far().send(wire("01 04 04 00 64 00 00"));
    await bed.settle(connecting);
    expect(bed.gauge.identity).toBe("7");
    expect(await bed.settle(bed.gauge.read())).toMatchObject([{ value: 1200 }]);
  });

  it("leaves the silence between two frames that the standard asks for", async () => {
    const at_s: number[] = [];
    const bed = scriptedBench((_question, rig) => {
      at_s.push(rig.clock.now_s());
      return "01 04 04 00 64 00 00";
    });
    await bed.settle(bed.gauge.connect());
    await bed.settle(Promise.all([bed.gauge.read(), bed.gauge.read(), bed.gauge.read()]));
    // 19200 baud, 11 bits a character, three and a half of them; answers come at once here.
    for (let i = 1; i < at_s.length; i++)
      expect((at_s[i] ?? 0) - (at_s[i - 1] ?? 0)).toBeGreaterThanOrEqual(3.5 * (11 / 19_200) - 1e-9);
  });

  it("takes noise between two questions for no answer, and goes on", async () => {
    const bed = scriptedBench(() => "01 04 04 00 64 00 00");
    await bed.settle(bed.gauge.connect());
    await bed.settle(bed.gauge.read());
    bed.far().send("\0");
    await bed.clock.advance_s(0.01);
    expect(await bed.settle(bed.gauge.read())).toMatchObject([{ value: 1200 }]);
  });
});
