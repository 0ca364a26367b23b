import { z } from "zod";
import { Decider } from "./disposition.ts";
import { KeptFile } from "./kept-files.ts";
import { Instant, Reason, Sha256Hex } from "./record-words.ts";

/** What an event's `format` says; a reader that meets another one must not guess. */
const EVENT_FORMAT = "drumtight/station-event/1";

/** Something that happened to the station and not to a unit; appended, never changed. */
export const StationEvent = z.strictObject({
  format: z.literal(EVENT_FORMAT),
  at: Instant,
  /** Number of the newest traveller at that time, 0 before the first: clocks are put back, this tells what came first. */
  after_traveller: z.int().nonnegative(),
  /** An acknowledgement is noted once the station has recovered; one that did not help is followed by the fault, noted anew. */
  event: z.enum([
    "opened",
    "closed",
    "signed_in",
    "signed_out",
    "sign_in_refused",
    "fault",
    "acknowledged",
    "limits_changed",
  ]),
  who: Decider.optional(),
  /** Of a fault or a refused sign-in: why; of changed limits: what was changed. */
  reasons: z.array(Reason).readonly().optional(),
  /** Of an opened station and of changed limits: the files that decide about units from then on, each kept by its hash. */
  in_force: z.array(KeptFile).readonly().optional(),
  /** Of an opened station: the head it signed when it opened. */
  head: z.strictObject({ sequence: z.int().positive(), sha256: Sha256Hex }).optional(),
  chain: z.strictObject({ sequence: z.int().positive(), previous: Sha256Hex.nullable() }),
});
export type StationEvent = z.infer<typeof StationEvent>;

/** An event that is still to be written. */
export type StationEventDraft = Omit<StationEvent, "format" | "at" | "after_traveller" | "chain">;

/** @returns the record's content but for its place in the chain */
export function eventAt(
  draft: StationEventDraft,
  { at_ms, afterTraveller }: { readonly at_ms: number; readonly afterTraveller: number },
): Omit<StationEvent, "chain"> {
  const at = new Date(at_ms).toISOString();
  return { format: EVENT_FORMAT, at, after_traveller: afterTraveller, ...draft };
}
