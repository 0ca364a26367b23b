import { once } from "node:events";
import { type AddressInfo, createServer } from "node:net";
import { afterEach, describe, expect, it } from "vitest";
import type { ConnectionHandlers, DriverError, FarEnd } from "../../drivers/ports.ts";
import { RealClock } from "../../drivers/real-clock.ts";
import { MemoryTransport } from "../../drivers/transports/memory.ts";
import { SerialTransport } from "../../drivers/transports/serial.ts";
import { TcpTransport } from "../../drivers/transports/tcp.ts";
import { VirtualClock } from "../../sim/virtual-clock.ts";
import { gaugeProfile, linesOver, memoryRig, type Rig, type Script, serialRig, tcpRig } from "./rigs.ts";

const profile = gaugeProfile("scpi-pressure");
const echo: Script = (command, far) => far.send(`${command} heard\n`);
const clock = new RealClock();

/** Handlers that keep what comes and let a test wait for the next line or the end. */
function listener() {
  const lines: string[] = [];
  const closed: DriverError[] = [];
  const waiting: ((line: string) => void)[] = [];
  let end: (error: DriverError) => void = () => undefined;
  const ended = new Promise<DriverError>((resolve) => {
    end = resolve;
  });
  const handlers: ConnectionHandlers = {
    line: (text) => {
      lines.push(text);
      waiting.shift()?.(text);
    },
    refused: () => undefined,
    closed: (error) => {
      closed.push(error);
      end(error);
    },
  };
  const nextLine = () => new Promise<string>((resolve) => waiting.push(resolve));
  return { handlers, lines, closed, ended, nextLine };
}

let rig: Rig | undefined;
afterEach(() => rig?.close());

const RIGS = {
  memory: async (script: Script) => memoryRig(profile, script),
  tcp: (script: Script) => tcpRig(profile, script),
  serial: (script: Script) => serialRig(profile, script),
} satisfies Record<string, (script: Script) => Promise<Rig>>;

describe.each(Object.entries(RIGS))("the %s transport", (_kind, open) => {
  it("adds and takes off the line ending", async () => {
    rig = await open(echo);
    const { handlers, nextLine } = listener();
    const connection = await rig.transport.connect(handlers);
    const answer = nextLine();
    connection.send("MEAS?");
    expect(await answer).toBe("MEAS? heard");
    expect(rig.received).toEqual(["MEAS?"]);
    await connection.close();
  });

  it("starts every connection with empty buffers", async () => {
    rig = await open((command, far) => far.send(command === "FIRST?" ? "complete\nP=12.3" : "4.56\n"));
    const first = listener();
    const connection = await rig.transport.connect(first.handlers);
    const answer = first.nextLine();
    connection.send("FIRST?");
    await answer;
    await connection.close();
    const second = listener();
    const again = await rig.transport.connect(second.handlers);
    const fresh = second.nextLine();
    again.send("SECOND?");
    expect(await fresh).toBe("4.56");
    expect(first.lines).toEqual(["complete"]);
    await again.close();
  });

  it("refuses a write after the close instead of sending it at the next open", async () => {
    rig = await open(echo);
    const { handlers, closed } = listener();
    const connection = await rig.transport.connect(handlers);
    await connection.close();
    expect(connection.isOpen).toBe(false);
    expect(() => connection.send("SET valve=1")).toThrow(expect.objectContaining({ code: "PORT_LOST" }));
    const next = listener();
    const again = await rig.transport.connect(next.handlers);
    const answer = next.nextLine();
    again.send("HELLO");
    await answer;
    expect(rig.received).toEqual(["HELLO"]);
    await connection.close();
    expect(closed).toHaveLength(1);
    await again.close();
  });

  it("tells once that the connection was lost, when the cable is pulled with nothing being asked", async () => {
    rig = await open(echo);
    const { handlers, closed, ended, nextLine } = listener();
    const connection = await rig.transport.connect(handlers);
    const answer = nextLine();
    connection.send("HELLO");
    await answer;
    rig.far().hangUp();
    expect(await ended).toMatchObject({ code: "PORT_LOST", instrument: "gauge" });
    expect(connection.isOpen).toBe(false);
    expect(() => connection.send("LATE")).toThrow(expect.objectContaining({ code: "PORT_LOST" }));
    await connection.close();
    expect(closed).toHaveLength(1);
  });
});

describe("a port that cannot be opened", () => {
  const serial = (path: string) =>
    linesOver(
      profile,
      clock,
      new SerialTransport({ instrument: "leak_gauge", path, settings: profile.port, clock }),
    );

  it("is missing when there is no such device", async () => {
    const { handlers, closed } = listener();
    await expect(serial("/dev/ttyNOWHERE7").connect(handlers)).rejects.toMatchObject({
      code: "PORT_MISSING",
      message: "leak_gauge: /dev/ttyNOWHERE7 does not exist; check that the adapter is plugged in.",
    });
    expect(closed).toEqual([]);
  });

  it("is missing when the file is no serial port", async () => {
    const { handlers } = listener();
    await expect(serial("/dev/null").connect(handlers)).rejects.toMatchObject({ code: "PORT_MISSING" });
  });

  it("is busy when it is open already, and free again once that is closed", async () => {
    const opened = await serialRig(profile, echo);
    rig = opened;
    const connection = await opened.transport.connect(listener().handlers);
    await expect(serial(opened.path).connect(listener().handlers)).rejects.toMatchObject({
      code: "PORT_BUSY",
      message: expect.stringContaining("in use by another program"),
    });
    await connection.close();
    const again = await serial(opened.path).connect(listener().handlers);
    expect(again.isOpen).toBe(true);
    await again.close();
  });

  it("is missing when the address refuses", async () => {
    const server = createServer();
    server.listen(0, "127.0.0.1");
    await once(server, "listening");
    const { port } = server.address() as AddressInfo;
    server.close();
    await once(server, "close");
    const { handlers, closed } = listener();
    const bytes = new TcpTransport({ instrument: "leak_gauge", host: "127.0.0.1", port, clock });
    const transport = linesOver(profile, clock, bytes);
    await expect(transport.connect(handlers)).rejects.toMatchObject({
      code: "PORT_MISSING",
      message: expect.stringContaining(`127.0.0.1:${port}, the address refuses`),
    });
    expect(closed).toEqual([]);
  });

  it("is missing when the simulated cable is unplugged", async () => {
    const clock = new VirtualClock();
    const attach = (far: FarEnd) => far.hangUp();
    const bytes = new MemoryTransport({ instrument: "leak_gauge", clock, attach });
    const transport = linesOver(profile, clock, bytes);
    await expect(transport.connect(listener().handlers)).rejects.toMatchObject({ code: "PORT_MISSING" });
  });
});

describe("the simulated cable", () => {
  it("never delivers inside the call that sent, and keeps the order", async () => {
    const order: string[] = [];
    const { transport, clock } = memoryRig(profile, (command, far) => {
      order.push(`instrument got ${command}`);
      far.send(`${command}\n`);
    });
    const connection = await transport.connect({
      line: (text) => order.push(`station got ${text}`),
      refused: () => undefined,
      closed: () => undefined,
    });
    for (const command of ["A", "B"]) {
      connection.send(command);
      order.push(`sent ${command}`);
    }
    await clock.advance_s(0);
    const got = ["instrument got A", "instrument got B", "station got A", "station got B"];
    expect(order).toEqual(["sent A", "sent B", ...got]);
  });
});
