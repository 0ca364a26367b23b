import fc from "fast-check";
import type { ModbusIoBlockProfile } from "../../drivers/modbus-profile.ts";
import { ModbusTransport } from "../../drivers/modbus-transport.ts";
import { DriverError, type FarEnd } from "../../drivers/ports.ts";
import type { IoBlockProfile } from "../../drivers/profile.ts";
import { loadProfile } from "../../drivers/profile-file.ts";
import { AsciiIoBlock } from "../../drivers/protocols/ascii-io.ts";
import { ModbusIoBlock } from "../../drivers/protocols/modbus-io-block.ts";
import { LineTransport } from "../../drivers/transports/lines.ts";
import { MemoryTransport } from "../../drivers/transports/memory.ts";
import { AsciiIoBlock as Block } from "../../sim/instruments/ascii-io.ts";
import { ModbusIo } from "../../sim/instruments/modbus-io.ts";
import { VirtualClock } from "../../sim/virtual-clock.ts";
import { require, requireDeclared, requireSentence } from "./clear-words.ts";
import { inPieces, mangling, mutated, pieces } from "./mutate.ts";
import { type FuzzTarget, fuzzTarget } from "./target.ts";

const named = (name: string) => loadProfile(name);

function asciiProfile(): IoBlockProfile {
  const profile = named("ascii-io");
  if (profile.kind !== "io_block") throw new Error("ascii-io is no I/O block");
  return profile;
}

function modbusProfile(framing: "rtu" | "tcp"): ModbusIoBlockProfile {
  const profile = named("modbus-io");
  if (profile.kind !== "modbus_io_block") throw new Error("modbus-io is no I/O block in registers");
  return { ...profile, modbus: { ...profile.modbus, framing } };
}

const ASCII = asciiProfile();
const MODBUS = { rtu: modbusProfile("rtu"), tcp: modbusProfile("tcp") };

type Change =
  | null
  | ((answer: string) => string)
  | { readonly text: string; readonly sizes: readonly number[] };

/** The block's end of a cable on which each answer in turn is changed; null: it comes as it was sent. */
function badCable(far: FarEnd, changes: readonly Change[]): FarEnd {
  let turn = 0;
  return {
    ...far,
    onBytes: (handler) => far.onBytes(handler),
    hangUp: () => far.hangUp(),
    send: (bytes) => {
      const change = changes[turn++ % changes.length] ?? null;
      if (change === null) far.send(bytes);
      else if (typeof change === "function") far.send(change(bytes));
      else for (const piece of pieces(change)) far.send(piece.toString("latin1"));
    },
  };
}

/** A simulated block, sound itself, and the driver for it. */
function blockOver(speech: "lines" | "rtu" | "tcp", changes: readonly Change[]) {
  const clock = new VirtualClock();
  const block = new Block({
    ...{ name: "io_block", clock, seed: 1, plantBadDays: [] },
    ...{ drive: () => undefined, inputs: () => ({ guard: true, start: false }), plantDay: () => undefined },
  });
  const common = { instrument: "io_block", clock };
  if (speech === "lines") {
    const bytes = new MemoryTransport({
      ...common,
      attach: (far) => void block.attach(badCable(far, changes)),
    });
    const transport = new LineTransport({ ...common, framing: ASCII.framing, bytes });
    return { clock, block, driver: new AsciiIoBlock({ name: "io_block", profile: ASCII, transport, clock }) };
  }
  const profile = MODBUS[speech];
  const { unitId } = profile.modbus;
  const modbus = new ModbusIo(
    { name: "io_block", clock, seed: 1, framing: speech, unitId, latency_s: 0.001 },
    block,
  );
  const bytes = new MemoryTransport({
    ...common,
    attach: (far) => void modbus.attach(badCable(far, changes)),
  });
  const transport = new ModbusTransport({ ...common, link: profile.modbus, port: profile.port, bytes });
  return { clock, block, driver: new ModbusIoBlock({ name: "io_block", profile, transport, clock }) };
}

const LINES = [
  "OK\r\n",
  "ERR NAME\r\n",
  "ID=ASCII-IO;SN=1;FW=1\r\n",
  "OUT source=1 IN guard=1 WD=0\r\n",
  "\x01\x83\x02\xc0\xf1",
];
const SETTLED_s = 60;

/** Whatever comes back: an output that is confirmed is on, and one that is not ends in a sentence. */
const blocks = fuzzTarget(
  "I/O blocks",
  8_000,
  fc.record({
    speech: fc.constantFrom("lines" as const, "rtu" as const, "tcp" as const),
    changes: fc.array(
      fc.oneof(
        { weight: 6, arbitrary: fc.constant(null) },
        { weight: 2, arbitrary: mangling },
        { weight: 1, arbitrary: inPieces(mutated(LINES, 2)) },
      ),
      { minLength: 1, maxLength: 8 },
    ),
  }),
  async ({ speech, changes }) => {
    const { clock, block, driver } = blockOver(speech, changes);
    let isConfirmed = false;
    try {
      await clock.runUntil(driver.connect());
      await clock.runUntil(driver.set({ source: true }));
      require(block.outputs.source === true, "confirms an output that is off");
      isConfirmed = true;
      const levels = await clock.runUntil(driver.read());
      require(Object.keys(levels).sort().join() === "guard,start", "makes up inputs");
    } catch (error) {
      requireSentence(requireDeclared(error, DriverError).message);
    }
    require(clock.now_s() <= SETTLED_s, `takes ${clock.now_s()} s to make up its mind`);
    await driver.close();
    await clock.advance_s(2);
    require(block.outputs.source === false, "leaves an output on when nobody speaks any more");
    return isConfirmed;
  },
);

export const IO_TARGETS: readonly FuzzTarget[] = [blocks];
