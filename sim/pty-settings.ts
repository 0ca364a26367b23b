import { execFile } from "node:child_process";
import type { FarEnd } from "../drivers/ports.ts";
import type { SimulatedInstrument } from "./instruments/line-instrument.ts";
import type { Stranger } from "./instruments/stranger.ts";
import type { UartSettings } from "./uart.ts";

/**
 * Lets a stranger hear and be heard through a pseudo-terminal as over a real wire. A pseudo-terminal carries bytes
 * whatever its settings; but whoever opened it has left them there, and the program stty can read them.
 * @returns the stranger as it is to be served, plugged in only once the settings are known
 */
export function throughPty(stranger: Stranger, path: string): SimulatedInstrument {
  const attach = (far: FarEnd) => {
    let unplug: (() => void) | null = null;
    let isGone = false;
    readSettings(path, (settings) => {
      if (isGone) return;
      unplug = stranger.attach(far);
      if (settings) stranger.heardWith(settings);
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

/** @param told null where they cannot be read */
function readSettings(path: string, told: (settings: UartSettings | null) => void): void {
  execFile("stty", ["-F", path, "-a"], (error, stdout) => {
    const baud = Number(/speed (\d+) baud/.exec(stdout)?.[1]);
    if (error || !(baud > 0)) return told(null);
    const isOn = (flag: string) => new RegExp(`(^|\\s)${flag}(\\s|$)`).test(stdout);
    told({
      baud,
      dataBits: isOn("cs7") ? 7 : 8,
      parity: isOn("parenb") ? (isOn("parodd") ? "odd" : "even") : "none",
    });
  });
}
