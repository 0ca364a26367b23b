import type { ModelLimits } from "../../limits/model.ts";
import type { SettleCalibration, VolumeCalibration } from "../measure/leak/settle-calibration.ts";
import type { SignedIn } from "../people/person.ts";

/** An attempt that may be started: every check before the start has passed. */
export interface PreparedAttempt {
  readonly serial: string;
  readonly parts: Readonly<Record<string, string>>;
  readonly limits: ModelLimits;
  readonly number: number;
  readonly kind: "first" | "retest" | "after_rework";
  /** Its last test was put in doubt by a failed reference check, and this one counts instead: nobody has to say why. */
  readonly isAfterHold?: true;
  /** Never counts: on limits not approved, run because somebody asked for it, or measured for a study. */
  readonly isDraft: boolean;
  /** Set when it is a measurement of a planned study; `isDraft` then, too. */
  readonly study?: StudyMark;
  readonly approvedBy: string | null;
  readonly who: SignedIn;
  /** Tracked parts the limit file requires that have not been scanned yet: no start before. */
  readonly missingParts: readonly string[];
  /** Of a retest: what may be chosen as its reason, where one has to be and has not been; no start before. */
  readonly retestReasons: readonly string[];
  /** Of a retest: why, as chosen; null where none is asked for or none has been chosen yet. */
  readonly retestReason: string | null;
  readonly calibration: ModelCalibration;
  /** Set when the body on the fixture is a reference piece proving the station, not a unit. */
  readonly reference: ReferencePiece | null;
}

/** Which measurement of which study an attempt is. */
export interface StudyMark {
  readonly name: string;
  readonly planSha256: string;
  /** Counted from 1, of so many. */
  readonly run: number;
  readonly of: number;
  readonly appraiser: string;
  readonly trial: number;
}

/**
 * A body that proves the station. "tight" and "leak" have a known leak rate, m3/s at the house reference and the model's test
 * pressure. "orifice" is a suction cleaner with a measuring orifice of its own in the inlet: known is the flow it lets
 * through, m3/s of air of 1.20 kg/m3, at a stated suction.
 */
export interface ReferencePiece {
  readonly serial: string;
  readonly kind: "tight" | "leak" | "orifice";
  readonly model: string;
  readonly certified_m3_s: number;
  /** The reading must lie within this of the certified value. */
  readonly tolerance_m3_s: number;
  /** Unit the station file states it in; values are shown in it. */
  readonly unit: string;
  /** Of kind "orifice": at which point of the model's airflow step it is held, and the suction its certificate is for. */
  readonly orifice: { readonly point: string; readonly atSuction_Pa: number } | null;
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
