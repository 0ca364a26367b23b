import fc from "fast-check";
import { describe, expect, it, test } from "vitest";
import type { DriverError, Levels } from "../../drivers/ports.ts";
import { ModbusIoBlock } from "../../drivers/protocols/modbus-io-block.ts";
import { AsciiIoBlock, SAFE_OUTPUTS } from "../../sim/instruments/ascii-io.ts";
import { MODBUS_BAD_DAYS } from "../../sim/instruments/modbus-instrument.ts";
import { ModbusIo } from "../../sim/instruments/modbus-io.ts";
import { frameRig, modbusIoProfile, simulatedRig } from "./modbus-rigs.ts";

const TCP = modbusIoProfile();
const RTU = {
  ...TCP,
  modbus: { ...TCP.modbus, framing: "rtu" as const },
};

function bench(profile: typeof TCP | typeof RTU = TCP, latency_s = 0.001) {
  const inputs = { guard: true, start: false };
  const driven: Levels[] = [];
  const held: { block?: AsciiIoBlock } = {};
  const rig = simulatedRig(profile, (clock) => {
    const common = { name: "io_block", clock, seed: 1 };
    held.block = new AsciiIoBlock({
      ...common,
      drive: (levels) => void driven.push(levels),
      inputs: () => inputs,
      plantBadDays: [],
      plantDay: () => undefined,
    });
    return new ModbusIo({ ...common, framing: profile.modbus.framing, unitId: 1, latency_s }, held.block);
  });
  const io = new ModbusIoBlock({ name: "io_block", profile, ...rig });
  const seen: Levels[] = [];
  const faults: DriverError[] = [];
  const listener = {
    levels: (levels: Levels) => void seen.push(levels),
    fault: (error: DriverError) => void faults.push(error),
  };
  const settle = <T>(promise: Promise<T>) => rig.clock.runUntil(promise);
  return {
    ...rig,
    ...{ io, inputs, driven, seen, faults, listener, settle },
    outputs: () => held.block?.outputs ?? {},
    connect: () => settle(io.connect()),
    /** Data of what was sent, after the header: function and what follows. */
    asked: () => rig.sent.map((frame) => (profile === TCP ? frame.slice(21) : frame.slice(3, -6))),
  };
}

describe.each([
  ["Modbus TCP", TCP],
  ["Modbus RTU", RTU],
])("the I/O block over %s", (_name, profile) => {
  it("sets the named outputs in one request and leaves the others", async () => {
    const bed = bench(profile);
    await bed.connect();
    await bed.settle(bed.io.set({ source: true, isolate: true, vent: false }));
    expect(bed.driven).toEqual([{ ...SAFE_OUTPUTS, source: true, isolate: true, vent: false }]);
    await bed.settle(bed.io.set({ motor: true }));
    expect(bed.outputs()).toEqual({ ...SAFE_OUTPUTS, source: true, isolate: true, vent: false, motor: true });
    // Function 15, 8 coils from 0: source and isolate, then motor with them.
    expect(bed.asked().filter((data) => data.startsWith("0F"))).toEqual([
      "0F 00 00 00 08 01 03",
      "0F 00 00 00 08 01 0B",
    ]);
    expect(bed.io.identity).toBe("DEMO WORKS;IO-MB;1.0");
  });

  it("names the output that did not take its command, and can still be commanded safe", async () => {
    const bed = bench(profile);
    await bed.connect();
    await bed.settle(bed.io.set({ source: true }));
    bed.instrument.misbehave("outputs_not_taken");
    await expect(bed.settle(bed.io.set({ vent: false }))).rejects.toMatchObject({
      code: "INSTRUMENT_ERROR",
      message: expect.stringContaining("output command not taken: vent should be off"),
    });
    bed.instrument.misbehave(null);
    await bed.settle(bed.io.set(SAFE_OUTPUTS));
    expect(bed.outputs()).toEqual(SAFE_OUTPUTS);
  });

  it("never mistakes an output being changed for a wrong one, whenever the poll falls", async () => {
    await fc.assert(
      fc.asyncProperty(
        fc.array(
          fc.record({ wait_ms: fc.integer({ min: 0, max: 60 }), source: fc.boolean(), motor: fc.boolean() }),
          { maxLength: 12 },
        ),
        fc.integer({ min: 0, max: 30 }),
        async (changes, latency_ms) => {
          const bed = bench(profile, latency_ms / 1000);
          await bed.connect();
          bed.io.watch(bed.listener);
          const sets: Promise<void>[] = [];
          for (const { wait_ms, source, motor } of changes) {
            await bed.clock.advance_s(wait_ms / 1000);
            sets.push(bed.io.set({ source }), bed.io.set({ motor }));
          }
          await bed.settle(Promise.all(sets));
          await bed.clock.advance_s(0.2);
          expect(bed.faults).toEqual([]);
          const last = changes.at(-1);
          if (last) expect(bed.outputs()).toMatchObject({ source: last.source, motor: last.motor });
        },
      ),
      { numRuns: 12 },
    );
  });

  it("sets several at once and leaves what each of them did not name as the other left it", async () => {
    const bed = bench(profile);
    await bed.connect();
    await bed.settle(bed.io.set({ source: false, motor: false }));
    await bed.settle(
      Promise.all([bed.io.set({ source: true }), bed.io.set({ motor: true }), bed.io.set({ vent: false })]),
    );
    expect(bed.outputs()).toEqual({ ...SAFE_OUTPUTS, source: true, motor: true, vent: false });
  });

  it("tells the inputs at once and at every change, and no more", async () => {
    const bed = bench(profile);
    await bed.connect();
    bed.io.watch(bed.listener);
    await bed.clock.advance_s(0.3);
    bed.inputs.start = true;
    await bed.clock.advance_s(0.3);
    bed.inputs.start = false;
    bed.inputs.guard = false;
    await bed.clock.advance_s(0.1);
    expect(bed.seen).toEqual([
      { guard: true, start: false },
      { guard: true, start: true },
      { guard: false, start: false },
    ]);
    expect(await bed.settle(bed.io.read())).toEqual({ guard: false, start: false });
  });

  it("keeps the block's watchdog quiet for as long as it is connected, another number each time", async () => {
    const bed = bench(profile);
    await bed.connect();
    await bed.settle(bed.io.set({ motor: true }));
    bed.io.watch(bed.listener);
    await bed.clock.advance_s(10);
    expect(bed.outputs().motor).toBe(true);
    const beats = bed.asked().filter((data) => data.startsWith("06 00 00"));
    expect(beats.length).toBeGreaterThan(36);
    expect(new Set(beats).size).toBe(beats.length);
  });

  it("falls silent once it is closed, and the block drops its outputs within a second", async () => {
    const bed = bench(profile);
    await bed.connect();
    await bed.settle(bed.io.set({ motor: true }));
    bed.io.watch(bed.listener);
    await bed.io.close();
    const heard = bed.sent.length;
    await bed.clock.advance_s(1.01);
    expect(bed.sent).toHaveLength(heard);
    expect(bed.outputs()).toEqual(SAFE_OUTPUTS);
    expect(bed.faults).toEqual([]);
    await expect(bed.io.set({ motor: false })).rejects.toMatchObject({ code: "PORT_LOST" });
  });

  it("reports a tripped watchdog to who watches and to who sets, and puts nothing on again until it is reset", async () => {
    const bed = bench(profile);
    await bed.connect();
    bed.io.watch(bed.listener);
    await bed.settle(bed.io.set({ motor: true }));
    bed.instrument.misbehave("watchdog_trips");
    bed.instrument.misbehave(null);
    await bed.clock.advance_s(0.2);
    expect(bed.faults).toMatchObject([{ code: "WATCHDOG_TRIPPED", instrument: "io_block" }]);
    const written = () => bed.asked().filter((data) => data.startsWith("0F")).length;
    const before = written();
    await expect(bed.settle(bed.io.set({ vent: true }))).rejects.toMatchObject({ code: "WATCHDOG_TRIPPED" });
    expect(written()).toBe(before);
    await bed.settle(bed.io.reset());
    await bed.settle(bed.io.set({ isolate: true }));
    // The motor that had been on before stays off.
    expect(bed.outputs()).toEqual({ ...SAFE_OUTPUTS, isolate: true });
  });

  it("takes a block back into service whose watchdog had tripped while nobody was connected", async () => {
    const bed = bench(profile);
    await bed.connect();
    await bed.settle(bed.io.set({ motor: true }));
    await bed.io.close();
    await bed.clock.advance_s(2);
    await bed.connect();
    expect(bed.outputs()).toEqual(SAFE_OUTPUTS);
    await bed.settle(bed.io.set({ source: true }));
    expect(bed.outputs().source).toBe(true);
  });

  it("notices a block that no longer listens within the time of an answer and a beat", async () => {
    const bed = bench(profile);
    await bed.connect();
    await bed.settle(bed.io.set({ motor: true }));
    bed.instrument.misbehave("deaf");
    await bed.clock.advance_s(profile.beatEvery_s + profile.replyWithin_s + 0.05);
    bed.io.watch(bed.listener);
    await bed.clock.advance_s(0);
    expect(bed.faults).toMatchObject([{ code: "REPLY_TIMEOUT" }]);
    await bed.clock.advance_s(1);
    expect(bed.outputs()).toEqual(SAFE_OUTPUTS);
  });

  it("refuses an output it does not have without sending anything", async () => {
    const bed = bench(profile);
    await bed.connect();
    const heard = bed.sent.length;
    await expect(bed.io.set({ vnet: true })).rejects.toMatchObject({
      code: "INSTRUMENT_ERROR",
      message: expect.stringMatching(/^io_block has no output vnet; correct the station file/),
    });
    expect(bed.sent).toHaveLength(heard);
  });

  test.each(MODBUS_BAD_DAYS.filter((day) => day !== "wrong_identity" && day !== "exception"))(
    "ends the connection on a bad day: %s; then the block makes itself safe and can be had again",
    async (day) => {
      const bed = bench(profile);
      await bed.connect();
      await bed.settle(bed.io.set({ source: true, motor: true }));
      bed.io.watch(bed.listener);
      await bed.clock.advance_s(0.2);
      bed.instrument.misbehave(day);
      await bed.clock.advance_s(1.6);
      expect(bed.faults).toHaveLength(1);
      expect(bed.outputs()).toEqual(SAFE_OUTPUTS);
      bed.instrument.misbehave(null);
      await bed.clock.advance_s(4);
      await bed.connect();
      await bed.settle(bed.io.set({ source: true }));
      expect(bed.outputs()).toEqual({ ...SAFE_OUTPUTS, source: true });
    },
  );

  it("says in words what the block refuses, and keeps the connection so that safe outputs can be commanded", async () => {
    const bed = bench(profile);
    await bed.connect();
    bed.instrument.misbehave("exception");
    await expect(bed.settle(bed.io.set({ motor: true }))).rejects.toMatchObject({
      code: "INSTRUMENT_ERROR",
      message: expect.stringContaining("Modbus exception 4, server device failure"),
    });
    bed.instrument.misbehave(null);
    await bed.settle(bed.io.set(SAFE_OUTPUTS));
    expect(bed.outputs()).toEqual(SAFE_OUTPUTS);
  });

  it("finds another instrument in its place", async () => {
    const bed = bench(profile);
    bed.instrument.misbehave("wrong_identity");
    await expect(bed.connect()).rejects.toMatchObject({ code: "WRONG_INSTRUMENT" });
  });
});

describe("a Modbus I/O block at connect", () => {
  it("is refused when somebody has switched its watchdog off", async () => {
    const rig = frameRig(TCP, (question) => {
      const header = question.slice(0, 12);
      const asked = question.slice(21);
      if (asked.startsWith("2B")) {
        const text = ["DEMO WORKS", "IO-MB", "1.0"].map((word, i) => {
          const bytes = Buffer.from(word, "latin1");
          return `0${i} ${bytes.length.toString(16).padStart(2, "0")} ${bytes.toString("hex")}`;
        });
        const data = `01 2B 0E 01 01 00 00 03 ${text.join(" ")}`.replaceAll(" ", "");
        return `=${header}${(data.length / 2).toString(16).padStart(4, "0")}${data}`;
      }
      return `=${header}0005 01 03 02 0000`;
    });
    const io = new ModbusIoBlock({ name: "io_block", profile: TCP, ...rig });
    await expect(rig.settle(io.connect())).rejects.toMatchObject({
      code: "INSTRUMENT_ERROR",
      message: expect.stringContaining(
        "its watchdog is set to 0 in register 1, expected 1000; outputs must drop by themselves",
      ),
    });
  });
});
