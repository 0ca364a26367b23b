import { commandOnWire, type LineChecksum, lineWithout } from "../checksum.ts";
import { encodingDoubt } from "../encoding-doubt.ts";
import type { Exchange } from "../exchange.ts";
import { type Clock, DriverError } from "../ports.ts";
import type { Identity } from "../profile.ts";
import { quoteRaw } from "../raw-line.ts";

/**
 * Asks an instrument who it is; the wrong one ends the connection.
 * @returns its answer, without its checksum; "" if the profile asks nothing
 * @throws DriverError WRONG_INSTRUMENT, REPLY_MALFORMED for a wrong checksum, or what ended the connection
 */
export async function identify(
  exchange: Exchange,
  instrument: string,
  identity?: Identity,
  checksum?: LineChecksum,
): Promise<string> {
  if (!identity) return "";
  const answer = await exchange.ask(commandOnWire(identity.ask, checksum));
  const bare = lineWithout(answer, checksum);
  if (bare.ok && identity.expect.test(bare.text)) return bare.text;
  const error =
    bare.ok || bare.why === "NONE"
      ? wrongInstrument(instrument, answer)
      : malformed(instrument, answer, bare.expected);
  exchange.fail(error);
  throw error;
}

export function wrongInstrument(instrument: string, answer: string): DriverError {
  const message =
    `${instrument} says ${quoteRaw(answer)} when asked who it is, which is not what its profile expects; ` +
    `${encodingDoubt(answer) ?? "check that the right instrument is on this port"}.`;
  return new DriverError("WRONG_INSTRUMENT", instrument, message);
}

/** A line that is not as it should be. @param expected the end of "expected ..." */
export function malformed(instrument: string, line: string, expected: string): DriverError {
  const message =
    `${instrument} sent ${quoteRaw(line)}, expected ${expected}; ` +
    `${encodingDoubt(line) ?? "check its cable and the line settings"}.`;
  return new DriverError("REPLY_MALFORMED", instrument, message);
}

/** Resolves after this much of the clock's time. */
export function pause(clock: Clock, duration_s: number): Promise<void> {
  if (duration_s <= 0) return Promise.resolve();
  return new Promise((resolve) => {
    clock.setTimeout(() => resolve(), duration_s * 1000);
  });
}
