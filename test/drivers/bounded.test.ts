import { Duplex } from "node:stream";
import { describe, expect, it } from "vitest";
import { Conversation } from "../../drivers/conversation.ts";
import { Exchange } from "../../drivers/exchange.ts";
import type { DriverError } from "../../drivers/ports.ts";
import { DuplexConnection } from "../../drivers/transports/duplex-connection.ts";
import { VirtualClock } from "../../sim/virtual-clock.ts";

/** A cable whose far end sends what the test pushes, and takes what is written or leaves it lying. */
function cable({ takes = true } = {}) {
  const clock = new VirtualClock();
  const stream = new Duplex({
    read() {},
    write(_chunk, _encoding, done) {
      if (takes) done();
    },
  });
  let received_bytes = 0;
  const ends: DriverError[] = [];
  const connection = new DuplexConnection(
    stream,
    {
      instrument: "leak_gauge",
      description: "10.0.0.7:4001",
      clock,
      shut: async () => {
        stream.destroy();
      },
    },
    {
      bytes: (chunk) => {
        received_bytes += chunk.length;
      },
      closed: (error) => ends.push(error),
    },
  );
  connection.opened();
  const arrive = async (bytes: number) => {
    stream.push(Buffer.alloc(bytes, "7"));
    await clock.advance_s(0);
  };
  return { clock, connection, ends, arrive, received_bytes: () => received_bytes };
}

/** A line of the shipped streaming gauge, as long as they get. */
const LINE_bytes = "N=004711 P=-7998.42 S=0\r\n".length;

describe("a gauge that babbles", () => {
  it("at ten times a thousand lines a second is listened to for as long as it likes", async () => {
    const { clock, arrive, ends, received_bytes } = cable();
    for (let tick = 0; tick < 600; tick++) {
      await arrive(1000 * LINE_bytes);
      await clock.advance_s(0.1);
    }
    expect(ends).toEqual([]);
    expect(received_bytes()).toBe(600_000 * LINE_bytes);
  });

  it("and is caught up with after ten seconds in which the program was held up", async () => {
    const { arrive, ends } = cable();
    for (let chunk = 0; chunk < 4; chunk++) await arrive((10_000 * LINE_bytes) / 4);
    expect(ends).toEqual([]);
  });

  it("without measure is hung up on, by name, and nothing more of it is taken", async () => {
    const { arrive, ends, received_bytes, connection } = cable();
    for (let chunk = 0; chunk < 100; chunk++) await arrive(65_536);
    expect(ends).toMatchObject([
      {
        code: "FLOODED",
        instrument: "leak_gauge",
        message: expect.stringMatching(/^leak_gauge: 10\.0\.0\.7:4001 sends far more .*; check that it is/),
      },
    ]);
    expect(received_bytes()).toBeLessThanOrEqual(1_000_000);
    expect(connection.isOpen).toBe(false);
  });
});

describe("an instrument that takes nothing any more", () => {
  it("is hung up on, by name, before much waits to be sent", () => {
    const { connection, ends } = cable({ takes: false });
    const send = () => {
      for (let command = 0; command < 1000; command++) connection.send(Buffer.from("SET motor=1\r\n"));
    };
    expect(send).toThrow(/leak_gauge is not connected; "SET motor=1" was not sent/);
    expect(ends).toMatchObject([
      { code: "FLOODED", message: expect.stringMatching(/takes nothing any more/) },
    ]);
  });
});

describe("questions", () => {
  it("that pile up behind one without an answer end the connection, and whoever waits is told", async () => {
    const clock = new VirtualClock();
    const exchange = await Exchange.open({
      instrument: "power_meter",
      clock,
      conversation: new Conversation(),
      replyWithin_s: 3600,
      transport: {
        description: "a wire to nowhere",
        connect: async () => ({ isOpen: true, send: () => {}, close: async () => {} }),
      },
    });
    const answers = Array.from({ length: 100 }, () => exchange.ask("MEAS?").catch((error) => error.code));
    expect(new Set(await Promise.all(answers))).toEqual(new Set(["FLOODED"]));
    expect(exchange.failure?.message).toMatch(/^power_meter is asked faster than it answers/);
  });
});
