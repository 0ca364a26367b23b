import { once } from "node:events";
import {
  existsSync,
  lstatSync,
  mkdtempSync,
  readdirSync,
  realpathSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from "node:fs";
import { connect, type Socket } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { SerialPort } from "serialport";
import { afterEach, describe, expect, it } from "vitest";
import { RealClock } from "../../drivers/real-clock.ts";
import { loadLimitFolder } from "../../limits/limit-file.ts";
import { type ServeOptions, type Serving, serve } from "../../sim/serve.ts";

const models = loadLimitFolder("limits/models");
const afterwards: (() => unknown)[] = [];

afterEach(async () => {
  for (const undo of afterwards.splice(0).reverse()) await undo();
});

async function serving(options: Partial<ServeOptions> = {}): Promise<Serving> {
  const started = await serve({
    clock: new RealClock(),
    seed: 7,
    models,
    count: 5,
    tcpBase: 0,
    byHand: true,
    did: () => {},
    failed: () => {},
    ...options,
  });
  afterwards.push(() => started.close());
  return started;
}

function addressOf(station: Serving, name: string): string {
  const address = station.addresses.get(name);
  if (!address) throw new Error(`${name} is not served`);
  return address;
}

async function dial(station: Serving, name: string): Promise<Socket> {
  const socket = connect(Number(addressOf(station, name).split(":")[1]), "127.0.0.1");
  afterwards.push(() => socket.destroy());
  socket.setEncoding("latin1");
  await once(socket, "connect");
  return socket;
}

/** Text that has come when it first matches. */
function heard(stream: NodeJS.ReadableStream, pattern: RegExp): Promise<string> {
  let text = "";
  return new Promise((resolve, reject) => {
    stream.on("data", (bytes: string | Buffer) => {
      text += bytes.toString("latin1");
      if (pattern.test(text)) resolve(text);
    });
    stream.on("close", () => reject(new Error(`closed after ${JSON.stringify(text)}`)));
  });
}

describe("the instruments on TCP", () => {
  it("stream and answer in real time", async () => {
    const station = await serving();
    const gauge = await dial(station, "leak_gauge");
    await heard(gauge, /(N=\d{6} P=[+-]\d+\.\d\d S=0\r\n){10}/);
    const meter = await dial(station, "power_meter");
    const answer = heard(meter, /\n/);
    meter.write("*IDN?\n");
    expect(await answer).toBe("DEMO WORKS,POWER,SN0001,1.0\n");
  });

  it("take one connection at a time, as a serial device server does, and another after it has gone", async () => {
    const station = await serving();
    const first = await dial(station, "ambient");
    const second = await dial(station, "ambient");
    await once(second, "close");
    const gone = once(first, "close");
    first.end();
    await gone;
    const third = await dial(station, "ambient");
    const answer = heard(third, /\n/);
    third.write("SYST:ERR?\n");
    expect(await answer).toBe('0,"No error"\n');
  });

  it("hang up when unplugged", async () => {
    const station = await serving();
    const gauge = await dial(station, "leak_gauge");
    const ended = once(gauge, "close");
    gauge.resume();
    station.hands.obey("bad-day leak_gauge unplugged");
    await ended;
  });

  it("say which port they cannot have", async () => {
    const station = await serving();
    const port = Number(addressOf(station, "leak_gauge").split(":")[1]);
    await expect(serving({ tcpBase: port })).rejects.toThrow(new RegExp(`Port ${port} is in use`));
  });
});

describe("the instruments on pseudo-terminals", () => {
  function folder(): string {
    const made = mkdtempSync(join(tmpdir(), "ports-"));
    afterwards.push(() => rmSync(made, { recursive: true, force: true }));
    return made;
  }

  async function opened(path: string): Promise<SerialPort> {
    const port = new SerialPort({ path, baudRate: 115_200, autoOpen: false, hupcl: false });
    await new Promise<void>((resolve, reject) => port.open((error) => (error ? reject(error) : resolve())));
    afterwards.push(() => (port.isOpen ? new Promise((done) => port.close(done)) : undefined));
    return port;
  }

  const number = (line: string) => Number(/N=(\d{6})/.exec(line)?.[1]);
  const linkAt = (path: string) => lstatSync(path, { throwIfNoEntry: false })?.ctimeMs;

  async function until(isSo: () => boolean): Promise<void> {
    while (!isSo()) await new Promise((done) => setTimeout(done, 2));
  }

  it("speak to a serial port, and keep nothing for the next one who opens it", async () => {
    const ptyFolder = folder();
    const station = await serving({ ptyFolder });
    const path = addressOf(station, "leak_gauge");
    const port = await opened(path);
    const first = await heard(port, /N=\d{6} .*\r\n/);
    const link = linkAt(path);
    await new Promise((done) => port.close(done));
    await until(() => existsSync(path) && linkAt(path) !== link);
    const opened_s = performance.now() / 1000;
    const text = await heard(await opened(path), /(N=\d{6} .*\r\n){20}/);
    const [oldest = Number.NaN, ...others] = [...text.matchAll(/N=(\d{6})/g)].map((match) =>
      Number(match[1]),
    );
    expect(oldest).toBeGreaterThan(number(first));
    // What is heard first was measured after opening: as many lines have come as the time since then has room for.
    expect(others.length).toBeLessThanOrEqual(Math.ceil((performance.now() / 1000 - opened_s) * 50) + 1);
  });

  it("are there again however often somebody opens one only to look", async () => {
    const failures: unknown[] = [];
    const station = await serving({ ptyFolder: folder(), failed: (error) => failures.push(error) });
    const path = addressOf(station, "leak_gauge");
    for (let look = 0; look < 8; look++) {
      const port = await opened(path);
      const link = linkAt(path);
      await heard(port, /N=\d{6}/);
      await new Promise((done) => port.close(done));
      await until(() => failures.length > 0 || (existsSync(path) && linkAt(path) !== link));
    }
    expect(failures).toEqual([]);
  });

  it.each(["/dev/pts/no-such-terminal", "/dev/null"])(
    "replace a link to %s that an earlier run left, and leave none themselves",
    async (target) => {
      const ptyFolder = folder();
      symlinkSync(target, join(ptyFolder, "io_block"));
      const station = await serving({ ptyFolder });
      expect(realpathSync(join(ptyFolder, "io_block"))).toMatch(/^\/dev\/pts\/\d+$/);
      await station.close();
      expect(readdirSync(ptyFolder)).toEqual([]);
    },
  );

  it("do not remove a file that is in the way", async () => {
    const ptyFolder = folder();
    writeFileSync(join(ptyFolder, "io_block"), "somebody's");
    await expect(serving({ ptyFolder })).rejects.toThrow(/in the way/);
    expect(readdirSync(ptyFolder)).toEqual(["io_block"]);
  });

  it("are served in one folder by one only, and by another once that one has ended", async () => {
    const ptyFolder = folder();
    const first = await serving({ ptyFolder });
    const byAnotherName = join(folder(), "link");
    symlinkSync(ptyFolder, byAnotherName);
    for (const taken of [ptyFolder, byAnotherName]) {
      await expect(serving({ ptyFolder: taken })).rejects.toThrow(/Another sim serve runs in/);
    }
    expect(realpathSync(addressOf(first, "io_block"))).toMatch(/^\/dev\/pts\/\d+$/);
    await first.close();
    await serving({ ptyFolder });
  });

  it("say what is missing when there is no socat", async () => {
    const path = process.env.PATH;
    process.env.PATH = folder();
    afterwards.push(() => {
      process.env.PATH = path;
    });
    await expect(serving({ ptyFolder: folder() })).rejects.toThrow(/socat; install it/);
  });
});
