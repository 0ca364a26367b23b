import type { ModelLimits } from "../../limits/model.ts";

/** An attempt that may be started: every check before the start has passed. */
export interface PreparedAttempt {
  readonly serial: string;
  readonly parts: Readonly<Record<string, string>>;
  readonly limits: ModelLimits;
  readonly number: number;
  readonly kind: "first" | "retest" | "after_rework";
  /** Limits not approved, run because somebody asked for it; never counts. */
  readonly isDraft: boolean;
  readonly approvedBy: string | null;
  readonly inspector: string | null;
  /** Set when the body on the fixture is a reference piece proving the station, not a unit. */
  readonly reference: ReferencePiece | null;
}

/** A body of known leak rate. Rates are m3/s at the house reference and the model's test pressure. */
export interface ReferencePiece {
  readonly serial: string;
  readonly kind: "tight" | "leak";
  readonly model: string;
  readonly certified_m3_s: number;
  /** The reading must lie within this of the certified value. */
  readonly tolerance_m3_s: number;
  /** Unit the station file states it in; values are shown in it. */
  readonly unit: string;
}
