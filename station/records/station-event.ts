import { z } from "zod";
import { Sha256Hex } from "./chain.ts";
import { Decider } from "./disposition.ts";
import { Instant, Reason } from "./record-words.ts";

/** What an event's `format` says; a reader that meets another one must not guess. */
const EVENT_FORMAT = "drumtight/station-event/1";

/** Something that happened to the station and not to a unit; appended, never changed. */
export const StationEvent = z.strictObject({
  format: z.literal(EVENT_FORMAT),
  at: Instant,
  event: z.enum(["opened", "closed", "signed_in", "signed_out", "sign_in_refused", "fault", "acknowledged"]),
  who: Decider.optional(),
  /** Of a fault or a refused sign-in: why. */
  reasons: z.array(Reason).readonly().optional(),
  chain: z.strictObject({ sequence: z.int().positive(), previous: Sha256Hex.nullable() }),
});
export type StationEvent = z.infer<typeof StationEvent>;

/** An event that is still to be written. */
export type StationEventDraft = Omit<StationEvent, "format" | "at" | "chain">;

/** @returns the record's content but for its place in the chain */
export function eventAt(draft: StationEventDraft, at_ms: number): Omit<StationEvent, "chain"> {
  return { format: EVENT_FORMAT, at: new Date(at_ms).toISOString(), ...draft };
}
