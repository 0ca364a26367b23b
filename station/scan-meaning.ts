import type { ModelLimits } from "../limits/model.ts";
import type { Reason } from "./cycle/reason.ts";
import type { Scan } from "./cycle/station-machine.ts";

/** What a scanned line is read against. */
export interface ScanPlace {
  /** Models on the line. */
  readonly models: readonly ModelLimits[];
  /** Of the unit that waits for its start; null when none does. */
  readonly armed: ModelLimits | null;
  readonly referenceSerials: readonly string[];
  /** What is a badge, whole; null where nobody signs in by one. */
  readonly badge: RegExp | null;
}

export type ScanMeaning =
  | { readonly kind: "unit"; readonly scan: Scan }
  | { readonly kind: "parts"; readonly parts: Readonly<Record<string, string>> }
  /** The line, without the blanks around it, is the badge. */
  | { readonly kind: "badge" }
  | { readonly kind: "ambiguous" | "unknown"; readonly reason: Reason };

export function meaningOf(_line: string, _place: ScanPlace): ScanMeaning {
  throw new Error("not yet");
}
