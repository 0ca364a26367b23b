import { z } from "zod";
import { canonicalText, sha256Hex } from "./chain.ts";
import { type Disk, REAL_DISK } from "./disk.ts";
import { RecordError } from "./record-error.ts";
import { AttemptFacts, type AttemptOutcome, type Traveller } from "./traveller.ts";

const INTENT_FORMAT = "drumtight/open-attempt/1";

/** An attempt that was begun: written before the test starts, removed once its traveller is on disk. */
export const AttemptIntent = z.strictObject({
  format: z.literal(INTENT_FORMAT),
  id: z.string().regex(/^[0-9a-f]{32}$/),
  facts: AttemptFacts,
});
export type AttemptIntent = z.infer<typeof AttemptIntent>;

/**
 * The id is a digest, not a random number, so that a simulated run repeats to the byte. Serial, attempt number,
 * station and start time are in it, and a serial's attempt number is never given twice.
 */
export function intentFor(facts: AttemptFacts): AttemptIntent {
  return { format: INTENT_FORMAT, id: sha256Hex(canonicalText(facts)).slice(0, 32), facts };
}

/** The outcome of an attempt whose end nobody saw, because the program or the computer stopped. */
export function interruptedOutcome(facts: AttemptFacts, found_at: string): AttemptOutcome {
  return {
    verdict: "void",
    reasons: [
      {
        code: "INTERRUPTED",
        sentence: `The station stopped during this attempt; found at ${found_at}. Test the unit again.`,
      },
    ],
    ended_at: null,
    duration_s: null,
    ambient: null,
    characteristics: [],
    phases: [],
    curves: [],
    ...(facts.kind === "reference" ? { reference: { measured: null, conforms: false } } : {}),
  };
}

/** Whether a traveller says no more than `interruptedOutcome` does: nothing was measured, and nobody saw the end. */
export function isInterrupted(it: Traveller): boolean {
  const [reason, ...others] = it.reasons;
  return (
    it.verdict === "void" &&
    reason?.code === "INTERRUPTED" &&
    others.length === 0 &&
    it.ended_at === null &&
    it.ambient === null &&
    [it.characteristics, it.phases, it.curves, it.airflow ?? []].every((found) => found.length === 0) &&
    (it.reference?.measured ?? null) === null
  );
}

/** @throws RecordError CORRUPT */
export async function readIntent(path: string, disk: Disk = REAL_DISK): Promise<AttemptIntent> {
  try {
    return AttemptIntent.parse(JSON.parse((await disk.readFile(path)).toString("utf8")));
  } catch (cause) {
    throw new RecordError(
      "CORRUPT",
      path,
      `The note of an open attempt, ${path}, can't be read: its name tells the serial and the attempt. Move it out of the folder, start again and test that unit again.`,
      { cause },
    );
  }
}
