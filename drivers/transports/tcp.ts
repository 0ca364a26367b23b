import { createConnection } from "node:net";
import {
  type ByteConnection,
  type ByteHandlers,
  type ByteTransport,
  type Clock,
  DriverError,
} from "../ports.ts";
import { printSeconds } from "../raw-line.ts";
import { DuplexConnection } from "./duplex-connection.ts";

export interface TcpTransportOptions {
  readonly instrument: string;
  readonly host: string;
  readonly port: number;
  readonly clock: Clock;
  /** An address nobody answers at is given up after this time. */
  readonly connectWithin_s?: number;
}

/** A raw socket, as serial device servers give. */
export class TcpTransport implements ByteTransport {
  readonly description: string;
  readonly #options: TcpTransportOptions;

  constructor(options: TcpTransportOptions) {
    this.#options = options;
    const host = options.host.includes(":") ? `[${options.host}]` : options.host;
    this.description = `${host}:${options.port}`;
  }

  /** @throws DriverError PORT_MISSING when nobody answers at the address */
  connect(handlers: ByteHandlers): Promise<ByteConnection> {
    const { instrument, host, port, clock, connectWithin_s = 3 } = this.#options;
    const { description } = this;
    return new Promise((resolve, reject) => {
      const socket = createConnection({
        host,
        port,
        noDelay: true,
        keepAlive: true,
        keepAliveInitialDelay: 5000,
      });
      const shut = () =>
        new Promise<void>((done) => {
          if (socket.destroyed) return done();
          socket.once("close", () => done());
          socket.destroy();
        });
      const connection = new DuplexConnection(socket, { instrument, description, clock, shut }, handlers);
      const refuse = (why: string, cause?: Error) => {
        connection.abandoned();
        clock.clearTimeout(timer);
        socket.destroy();
        const message = `${instrument}: no connection to ${description}, ${why}.`;
        reject(new DriverError("PORT_MISSING", instrument, message, { cause }));
      };
      const onError = (error: NodeJS.ErrnoException) => refuse(explainConnect(error), error);
      const timer = clock.setTimeout(
        () =>
          refuse(
            `nobody answered within ${printSeconds(connectWithin_s)}; check the address and the network`,
          ),
        connectWithin_s * 1000,
      );
      // Before the connection's own listener: a refused connect is not a lost one.
      socket.prependOnceListener("error", onError);
      socket.once("connect", () => {
        clock.clearTimeout(timer);
        socket.off("error", onError);
        connection.opened();
        resolve(connection);
      });
    });
  }
}

function explainConnect(error: NodeJS.ErrnoException): string {
  switch (error.code) {
    case "ECONNREFUSED":
      return "the address refuses; check the port number and that the device server is running";
    case "ENOTFOUND":
    case "EAI_AGAIN":
      return "the host name is unknown; check it in the station file";
    case "EHOSTUNREACH":
    case "ENETUNREACH":
      return "there is no way to that address; check the network cable";
    default:
      return `${error.message}; check the address and the network`;
  }
}
