import { commandOnWire, lineWithout } from "../checksum.ts";
import type { Exchange } from "../exchange.ts";
import { type Clock, DriverError } from "../ports.ts";
import type { GaugeProfile } from "../profile.ts";
import { quoteRaw } from "../raw-line.ts";
import { identify, malformed, pause } from "./identify.ts";

export interface Preparation {
  readonly exchange: Exchange;
  readonly instrument: string;
  readonly profile: GaugeProfile;
  readonly clock: Clock;
  /** Told what the answer that is waited for next looks like. */
  readonly awaiting: (expect: RegExp | undefined) => void;
}

/**
 * What is said to a gauge before its readings are used: who are you, test yourself, be set up like this. Any
 * answer but the expected one ends the connection.
 * @returns what it says it is; "" if the profile asks nothing
 * @throws DriverError WRONG_INSTRUMENT, INSTRUMENT_ERROR, REPLY_MALFORMED or what ended the connection
 */
export async function prepare(preparation: Preparation): Promise<string> {
  const { exchange, instrument, profile, clock, awaiting } = preparation;
  awaiting(profile.identity?.expect);
  const identity = await identify(exchange, instrument, profile.identity, profile.checksum);
  const { selfTest } = profile;
  if (selfTest) {
    await asked(preparation, selfTest.ask, selfTest.expect, selfTest.within_s, (answer) => {
      const what = `${instrument} answers ${answer} to its self-test ${JSON.stringify(selfTest.ask)}, which is not a pass`;
      return `${what}; look up in its manual what that means, and set it right.`;
    });
  }
  for (const step of profile.startUp) {
    if ("expect" in step) {
      await asked(preparation, step.send, step.expect, profile.replyWithin_s, (answer) => {
        const what = `${instrument} answers ${answer} to its start-up command ${JSON.stringify(step.send)}`;
        return `${what}, which is not what its profile expects; check the command and its manual.`;
      });
      continue;
    }
    awaiting(undefined);
    await exchange.tell(commandOnWire(step.send, profile.checksum));
    await pause(clock, step.wait_s);
  }
  awaiting(undefined);
  return identity;
}

async function asked(
  { exchange, instrument, profile, awaiting }: Preparation,
  command: string,
  expect: RegExp,
  within_s: number,
  complaint: (answer: string) => string,
): Promise<void> {
  awaiting(expect);
  const answer = await exchange.ask(commandOnWire(command, profile.checksum), within_s);
  const bare = lineWithout(answer, profile.checksum);
  if (bare.ok && expect.test(bare.text)) return;
  const error = bare.ok
    ? new DriverError("INSTRUMENT_ERROR", instrument, complaint(quoteRaw(answer)))
    : malformed(instrument, answer, bare.expected);
  exchange.fail(error);
  throw error;
}
