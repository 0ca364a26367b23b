import fc from "fast-check";
import { describe, expect, it, test } from "vitest";
import type { DriverError, Reading } from "../../drivers/ports.ts";
import { ModbusGauge } from "../../drivers/protocols/modbus-gauge.ts";
import { ModbusAmbient, ModbusPower, ModbusPressure } from "../../sim/instruments/modbus-gauges.ts";
import { MODBUS_BAD_DAYS } from "../../sim/instruments/modbus-instrument.ts";
import { type FrameRig, frameRig, hex, modbusGaugeProfile, simulatedRig, wire } from "./modbus-rigs.ts";

const PROFILE = modbusGaugeProfile("modbus-pressure");
/** What no identity and no counter can disturb. */
const BARE = modbusGaugeProfile(
  "bare",
  `drumtight: profile/1
kind: modbus_gauge
title: Two registers
port: { baud: 19200, data_bits: 8, parity: even, stop_bits: 1, flow_control: none }
modbus: { framing: rtu, unit_id: 1 }
reply_within: 300 ms
poll: { every: 50 ms }
channels:
  - { name: p, quantity: pressure, unit: hPa, table: input_register, address: 0, type: int16, scale: 0.1, offset: 2,
      special_values: { over_range: [32767, -32767], invalid: [-32768] } }
status: { table: input_register, address: 1, codes: { good: [0], over_range: [1], invalid: [2] } }
`,
);

function pressureBench(pressure_Pa: (t_s: number) => number = () => -8000, framing: "rtu" | "tcp" = "rtu") {
  const profile = { ...PROFILE, modbus: { ...PROFILE.modbus, framing } };
  const rig = simulatedRig(
    profile,
    (clock) =>
      new ModbusPressure(
        { name: "gauge", clock, seed: 1, framing, unitId: 1, latency_s: 0.002 },
        pressure_Pa,
      ),
  );
  return {
    ...rig,
    ...watched(new ModbusGauge({ name: "gauge", profile, ...rig })),
    settle: settleOn(rig.clock),
  };
}

function scriptedBench(answer: (question: string, rig: FrameRig) => string | undefined, profile = BARE) {
  const rig = frameRig(profile, answer);
  const gauge = new ModbusGauge({ name: "gauge", profile, transport: rig.transport, clock: rig.clock });
  return { ...rig, ...watched(gauge) };
}

function settleOn(clock: FrameRig["clock"]) {
  return <T>(promise: Promise<T>) => clock.runUntil(promise);
}

function watched(gauge: ModbusGauge) {
  const seen: Reading[] = [];
  const faults: DriverError[] = [];
  const listener = {
    readings: (readings: readonly Reading[]) => void seen.push(...readings),
    fault: (error: DriverError) => void faults.push(error),
  };
  return { gauge, seen, faults, listener };
}

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
    }, PROFILE);
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
    const slow = { ...PROFILE, replyWithin_s: 2 };
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
    }, PROFILE);
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

describe.each(["rtu", "tcp"] as const)("on a bad day, over %s", (framing) => {
  const CODES: Readonly<Record<string, string>> = {
    silent: "REPLY_TIMEOUT",
    half_line: "REPLY_TIMEOUT",
    late: "REPLY_TIMEOUT",
    exception: "INSTRUMENT_ERROR",
    unplugged: "PORT_LOST",
    replugged: "PORT_LOST",
  };

  test.each(MODBUS_BAD_DAYS.filter((day) => day !== "wrong_identity"))(
    "%s ends the connection and gives no reading; a fresh one is as good as ever",
    async (day) => {
      const bed = pressureBench(undefined, framing);
      await bed.settle(bed.gauge.connect());
      bed.gauge.watch(bed.listener);
      await bed.clock.advance_s(0.5);
      expect(bed.faults).toEqual([]);
      const before = bed.seen.length;
      bed.instrument.misbehave(day);
      await bed.clock.advance_s(1);
      expect(bed.faults).toMatchObject([{ code: CODES[day] ?? expect.stringMatching(/^REPLY_/) }]);
      // One answer may have been on its way already.
      expect(bed.seen.length - before).toBeLessThanOrEqual(1);
      bed.instrument.misbehave(null);
      await bed.clock.advance_s(5);
      await bed.settle(bed.gauge.connect());
      expect(await bed.settle(bed.gauge.read())).toMatchObject([{ value: -8000, quality: "good" }]);
    },
  );

  it("finds another instrument in its place", async () => {
    const bed = pressureBench(undefined, framing);
    bed.instrument.misbehave("wrong_identity");
    await expect(bed.settle(bed.gauge.connect())).rejects.toMatchObject({
      code: "WRONG_INSTRUMENT",
      message: expect.stringContaining("check that the right instrument is on this port"),
    });
  });

  it("is the wrong instrument, too, when it has nothing where its identity should stand", async () => {
    const bed = scriptedBench(
      (question) => {
        const refused = "01 83 02";
        return framing === "rtu" ? refused : `=${question.slice(0, 12)}00 03 ${refused}`;
      },
      { ...PROFILE, modbus: { ...PROFILE.modbus, framing } },
    );
    await expect(bed.settle(bed.gauge.connect())).rejects.toMatchObject({
      code: "WRONG_INSTRUMENT",
      message: expect.stringContaining("does not say who it is"),
    });
  });

  it.each([
    ["04", "something failed inside it; look up its state in its manual."],
    ["06", "it is busy with something else; ask it less often, or see what else asks it."],
  ])(
    "is not called wrong, and stays on its port, when it answers with exception %s of its own",
    async (code, advice) => {
      const bed = scriptedBench(
        (question) => {
          const refused = `01 83 ${code}`;
          return framing === "rtu" ? refused : `=${question.slice(0, 12)}00 03 ${refused}`;
        },
        { ...PROFILE, modbus: { ...PROFILE.modbus, framing } },
      );
      const failed = await bed.settle(bed.gauge.connect().catch((error: unknown) => error));
      expect(failed).toMatchObject({ code: "INSTRUMENT_ERROR" });
      expect((failed as DriverError).message).toMatch(/^gauge refused to read/);
      expect((failed as DriverError).message.endsWith(advice)).toBe(true);
      await expect(bed.settle(bed.gauge.read())).rejects.toMatchObject({ code: "INSTRUMENT_ERROR" });
    },
  );
});

describe("Modbus TCP", () => {
  const TCP = { ...BARE, modbus: { ...BARE.modbus, framing: "tcp" as const } };
  const good = "01 04 04 00 64 00 00";

  it("counts its transactions and takes only the answer to the one it asked", async () => {
    const bed = scriptedBench((question) => `=${question.slice(0, 12)}00 07 ${good}`, TCP);
    await bed.settle(bed.gauge.connect());
    await bed.settle(bed.gauge.read());
    await bed.settle(bed.gauge.read());
    expect(bed.received).toEqual([
      "00 01 00 00 00 06 01 04 00 00 00 02",
      "00 02 00 00 00 06 01 04 00 00 00 02",
    ]);
  });

  test.each([
    ["of another transaction", `=00 09 00 00 00 07 ${good}`, "the answer to transaction 9, and 1 was asked"],
    ["of another protocol", `=00 01 00 01 00 07 ${good}`, "no Modbus TCP header"],
    ["with a length no frame has", `=00 01 00 00 F0 07 ${good}`, "no Modbus TCP header"],
    ["of another unit", "=00 01 00 00 00 07 02 04 04 00 64 00 00", "the frame of unit 2"],
    ["of another function", "=00 01 00 00 00 07 01 03 04 00 64 00 00", "Unexpected data"],
    [
      "that is longer than was asked for",
      "=00 01 00 00 00 09 01 04 06 00 64 00 00 00 00",
      "Data length error",
    ],
  ])("refuses an answer %s", async (_what, answer, words) => {
    const bed = scriptedBench(() => answer, TCP);
    await bed.settle(bed.gauge.connect());
    await expect(bed.settle(bed.gauge.read())).rejects.toMatchObject({
      code: "REPLY_MALFORMED",
      message: expect.stringContaining(words),
    });
  });

  it("ends the connection when an answer comes twice", async () => {
    const bed = scriptedBench((question) => {
      const frame = `${question.slice(0, 12)}00 07 ${good}`;
      return `=${frame} ${frame}`;
    }, TCP);
    await bed.settle(bed.gauge.connect());
    await expect(bed.settle(bed.gauge.read())).rejects.toMatchObject({
      code: "REPLY_MALFORMED",
      message: expect.stringContaining("more than the answer"),
    });
  });

  it("ends the connection when something comes unasked, whatever it is", async () => {
    const bed = scriptedBench((question) => `=${question.slice(0, 12)}00 07 ${good}`, TCP);
    await bed.settle(bed.gauge.connect());
    await bed.settle(bed.gauge.read());
    bed.far().send("\0");
    await bed.clock.advance_s(0.01);
    await expect(bed.gauge.read()).rejects.toMatchObject({
      code: "REPLY_MALFORMED",
      message: expect.stringContaining("without being asked"),
    });
  });
});
