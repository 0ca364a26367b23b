import { type ChildProcess, spawn } from "node:child_process";
import { once } from "node:events";
import { mkdtempSync, rmSync } from "node:fs";
import { type AddressInfo, createServer, type Server, type Socket } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { createInterface } from "node:readline";
import type { ByteTransport, Clock, FarEnd, Transport } from "../../drivers/ports.ts";
import type { GaugeProfile, IoBlockProfile } from "../../drivers/profile.ts";
import { loadProfile } from "../../drivers/profile-file.ts";
import { RealClock } from "../../drivers/real-clock.ts";
import { LineTransport } from "../../drivers/transports/lines.ts";
import { MemoryTransport } from "../../drivers/transports/memory.ts";
import { SerialTransport } from "../../drivers/transports/serial.ts";
import { TcpTransport } from "../../drivers/transports/tcp.ts";
import { VirtualClock } from "../../sim/virtual-clock.ts";

/** What the instrument does when a command line has come. */
export type Script = (command: string, far: FarEnd) => void;

/** A cable with a scripted instrument at its far end. */
export interface Rig {
  readonly clock: Clock;
  readonly transport: Transport;
  /** Command lines the instrument got, over all connections. */
  readonly received: readonly string[];
  /** The instrument's end of the latest connection. */
  far(): FarEnd;
  /** Lets time go on until the promise settles. */
  settle<T>(promise: Promise<T>): Promise<T>;
  close(): Promise<void>;
}

export function gaugeProfile(name: string): GaugeProfile {
  const profile = loadProfile(name);
  if (profile.kind !== "gauge") throw new Error(`${name} is no gauge`);
  return profile;
}

export function ioBlockProfile(): IoBlockProfile {
  const profile = loadProfile("ascii-io");
  if (profile.kind !== "io_block") throw new Error("ascii-io is no I/O block");
  return profile;
}

type LineProfile = GaugeProfile | IoBlockProfile;

/** Lines as this profile frames them. */
export function linesOver(profile: LineProfile, clock: Clock, bytes: ByteTransport): Transport {
  return new LineTransport({ instrument: "gauge", framing: profile.framing, clock, bytes });
}

class Bench {
  readonly received: string[] = [];
  #far: FarEnd | undefined;
  readonly #script: Script;

  constructor(script: Script) {
    this.#script = script;
  }

  attach(far: FarEnd): void {
    this.#far = far;
    let rest = "";
    far.onBytes((bytes) => {
      const lines = (rest + bytes).split(/\r?\n/);
      rest = lines.pop() ?? "";
      for (const line of lines) {
        this.received.push(line);
        this.#script(line, far);
      }
    });
  }

  far(): FarEnd {
    if (!this.#far) throw new Error("nobody has connected");
    return this.#far;
  }
}

export interface MemoryRig extends Rig {
  readonly clock: VirtualClock;
}

/** @param greeting what the instrument sends by itself as soon as it is connected */
export function memoryRig(profile: LineProfile, script: Script, greeting = ""): MemoryRig {
  const bench = new Bench(script);
  const clock = new VirtualClock();
  return {
    clock,
    transport: linesOver(
      profile,
      clock,
      new MemoryTransport({
        instrument: "gauge",
        clock,
        attach: (far) => {
          bench.attach(far);
          if (greeting !== "") far.send(greeting);
        },
      }),
    ),
    received: bench.received,
    far: () => bench.far(),
    settle: (promise) => clock.runUntil(promise),
    close: async () => undefined,
  };
}

export async function tcpRig(profile: LineProfile, script: Script): Promise<Rig> {
  const bench = new Bench(script);
  const clock = new RealClock();
  const { port, close } = await serve(bench);
  return {
    clock,
    transport: linesOver(
      profile,
      clock,
      new TcpTransport({ instrument: "gauge", host: "127.0.0.1", port, clock }),
    ),
    received: bench.received,
    far: () => bench.far(),
    settle: (promise) => promise,
    close,
  };
}

export interface SerialRig extends Rig {
  readonly path: string;
}

/** A real serial port: a pseudo-terminal kept by socat, whose other side is the scripted instrument. */
export async function serialRig(profile: LineProfile, script: Script): Promise<SerialRig> {
  const bench = new Bench(script);
  const clock = new RealClock();
  const cable: { socat?: ChildProcess } = {};
  const server = await serve(bench, () => void cable.socat?.kill("SIGKILL"));
  const folder = mkdtempSync(join(tmpdir(), "drumtight-pty-"));
  const path = join(folder, "gauge");
  const socat = await startSocat(path, server.port);
  cable.socat = socat;
  return {
    clock,
    path,
    transport: linesOver(
      profile,
      clock,
      new SerialTransport({ instrument: "gauge", path, settings: profile.port, clock }),
    ),
    received: bench.received,
    far: () => bench.far(),
    settle: (promise) => promise,
    close: async () => {
      if (socat.exitCode === null && socat.signalCode === null) {
        socat.kill();
        await once(socat, "exit");
      }
      await server.close();
      rmSync(folder, { recursive: true, force: true });
    },
  };
}

async function startSocat(path: string, port: number): Promise<ChildProcess> {
  const socat = spawn("socat", ["-d", "-d", `pty,raw,echo=0,link=${path}`, `tcp:127.0.0.1:${port}`], {
    stdio: ["ignore", "ignore", "pipe"],
  });
  const failed = once(socat, "error").then(([error]) => {
    throw new Error("socat is needed for the serial tests (Debian package socat)", { cause: error });
  });
  const ready = new Promise<void>((resolve) => {
    createInterface({ input: socat.stderr }).on("line", (line) => {
      if (line.includes("starting data transfer loop")) resolve();
    });
  });
  await Promise.race([ready, failed]);
  return socat;
}

async function serve(bench: Bench, hangUp?: () => void): Promise<{ port: number; close(): Promise<void> }> {
  const sockets = new Set<Socket>();
  const server: Server = createServer({ noDelay: true }, (socket) => {
    sockets.add(socket);
    socket.setEncoding("latin1");
    socket.on("error", () => undefined);
    bench.attach({
      send: (bytes) => void socket.write(bytes, "latin1"),
      onBytes: (handler) => void socket.on("data", (text) => handler(String(text))),
      hangUp: hangUp ?? (() => void socket.destroy()),
    });
  });
  server.listen(0, "127.0.0.1");
  await once(server, "listening");
  return {
    port: (server.address() as AddressInfo).port,
    close: async () => {
      for (const socket of sockets) socket.destroy();
      server.close();
      await once(server, "close");
    },
  };
}
