import fc from "fast-check";
import { afterEach, describe, expect, it, test } from "vitest";
import type { DriverError, FarEnd, Levels, Transport } from "../../drivers/ports.ts";
import { AsciiIoBlock } from "../../drivers/protocols/ascii-io.ts";
import { parseState, setCommand } from "../../drivers/protocols/io-block-lines.ts";
import { VirtualClock } from "../../sim/virtual-clock.ts";
import { ioBlockProfile, memoryRig, type Rig, serialRig, tcpRig } from "./rigs.ts";
import { SAFE, ScriptedIoBlock } from "./scripted-io-block.ts";

const NOWHERE: FarEnd = { send: () => undefined, onBytes: () => undefined, hangUp: () => undefined };

function bench() {
  const block = new ScriptedIoBlock();
  const rig = memoryRig(ioBlockProfile(), (command, far) => block.hear(command, far, rig.clock.now_s()));
  const io = new AsciiIoBlock({
    name: "io_block",
    profile: ioBlockProfile(),
    transport: rig.transport,
    clock: rig.clock,
  });
  const seen: Levels[] = [];
  const faults: DriverError[] = [];
  const listener = {
    levels: (levels: Levels) => void seen.push(levels),
    fault: (error: DriverError) => void faults.push(error),
  };
  return { ...rig, block, io, seen, faults, listener, connect: () => rig.clock.runUntil(io.connect()) };
}

describe("the I/O block", () => {
  it("sets the named outputs in one step and leaves the others", async () => {
    const bed = bench();
    await bed.connect();
    await bed.settle(bed.io.set({ source: true, isolate: true, vent: false }));
    expect(bed.received).toContain("SET source=1 isolate=1 vent=0");
    await bed.settle(bed.io.set({ motor: true }));
    expect(bed.block.outputs).toEqual({ ...SAFE, source: 1, isolate: 1, vent: 0, motor: 1 });
    expect(bed.io.identity).toBe("ID=ASCII-IO;SN=0001;FW=1.0");
  });

  it("names the output that did not take its command, and can still be commanded safe", async () => {
    const bed = bench();
    await bed.connect();
    bed.block.stuck = ["vent"];
    await expect(bed.settle(bed.io.set({ vent: false, source: true }))).rejects.toMatchObject({
      code: "INSTRUMENT_ERROR",
      message: expect.stringContaining("output command not taken: vent should be off"),
    });
    bed.block.stuck = [];
    await bed.settle(bed.io.set({ source: false, vent: true, motor: false }));
    expect(bed.block.outputs).toEqual(SAFE);
  });

  it("notices while watching that an output has changed by itself", async () => {
    const bed = bench();
    await bed.connect();
    bed.io.watch(bed.listener);
    await bed.settle(bed.io.set({ isolate: true }));
    await bed.clock.advance_s(0.2);
    expect(bed.faults).toEqual([]);
    bed.block.outputs.isolate = 0;
    await bed.clock.advance_s(0.2);
    expect(bed.faults).toMatchObject([
      { code: "INSTRUMENT_ERROR", message: expect.stringContaining("isolate should be on") },
    ]);
  });

  it("never mistakes an output being changed for a wrong one, whenever the poll falls", async () => {
    await fc.assert(
      fc.asyncProperty(
        fc.array(
          fc.record({ wait_ms: fc.integer({ min: 0, max: 60 }), source: fc.boolean(), motor: fc.boolean() }),
          { maxLength: 20 },
        ),
        fc.integer({ min: 0, max: 30 }),
        async (changes, latency_ms) => {
          const bed = bench();
          const obey = bed.block.answer;
          bed.block.answer = (command, far) => {
            const answer = obey(command, far);
            bed.clock.setTimeout(() => far.send(`${answer}\r\n`), latency_ms);
            return undefined;
          };
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
          if (last)
            expect(bed.block.outputs).toMatchObject({
              source: Number(last.source),
              motor: Number(last.motor),
            });
        },
      ),
      { numRuns: 50 },
    );
  });

  it("never mistakes an output being changed for a wrong one, however soon the answers come", async () => {
    const block = new ScriptedIoBlock();
    const clock = new VirtualClock();
    // Answers as early as a transport can without answering inside the call.
    const transport: Transport = {
      description: "the quickest cable",
      connect: async (handlers) => ({
        isOpen: true,
        send: (command) =>
          queueMicrotask(() =>
            block.hear(command, { ...NOWHERE, send: (bytes) => handlers.line(bytes.trim(), clock.now_s()) }),
          ),
        close: async () => undefined,
      }),
    };
    const io = new AsciiIoBlock({ name: "io_block", profile: ioBlockProfile(), transport, clock });
    await io.connect();
    for (let turn = 0; turn < 20; turn++) {
      const on = turn % 2 === 0;
      const reads = [io.read(), io.read()];
      const sets = [io.set({ motor: on }), io.set({ source: on }), io.set({ motor: !on })];
      await Promise.all([...reads, ...sets, io.read(), io.read()]);
      expect(block.outputs).toMatchObject({ motor: Number(!on), source: Number(on) });
    }
    await io.close();
  });

  it("tells the inputs at once and at every change, and no more", async () => {
    const bed = bench();
    await bed.connect();
    bed.io.watch(bed.listener);
    await bed.clock.advance_s(0.3);
    bed.block.inputs.start = 1;
    await bed.clock.advance_s(0.3);
    bed.block.inputs.start = 0;
    bed.block.inputs.guard = 0;
    await bed.clock.advance_s(0.3);
    expect(bed.seen).toEqual([
      { guard: true, start: false },
      { guard: true, start: true },
      { guard: false, start: false },
    ]);
    expect(await bed.settle(bed.io.read())).toEqual({ guard: false, start: false });
  });

  it("sees a change of an input within one poll", async () => {
    const bed = bench();
    await bed.connect();
    bed.io.watch(bed.listener);
    await bed.clock.advance_s(0.301);
    bed.block.inputs.guard = 0;
    await bed.clock.advance_s(0.05);
    expect(bed.seen.at(-1)).toMatchObject({ guard: false });
  });

  it("keeps the block's watchdog quiet for as long as it is connected", async () => {
    const bed = bench();
    await bed.connect();
    await bed.settle(bed.io.set({ motor: true }));
    await bed.clock.advance_s(60);
    expect(bed.block.tripped).toBe(false);
    expect(bed.block.outputs.motor).toBe(1);
    expect(bed.received.filter((command) => command === "BEAT").length).toBeGreaterThan(200);
  });

  it("sends no heartbeat while other commands keep the watchdog quiet", async () => {
    const bed = bench();
    await bed.connect();
    bed.io.watch(bed.listener);
    await bed.clock.advance_s(5);
    expect(bed.received.filter((command) => command === "BEAT")).toEqual([]);
  });

  it("falls silent once it is closed, so that the block makes itself safe", async () => {
    const bed = bench();
    await bed.connect();
    await bed.settle(bed.io.set({ motor: true }));
    bed.io.watch(bed.listener);
    await bed.io.close();
    const heard = bed.received.length;
    await bed.clock.advance_s(5);
    expect(bed.received).toHaveLength(heard);
    expect(bed.faults).toEqual([]);
    await expect(bed.io.set({ motor: false })).rejects.toMatchObject({ code: "PORT_LOST" });
  });

  it("reports a tripped watchdog to who watches and to who sets, until it is reset", async () => {
    const bed = bench();
    await bed.connect();
    bed.io.watch(bed.listener);
    await bed.settle(bed.io.set({ motor: true }));
    bed.block.trip();
    await bed.clock.advance_s(0.1);
    expect(bed.faults).toMatchObject([{ code: "WATCHDOG_TRIPPED", instrument: "io_block" }]);
    await expect(bed.settle(bed.io.set({ motor: true }))).rejects.toMatchObject({ code: "WATCHDOG_TRIPPED" });
    await bed.settle(bed.io.reset());
    await bed.settle(bed.io.set({ vent: true }));
    expect(bed.block.outputs).toEqual(SAFE);
  });

  it("takes a block back into service whose watchdog had tripped while nobody was connected", async () => {
    const bed = bench();
    bed.block.trip();
    await bed.connect();
    expect(bed.block.outputs).toEqual(SAFE);
    await bed.settle(bed.io.set({ source: true }));
    expect(bed.block.outputs.source).toBe(1);
  });

  it("refuses an output it does not have without sending anything", async () => {
    const bed = bench();
    await bed.connect();
    const heard = bed.received.length;
    await expect(bed.io.set({ vnet: true })).rejects.toMatchObject({
      code: "INSTRUMENT_ERROR",
      message: expect.stringMatching(/^io_block has no output vnet; correct the station file/),
    });
    expect(bed.received).toHaveLength(heard);
  });

  test.each([
    ["is silent", undefined, "REPLY_TIMEOUT"],
    ["answers something else", "YES", "REPLY_MALFORMED"],
    ["refuses the name", "ERR NAME", "INSTRUMENT_ERROR"],
  ])("fails a command when the block %s", async (_what, answer, code) => {
    const bed = bench();
    await bed.connect();
    bed.block.answer = () => answer;
    await expect(bed.settle(bed.io.set({ motor: true }))).rejects.toMatchObject({ code });
  });

  it("notices a dead block by its heartbeat, and tells who watches or asks next", async () => {
    const bed = bench();
    await bed.connect();
    bed.block.answer = () => undefined;
    await bed.clock.advance_s(0.6);
    bed.io.watch(bed.listener);
    await bed.clock.advance_s(0);
    expect(bed.faults).toMatchObject([{ code: "REPLY_TIMEOUT" }]);
    await expect(bed.io.read()).rejects.toMatchObject({ code: "REPLY_TIMEOUT" });
  });

  it("refuses a state in which an output or input is missing, doubled or unknown", async () => {
    for (const wrong of ["OUT source=1 IN guard=1 start=0 WD=0", "OUT IN WD=0", "OK"]) {
      const bed = bench();
      await bed.connect();
      bed.block.answer = () => wrong;
      await expect(bed.settle(bed.io.read())).rejects.toMatchObject({ code: "REPLY_MALFORMED" });
    }
  });
});

describe("the I/O block's lines", () => {
  const name = fc.stringMatching(/^[a-z][a-z0-9_]{0,8}$/);
  const levels = fc.dictionary(name, fc.boolean(), { maxKeys: 6, noNullPrototype: true });

  it("read back whatever levels a block shows", () => {
    fc.assert(
      fc.property(levels, levels, fc.boolean(), (outputs, inputs, watchdogTripped) => {
        const show = (shown: Levels) => setCommand(shown).slice(3);
        const line = `OUT${show(outputs)} IN${show(inputs)} WD=${Number(watchdogTripped)}`;
        const state = { outputs, inputs, watchdogTripped };
        expect(parseState(line, Object.keys(outputs), Object.keys(inputs))).toEqual(state);
      }),
    );
  });

  test.each([
    "OUT a=1 IN b=0 WD=2",
    "OUT a=1 a=0 IN b=0 WD=0",
    "OUT a=1 c=1 IN b=0 WD=0",
    "OUT IN b=0 WD=0",
    "OUT a=1 IN WD=0",
    "OUT a=1  IN b=0 WD=0",
    "OUT a=2 IN b=0 WD=0",
    "OUT a=1 IN b=0 WD=0 ",
    " OUT a=1 IN b=0 WD=0",
    "OUT b=1 IN a=0 WD=0",
  ])("refuse %j", (line) => expect(parseState(line, ["a"], ["b"])).toBeUndefined());
});

describe("the I/O block over a real port", () => {
  let rig: Rig | undefined;
  afterEach(() => rig?.close());

  test.each([
    ["a TCP socket", tcpRig],
    ["a serial port", serialRig],
  ])("over %s: sets, reads back, sees the guard open, and notices the pulled cable", async (_kind, open) => {
    const block = new ScriptedIoBlock();
    const opened = await open(ioBlockProfile(), (command, far) => block.hear(command, far));
    rig = opened;
    const io = new AsciiIoBlock({
      name: "io_block",
      profile: ioBlockProfile(),
      transport: opened.transport,
      clock: opened.clock,
    });
    await io.connect();
    await io.set({ source: true, vent: false });
    expect(block.outputs).toMatchObject({ source: 1, vent: 0 });
    const fault = new Promise<DriverError>((resolve) => {
      io.watch({
        levels: ({ guard }) => {
          if (guard) block.inputs.guard = 0;
          else opened.far().hangUp();
        },
        fault: resolve,
      });
    });
    expect(await fault).toMatchObject({ code: "PORT_LOST", instrument: expect.any(String) });
    await io.close();
  });
});
