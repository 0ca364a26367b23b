import { SerialPort } from "serialport";
import {
  type ByteConnection,
  type ByteHandlers,
  type ByteTransport,
  type Clock,
  DriverError,
} from "../ports.ts";
import { DuplexConnection } from "./duplex-connection.ts";
import type { SerialSettings } from "./serial-settings.ts";

export interface SerialTransportOptions {
  readonly instrument: string;
  /** Device file, better the lasting name below /dev/serial/by-id. */
  readonly path: string;
  readonly settings: SerialSettings;
  readonly clock: Clock;
}

/** A serial port of this machine. */
export class SerialTransport implements ByteTransport {
  readonly description: string;
  readonly #options: SerialTransportOptions;

  constructor(options: SerialTransportOptions) {
    this.#options = options;
    this.description = `${options.path} at ${options.settings.baud} baud`;
  }

  /** @throws DriverError PORT_MISSING, PORT_BUSY */
  connect(handlers: ByteHandlers): Promise<ByteConnection> {
    const { instrument, path, settings, clock } = this.#options;
    const { description } = this;
    return new Promise((resolve, reject) => {
      const port = new SerialPort({
        path,
        baudRate: settings.baud,
        dataBits: settings.dataBits,
        parity: settings.parity,
        stopBits: settings.stopBits,
        rtscts: settings.flowControl === "rts_cts",
        xon: settings.flowControl === "xon_xoff",
        xoff: settings.flowControl === "xon_xoff",
        autoOpen: false,
        lock: true,
        // Dropping DTR on close restarts many gauges, which then forget their zero.
        hupcl: false,
      });
      const shut = () =>
        new Promise<void>((done) => {
          if (!port.isOpen) return done();
          port.close(() => done());
        });
      const connection = new DuplexConnection(port, { instrument, description, clock, shut }, handlers);
      port.open((error) => {
        if (error) {
          connection.abandoned();
          return reject(explainOpen(error, instrument, path));
        }
        // An answer to somebody who has gone may still wait in the system's buffer.
        port.flush(() => {
          connection.opened();
          watchForHangUp(port, connection, clock);
          resolve(connection);
        });
      });
    });
  }
}

const HANG_UP_CHECK_ms = 250;

/**
 * On a hung-up line Linux answers every read with nothing, and the package then reads for ever without telling
 * anybody. Asking for the modem lines tells: a hung-up line answers with EIO, one that merely has none (a
 * pseudo-terminal) otherwise.
 */
function watchForHangUp(port: SerialPort, connection: DuplexConnection, clock: Clock): void {
  clock.setTimeout(() => {
    if (!connection.isOpen) return;
    port.get((error) => {
      if (error && /input\/output error|no such device/i.test(error.message))
        connection.lost("the line hung up");
      else watchForHangUp(port, connection, clock);
    });
  }, HANG_UP_CHECK_ms);
}

function explainOpen(error: Error, instrument: string, path: string): DriverError {
  const text = error.message;
  if (/cannot lock|resource busy|temporarily unavailable/i.test(text)) {
    const message = `${instrument}: ${path} is in use by another program; close it and try again.`;
    return new DriverError("PORT_BUSY", instrument, message, { cause: error });
  }
  const why = /permission denied/i.test(text)
    ? "may not be opened by this user; add the user to the group that owns it (often dialout)"
    : /no such file/i.test(text)
      ? "does not exist; check that the adapter is plugged in"
      : /is a directory/i.test(text)
        ? "is a folder, not a port; give the port itself, like /dev/ttyUSB0"
        : /inappropriate ioctl|not a typewriter|not a tty/i.test(text)
          ? "is no serial port; give one, like /dev/ttyUSB0"
          : `cannot be opened (${text})`;
  return new DriverError("PORT_MISSING", instrument, `${instrument}: ${path} ${why}.`, { cause: error });
}
