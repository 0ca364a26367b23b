import type { Levels } from "../../drivers/ports.ts";
import type { Call } from "./gate.ts";

/**
 * What happened, in the order it happened. Times are of the station's monotonic clock, in seconds: exact where a judged
 * number rests on them (`heard`, `readings`, `now`), else to the microsecond.
 */
export type TapeEvent = { readonly t_s: number } /** The cable; `shut` by us. */ & (
  | { readonly kind: "opened" | "shut"; readonly instrument: string }
  /** From a driver to the station. */
  | { readonly kind: "readings" | "fault"; readonly instrument: string }
  /** The cable's end as the driver was told it, or why there is none. */
  | {
      readonly kind: "refused" | "lost";
      readonly instrument: string;
      readonly code: string;
      readonly message: string;
    }
  | { readonly kind: "heard" | "sent"; readonly instrument: string; readonly bytes: Buffer }
  /** Levels the inputs were found to have. */
  | { readonly kind: "levels"; readonly instrument: string; readonly levels: Levels }
  /** The station asks for a reading, or, with levels, commands outputs. */
  | { readonly kind: "called"; readonly instrument: string; readonly levels: Levels | null }
  /** Which call of this instrument: 1 is the first on the tape, 0 and less were made before it. */
  | {
      readonly kind: "ended";
      readonly instrument: string;
      readonly call: Call;
      readonly number: number;
      readonly well: boolean;
    }
  /** One of a driver's timers ran out, or what it had put off until everything unread had come. */
  | { readonly kind: "ran"; readonly instrument: string; readonly label: number }
  /** The cycle looked at the clock, and this is what it saw: t_s, or the wall clock. */
  | { readonly kind: "now" }
  | { readonly kind: "wall"; readonly wall_ms: number }
  /** One of the cycle's timers ran out. */
  | { readonly kind: "timer"; readonly delay_ms: number }
  /** Somebody told the cycle something that no instrument said. */
  | { readonly kind: "told"; readonly event: unknown }
  /** What came from outside the fixture: the attempt is on disk, the room's air as somebody entered it. */
  | { readonly kind: "given"; readonly what: "begun" | "ambient"; readonly value: unknown }
);

export type TapeEventKind = TapeEvent["kind"];

/** In the order of their numbers on a tape, which never change. */
export const TAPE_EVENT_KINDS = [
  "heard",
  "sent",
  "readings",
  "ended",
  "called",
  "levels",
  "fault",
  "opened",
  "refused",
  "lost",
  "shut",
  "now",
  "wall",
  "timer",
  "told",
  "given",
  "ran",
] as const satisfies readonly TapeEventKind[];
