import type { ModelLimits } from "../../limits/model.ts";
import type { SettleCalibration, VolumeCalibration } from "../measure/leak/settle-calibration.ts";

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
  readonly calibration: ModelCalibration;
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

/** What has been learned of a model on this station, and where it is written. */
export interface ModelCalibration {
  readonly settle: InForce<SettleCalibration> | null;
  readonly volume: InForce<VolumeCalibration> | null;
}

export interface InForce<T> {
  readonly calibration: T;
  /** When it was made, ISO 8601. */
  readonly date: string;
  /** Of the file's bytes. */
  readonly sha256: string;
  /** Name of the file, beside the station file. */
  readonly file: string;
}

export const NOT_CALIBRATED: ModelCalibration = { settle: null, volume: null };
