import { mkdirSync, mkdtempSync, rmSync, statSync, symlinkSync, writeFileSync } from "node:fs";
import { type AddressInfo, createServer } from "node:net";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { RealClock } from "../../drivers/real-clock.ts";
import { hostState } from "../../station/bring-up/host-state.ts";
import { listSerialPorts, unlistedPort } from "../../station/bring-up/serial-ports.ts";
import { portless, stationHosts, stationPorts } from "../../station/bring-up/station-ports.ts";
import type { TransportSettings } from "../../station/station-file.ts";

let root: string;
const write = (path: string, text: string) => {
  mkdirSync(dirname(join(root, path)), { recursive: true });
  writeFileSync(join(root, path), text);
};
const link = (path: string, target: string) => {
  mkdirSync(dirname(join(root, path)), { recursive: true });
  symlinkSync(target, join(root, path));
};

/** A machine with one USB adapter and a port of the board that has no hardware behind it. */
beforeEach(() => {
  root = mkdtempSync(join(tmpdir(), "drumtight-ports-"));
  const usb = "sys/devices/usb1/1-2";
  write(`${usb}/idVendor`, "1a2b\n");
  write(`${usb}/manufacturer`, "Invented Adapters\n");
  write(`${usb}/product`, "Serial adapter\n");
  write(`${usb}/serial`, "A0042\n");
  mkdirSync(join(root, `${usb}/1-2:1.0/ttyUSB0`), { recursive: true });
  link(`${usb}/1-2:1.0/ttyUSB0/driver`, "../../../../../bus/drivers/ftdi");
  link("sys/class/tty/ttyUSB0/device", join(root, `${usb}/1-2:1.0/ttyUSB0`));
  mkdirSync(join(root, "sys/devices/board"), { recursive: true });
  link("sys/devices/board/driver", "../bus/drivers/port");
  link("sys/class/tty/ttyS7/device", join(root, "sys/devices/board"));
  write("sys/class/tty/ttyS7/type", "0\n");
  mkdirSync(join(root, "sys/class/tty/tty1"), { recursive: true });
  write("dev/ttyUSB0", "");
  link("dev/serial/by-id/usb-Invented_A0042-port0", "../../ttyUSB0");
  write("proc/locks", "");
});

afterEach(() => rmSync(root, { recursive: true, force: true }));

describe("the list of ports", () => {
  it("has those with hardware behind them, by the name that lasts, and what the system knows of them", () => {
    expect(listSerialPorts({ root })).toEqual({
      ports: [
        expect.objectContaining({
          path: "/dev/ttyUSB0",
          lasting: "/dev/serial/by-id/usb-Invented_A0042-port0",
          driver: "ftdi",
          maker: "Invented Adapters",
          product: "Serial adapter",
          serial: "A0042",
          mayOpen: true,
          user: null,
        }),
      ],
      notes: [],
    });
  });

  it("names the program that has a port", () => {
    const { dev, ino } = statSync(join(root, "dev/ttyUSB0"));
    const major = (Math.floor(dev / 256) & 0xfff).toString(16).padStart(2, "0");
    const minor = ((dev & 0xff) + (Math.floor(dev / 2 ** 20) << 8)).toString(16).padStart(2, "0");
    write("proc/locks", `1: FLOCK  ADVISORY  WRITE 4711 ${major}:${minor}:${ino} 0 EOF\n`);
    write("proc/4711/comm", "node\n");
    expect(listSerialPorts({ root }).ports[0]?.user).toBe("node (process 4711)");
  });

  it("says so where a machine has no lasting names, or no ports to be listed at all", () => {
    rmSync(join(root, "dev/serial"), { recursive: true });
    expect(listSerialPorts({ root }).notes).toEqual([expect.stringContaining("no port has a lasting name")]);
    expect(listSerialPorts({ root: join(root, "nothing") })).toEqual({
      ports: [],
      notes: [expect.stringContaining("cannot be listed")],
    });
  });

  it("has who holds a port that the system does not list, and whether it may be opened", () => {
    write("dev/pts/3", "");
    const { dev, ino } = statSync(join(root, "dev/pts/3"));
    const major = (Math.floor(dev / 256) & 0xfff).toString(16).padStart(2, "0");
    const minor = ((dev & 0xff) + (Math.floor(dev / 2 ** 20) << 8)).toString(16).padStart(2, "0");
    write("proc/locks", `1: FLOCK  ADVISORY  WRITE 4711 ${major}:${minor}:${ino} 0 EOF\n`);
    write("proc/4711/comm", "node\n");
    expect(unlistedPort("/dev/pts/3", "/tmp/ports/leak_gauge", { root })).toMatchObject({
      path: "/dev/pts/3",
      lasting: "/tmp/ports/leak_gauge",
      mayOpen: true,
      user: "node (process 4711)",
    });
  });

  it("has a station's hosts, each once, and those of its instruments that have no port", () => {
    const on = (name: string, transport: TransportSettings) => ({
      ...{ name, profile: "p", identity: null, transport },
      ...{ calibrationDue: "2099-12-31", channels: new Map() },
    });
    const server = { kind: "tcp", host: "10.0.0.7", port: 4001 } as const;
    const station = {
      gauges: [on("leak_gauge", server), on("power_meter", server)],
      ioBlock: on("io_block", { kind: "memory" }),
    };
    expect(stationHosts(station)).toEqual([
      { host: "10.0.0.7", port: 4001, instruments: ["leak_gauge", "power_meter"] },
    ]);
    expect(portless(station)).toEqual(["io_block"]);
  });

  it("says of a host whether it is there, is somebody else's, or is missing", async () => {
    const clock = new RealClock();
    const hangUp = { now: false };
    const server = createServer((socket) => (hangUp.now ? socket.destroy() : socket.resume()));
    await new Promise<void>((done) => server.listen(0, "127.0.0.1", done));
    const { port } = server.address() as AddressInfo;
    const at = { host: "127.0.0.1", port, instruments: [] };
    expect(await hostState(at, clock)).toMatchObject({
      isThere: true,
      sentence: expect.stringMatching(/lets one in/),
    });
    hangUp.now = true;
    expect(await hostState(at, clock)).toMatchObject({
      isThere: true,
      sentence: expect.stringMatching(/somebody else may have it/),
    });
    await new Promise((done) => server.close(done));
    expect(await hostState(at, clock)).toMatchObject({
      isThere: false,
      sentence: expect.stringMatching(/missing: the address refuses/),
    });
  });

  it("tells which instrument of a station is on which port, and which port is missing", () => {
    const { ports } = listSerialPorts({ root });
    const on = (name: string, port: string) => ({
      name,
      profile: "p",
      identity: null,
      transport: { kind: "serial" as const, port },
    });
    const gauge = (name: string, port: string) => ({
      ...on(name, port),
      calibrationDue: "2099-12-31",
      channels: new Map(),
    });
    const gauges = [
      gauge("leak_gauge", "/dev/serial/by-id/usb-Invented_A0042-port0"),
      gauge("ambient", "/dev/no-such-port"),
    ];
    expect(stationPorts({ gauges, ioBlock: on("io_block", "/dev/ttyUSB0") }, ports)).toEqual([
      { instrument: "leak_gauge", named: "/dev/serial/by-id/usb-Invented_A0042-port0", path: "/dev/ttyUSB0" },
      { instrument: "ambient", named: "/dev/no-such-port", path: null },
      { instrument: "io_block", named: "/dev/ttyUSB0", path: "/dev/ttyUSB0" },
    ]);
  });
});
