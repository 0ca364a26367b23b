import { execFile } from "node:child_process";
import type { FarEnd } from "../drivers/ports.ts";
import type { SimulatedInstrument } from "./instruments/plugged-instrument.ts";
import type { Stranger } from "./instruments/stranger.ts";
import { misread, type UartSettings } from "./uart.ts";

/**
 * Lets a stranger hear and be heard through a pseudo-terminal at its own baud rate only, as over a real wire. A
 * pseudo-terminal carries bytes whatever its settings; but the baud rate that its user has set can be read from it by
 * the program stty. Data bits and parity cannot: Linux keeps every pseudo-terminal at eight bits without.
 * @returns the stranger as it is to be served, plugged in only once the baud rate is known
 */
export function throughPty(stranger: Stranger, path: string): SimulatedInstrument {
  return oncePtyIsRead(stranger, path, (far, baud) => {
    const unplug = stranger.attach(far);
    if (baud !== null) stranger.heardAt(baud);
    return unplug;
  });
}

/** The same for any instrument whose port is set so: at another baud rate both sides hear garbage. */
export function setTo(own: UartSettings, instrument: SimulatedInstrument, path: string): SimulatedInstrument {
  return oncePtyIsRead(instrument, path, (far, baud) =>
    instrument.attach(baud === null || baud === own.baud ? far : misheard(far, own, { ...own, baud })),
  );
}

function misheard(far: FarEnd, own: UartSettings, others: UartSettings): FarEnd {
  const through = (bytes: string, sent: UartSettings, heard: UartSettings) =>
    Buffer.from(misread(Buffer.from(bytes, "latin1"), sent, heard)).toString("latin1");
  return {
    send: (bytes) => far.send(through(bytes, own, others)),
    onBytes: (handler) => far.onBytes((bytes) => handler(through(bytes, others, own))),
    hangUp: () => far.hangUp(),
  };
}

/** A port is opened first and set then, which on a busy machine takes a while: the same baud rate is read twice. */
const SETTLES_WITHIN_ms = 100;

function oncePtyIsRead(
  instrument: SimulatedInstrument,
  path: string,
  attachAt: (far: FarEnd, baud: number | null) => () => void,
): SimulatedInstrument {
  const attach = (far: FarEnd) => {
    let unplug: (() => void) | null = null;
    let isGone = false;
    let again: NodeJS.Timeout | undefined;
    const read = (before: number | null | undefined) =>
      readBaud(path, (baud) => {
        if (isGone) return;
        if (baud === before) unplug = attachAt(far, baud);
        else again = setTimeout(read, SETTLES_WITHIN_ms, baud);
      });
    read(undefined);
    return () => {
      isGone = true;
      clearTimeout(again);
      unplug?.();
    };
  };
  return {
    name: instrument.name,
    badDays: instrument.badDays,
    attach,
    misbehave: (day) => instrument.misbehave(day),
  };
}

/** @param told null where it cannot be read */
function readBaud(path: string, told: (baud: number | null) => void): void {
  execFile("stty", ["-F", path, "speed"], (error, stdout) => {
    const baud = Number(stdout.trim());
    told(!error && baud > 0 ? baud : null);
  });
}
