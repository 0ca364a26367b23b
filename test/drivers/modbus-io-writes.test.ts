import { describe, expect, it, test } from "vitest";
import type { DriverError } from "../../drivers/ports.ts";
import { ModbusIoBlock } from "../../drivers/protocols/modbus-io-block.ts";
import { frameRig, modbusIoProfile } from "./modbus-rigs.ts";

describe("a Modbus I/O block that says it did another write than was asked for", () => {
  const PROFILE = modbusIoProfile(
    "eight",
    `drumtight: profile/1
kind: modbus_io_block
title: A block of eight
port: { baud: 19200, data_bits: 8, parity: even, stop_bits: 1, flow_control: none }
modbus: { framing: rtu, unit_id: 1 }
identity: { number: { table: holding_register, address: 50, type: uint16, expect: 77 } }
reply_within: 200 ms
outputs: { table: coil, address: 0, names: [source, isolate, vent, motor] }
inputs: { table: discrete_input, address: 0, names: [guard, start] }
poll: { every: 50 ms }
heartbeat: { address: 11, every: 250 ms }
watchdog:
  tripped: { table: discrete_input, address: 8 }
  reset: { table: coil, address: 12, value: 1 }
`,
  );

  /** @param echo what it says to a write, in hex without CRC; told how many of that function came before */
  function block(echo: (question: string, nth: number) => string | undefined) {
    const writes = new Map<string, number>();
    let isTripped = true;
    const rig = frameRig(PROFILE, (question) => {
      const bare = question.slice(0, -6);
      const code = bare.slice(3, 5);
      if (code === "03") return "01 03 02 00 4D";
      if (code === "01") return "01 01 01 00";
      if (code === "02") return `01 02 01 ${bare.startsWith("01 02 00 08") && isTripped ? "01" : "00"}`;
      if (bare.startsWith("01 05 00 0C")) isTripped = false;
      const nth = writes.get(code) ?? 0;
      writes.set(code, nth + 1);
      return echo(bare, nth) ?? (code === "0F" ? bare.slice(0, 17) : bare);
    });
    const io = new ModbusIoBlock({ name: "io_block", profile: PROFILE, ...rig });
    const faults: DriverError[] = [];
    const listener = { levels: () => undefined, fault: (error: DriverError) => void faults.push(error) };
    return { ...rig, io, faults, listener };
  }
  const refused = { code: "REPLY_MALFORMED", message: expect.stringContaining("another write") };

  it("is fine while it says what it was told", async () => {
    const bed = block(() => undefined);
    await bed.settle(bed.io.connect());
    bed.io.watch(bed.listener);
    await bed.clock.advance_s(1);
    expect(bed.faults).toEqual([]);
  });

  test.each([
    ["its watchdog reset with the other level", "01 05 00 0C FF 00", "01 05 00 0C 00 00"],
    ["another coil written in place of the reset", "01 05 00 0C FF 00", "01 05 00 0D FF 00"],
    ["a heartbeat with another number", "01 06 00 0B 00 02", "01 06 00 0B 00 01"],
    ["a heartbeat in another register", "01 06 00 0B 00 02", "01 06 00 0A 00 02"],
  ])("is not connected after %s", async (_what, asked, answer) => {
    const bed = block((question) => (question === asked ? answer : undefined));
    await expect(bed.settle(bed.io.connect())).rejects.toMatchObject(refused);
    await expect(bed.io.set({ motor: false })).rejects.toMatchObject(refused);
  });

  it("is a fault to who watches when a later heartbeat comes back changed", async () => {
    const bed = block((question, nth) =>
      question.startsWith("01 06") && nth === 5 ? "01 06 00 0B 00 01" : undefined,
    );
    await bed.settle(bed.io.connect());
    bed.io.watch(bed.listener);
    // Two beats at connect, then one every 250 ms: the sixth is the first that is wrong.
    await bed.clock.advance_s(4 * 0.25 + 0.05);
    expect(bed.faults).toMatchObject([refused]);
  });

  test.each([
    ["another row of coils", "01 0F 00 01 00 04"],
    ["a row of another length", "01 0F 00 00 00 03"],
  ])("has not taken outputs that it says are %s", async (_what, answer) => {
    const bed = block((question) => (question.startsWith("01 0F") ? answer : undefined));
    await bed.settle(bed.io.connect());
    await expect(bed.settle(bed.io.set({ motor: false }))).rejects.toMatchObject(refused);
  });
});

describe("outputs that are bits of a holding register", () => {
  const PROFILE = modbusIoProfile(
    "bits",
    `drumtight: profile/1
kind: modbus_io_block
title: Outputs and inputs in registers
modbus: { framing: tcp, unit_id: 1 }
identity: { number: { table: holding_register, address: 50, type: uint16, expect: 77 } }
reply_within: 200 ms
outputs: { table: holding_register, address: 10, names: [source, isolate, vent, motor] }
inputs: { table: input_register, address: 20, names: [guard, start] }
poll: { every: 50 ms }
heartbeat: { address: 11, every: 250 ms }
watchdog:
  tripped: { table: input_register, address: 21, bit: 3 }
  reset: { table: holding_register, address: 12, value: 4711 }
`,
  );

  function registerBlock() {
    const holding = new Map([
      [10, 0xa000],
      [11, 0],
      [12, 0],
      [50, 77],
    ]);
    const input = new Map([
      [20, 1],
      [21, 0],
    ]);
    const rig = frameRig(PROFILE, (question) => {
      const header = question.slice(0, 12);
      const data = Buffer.from(question.replaceAll(" ", "").slice(12), "hex");
      const [code, address, second] = [data[1], data.readUInt16BE(2), data.readUInt16BE(4)];
      if (code === 6) {
        holding.set(address, second);
        if (address === 12 && second === 4711) input.set(21, 0);
        return `=${question}`;
      }
      const word = (code === 3 ? holding : input).get(address) ?? 0;
      return `=${header}0005 01 0${code} 02 ${word.toString(16).padStart(4, "0")}`;
    });
    return { ...rig, holding, input, io: new ModbusIoBlock({ name: "io_block", profile: PROFILE, ...rig }) };
  }

  it("are set without touching the register's other bits, and read back", async () => {
    const bed = registerBlock();
    await bed.settle(bed.io.connect());
    await bed.settle(bed.io.set({ isolate: true, motor: true }));
    expect(bed.holding.get(10)).toBe(0xa00a);
    await bed.settle(bed.io.set({ isolate: false }));
    expect(bed.holding.get(10)).toBe(0xa008);
    expect(await bed.settle(bed.io.read())).toEqual({ guard: true, start: false });
  });

  it("come with a watchdog that is read from its bit and reset by its number", async () => {
    const bed = registerBlock();
    bed.input.set(21, 0b1000);
    await bed.settle(bed.io.connect());
    expect(bed.holding.get(12)).toBe(4711);
    bed.input.set(21, 0b1000);
    await expect(bed.settle(bed.io.set({ source: true }))).rejects.toMatchObject({
      code: "WATCHDOG_TRIPPED",
    });
    expect(bed.holding.get(10)).toBe(0xa000);
  });
});
