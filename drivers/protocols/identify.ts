import type { Exchange } from "../exchange.ts";
import { type Clock, DriverError } from "../ports.ts";
import type { Identity } from "../profile.ts";
import { quoteRaw } from "../raw-line.ts";

/**
 * Asks an instrument who it is; the wrong one ends the connection.
 * @returns its answer, "" if the profile asks nothing
 * @throws DriverError WRONG_INSTRUMENT, or what ended the connection
 */
export async function identify(exchange: Exchange, instrument: string, identity?: Identity): Promise<string> {
  if (!identity) return "";
  const answer = await exchange.ask(identity.ask);
  if (identity.expect.test(answer)) return answer;
  const error = wrongInstrument(instrument, answer);
  exchange.fail(error);
  throw error;
}

export function wrongInstrument(instrument: string, answer: string): DriverError {
  const message =
    `${instrument} says ${quoteRaw(answer)} when asked who it is, which is not what its profile expects; ` +
    "check that the right instrument is on this port.";
  return new DriverError("WRONG_INSTRUMENT", instrument, message);
}

/** Resolves after this much of the clock's time. */
export function pause(clock: Clock, duration_s: number): Promise<void> {
  if (duration_s <= 0) return Promise.resolve();
  return new Promise((resolve) => {
    clock.setTimeout(() => resolve(), duration_s * 1000);
  });
}
