import { describe, expect, it, test } from "vitest";
import type { DriverError } from "../../drivers/ports.ts";
import { MODBUS_BAD_DAYS } from "../../sim/instruments/modbus-instrument.ts";
import { BARE, PRESSURE, pressureBench, scriptedBench } from "./modbus-gauge-bench.ts";

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
      { ...PRESSURE, modbus: { ...PRESSURE.modbus, framing } },
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
        { ...PRESSURE, modbus: { ...PRESSURE.modbus, framing } },
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
