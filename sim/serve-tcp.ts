import { createServer, type Server, type Socket } from "node:net";
import type { SimulatedInstrument } from "./instruments/plugged-instrument.ts";
import { ServeError } from "./serve-error.ts";

export interface TcpServing {
  /** Port by instrument name, all on 127.0.0.1. */
  readonly ports: ReadonlyMap<string, number>;
  close(): Promise<void>;
}

/** Bytes that wait for a reader before lines are dropped, as a serial device server's buffer does. */
const BUFFER_bytes = 16_384;
/** How long a second connection waits for the first to end before it is refused. */
const HANDOVER_ms = 100;

/**
 * Serves each instrument on a port of this machine, raw bytes, one connection at a time as a serial device server does.
 * @param basePort first of consecutive ports, in the order of the instruments; 0 takes whatever is free
 * @throws ServeError when a port cannot be had
 */
export async function serveOnTcp(
  instruments: ReadonlyMap<string, SimulatedInstrument>,
  basePort: number,
): Promise<TcpServing> {
  const servers: Server[] = [];
  const open: Port[] = [];
  const ports = new Map<string, number>();
  const close = async () => {
    for (const port of open) port.hangUp();
    await Promise.all(servers.map((server) => new Promise((resolve) => server.close(resolve))));
  };
  try {
    for (const [name, instrument] of instruments) {
      const port = new Port(instrument);
      const server = createServer(port.accept);
      open.push(port);
      const wanted = basePort === 0 ? 0 : basePort + servers.length;
      ports.set(name, await listen(server, wanted));
      servers.push(server);
    }
  } catch (error) {
    await close();
    throw error;
  }
  return { ports, close };
}

/** One instrument's port: whoever is connected, and who waits for that one to be gone. */
class Port {
  readonly #instrument: SimulatedInstrument;
  readonly #sockets = new Set<Socket>();
  #user: Socket | null = null;

  constructor(instrument: SimulatedInstrument) {
    this.#instrument = instrument;
  }

  readonly accept = (socket: Socket): void => {
    this.#sockets.add(socket);
    socket.setNoDelay(true);
    socket.on("error", () => socket.destroy());
    // Half-closed is closed: there is nobody left to talk to.
    socket.on("end", () => socket.destroy());
    socket.on("close", () => this.#sockets.delete(socket));
    if (!this.#user) {
      this.#connect(socket);
      return;
    }
    // Somebody who closes and opens again at once may be seen to come before he is seen to go.
    const patience = setTimeout(() => (this.#user ? socket.destroy() : this.#connect(socket)), HANDOVER_ms);
    socket.on("close", () => clearTimeout(patience));
  };

  hangUp(): void {
    for (const socket of this.#sockets) socket.destroy();
  }

  #connect(socket: Socket): void {
    this.#user = socket;
    const unplug = this.#instrument.attach({
      send: (bytes) => {
        if (!socket.destroyed && socket.writableLength < BUFFER_bytes) socket.write(bytes, "latin1");
      },
      onBytes: (handler) => socket.on("data", (data: Buffer) => handler(data.toString("latin1"))),
      hangUp: () => socket.destroy(),
    });
    socket.on("close", () => {
      unplug();
      if (this.#user === socket) this.#user = null;
    });
  }
}

function listen(server: Server, port: number): Promise<number> {
  return new Promise((resolve, reject) => {
    server.once("error", (error: NodeJS.ErrnoException) => {
      const why = error.code === "EADDRINUSE" ? "is in use" : `cannot be had (${error.message})`;
      reject(new ServeError(`Port ${port} ${why}; give another first port, or 0 for whatever is free.`));
    });
    server.listen(port, "127.0.0.1", () => {
      const address = server.address();
      if (address === null || typeof address === "string")
        reject(new ServeError("A TCP port has no number."));
      else resolve(address.port);
    });
  });
}
