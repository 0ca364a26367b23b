import { execFile } from "node:child_process";
import type { FarEnd } from "../drivers/ports.ts";
import type { SimulatedInstrument } from "./instruments/plugged-instrument.ts";
import type { Stranger } from "./instruments/stranger.ts";

/**
 * Lets a stranger hear and be heard through a pseudo-terminal at its own baud rate only, as over a real wire. A
 * pseudo-terminal carries bytes whatever its settings; but the baud rate that its user has set can be read from it by
 * the program stty. Data bits and parity cannot: Linux keeps every pseudo-terminal at eight bits without.
 * @returns the stranger as it is to be served, plugged in only once the baud rate is known
 */
export function throughPty(stranger: Stranger, path: string): SimulatedInstrument {
  const attach = (far: FarEnd) => {
    let unplug: (() => void) | null = null;
    let isGone = false;
    readBaud(path, (baud) => {
      if (isGone) return;
      unplug = stranger.attach(far);
      if (baud !== null) stranger.heardAt(baud);
    });
    return () => {
      isGone = true;
      unplug?.();
    };
  };
  return {
    name: stranger.name,
    badDays: stranger.badDays,
    attach,
    misbehave: (day) => stranger.misbehave(day),
  };
}

/** @param told null where it cannot be read */
function readBaud(path: string, told: (baud: number | null) => void): void {
  execFile("stty", ["-F", path, "speed"], (error, stdout) => {
    const baud = Number(stdout.trim());
    told(!error && baud > 0 ? baud : null);
  });
}
