import type { Clock } from "../drivers/ports.ts";
import { calendarDate } from "./calendar-date.ts";
import type { ModelCalibrations } from "./calibrations-in-force.ts";
import { missingParts } from "./cycle/armed-attempt.ts";
import { NOT_CALIBRATED, type PreparedAttempt, type ReferencePiece } from "./cycle/attempt.ts";
import { refuseChecks } from "./cycle/check-refusal.ts";
import type { Reason } from "./cycle/reason.ts";
import {
  findModel,
  type ModelInForce,
  refuseCalibration,
  refuseLimits,
  refuseParts,
  refuseReference,
  refuseStart,
  refuseUncalibrated,
} from "./cycle/refusals.ts";
import { newestFail, refuseRetest } from "./cycle/retest-refusals.ts";
import type { Scan } from "./cycle/scan.ts";
import { refuseIncomplete } from "./cycle/station-reasons.ts";
import type { Identified, StartAnswer } from "./cycle/station-setup.ts";
import type { Fixture } from "./fixture.ts";
import type { StudyGuide } from "./guided-study/study-guide.ts";
import type { LimitsInForce } from "./limits-in-force.ts";
import type { SignedIn } from "./people/person.ts";
import type { Disposition } from "./records/disposition.ts";
import type { AttemptSummary } from "./records/index-db.ts";
import { nextAttempt } from "./records/retest.ts";
import type { ReferenceWatch } from "./reference-watch.ts";
import type { RoomAir } from "./room-air.ts";
import { inCalibration, type StationFile } from "./station-file.ts";

export interface AdmissionParts {
  readonly file: StationFile;
  readonly limits: Pick<LimitsInForce, "models" | "calibrations" | "lookAgain">;
  readonly clock: Clock;
  readonly fixture: Fixture;
  readonly room: RoomAir;
  readonly references: ReferenceWatch;
  readonly store: {
    history(serial: string): Promise<readonly AttemptSummary[]>;
    dispositionsOf(serial: string): Promise<readonly Disposition[]>;
    freeBytes(): Promise<number>;
  };
  /** Unapproved limits may be run; their travellers say so and never count. */
  readonly allowDrafts: boolean;
  /** Only what this study asks for is tested, and nothing of it counts. */
  readonly study?: StudyGuide | undefined;
}

/** Reference pieces have no retest rule: they may be tested as often as somebody likes. */
const ANY_NUMBER = { afterFail: Number.POSITIVE_INFINITY, afterVoid: Number.POSITIVE_INFINITY };

const NEVER_CALIBRATED: ModelCalibrations = { ...NOT_CALIBRATED, problems: [] };

/** Who and what may be tested now: asked at the scan, and once more at the moment of starting. */
export class Admission {
  readonly #parts: AdmissionParts;
  /** By unit: its newest fail, and when somebody first asked to test it again, by the clock that nobody puts back. */
  readonly #asked = new Map<string, { readonly fail: number; readonly at_s: number }>();

  constructor(parts: AdmissionParts) {
    this.#parts = parts;
  }

  /** @throws RecordError when the unit's records can't be read */
  async identify(scan: Scan, who: SignedIn): Promise<Identified> {
    const { file, clock, allowDrafts, store, references, study } = this.#parts;
    if (scan.misread) return { kind: "refused", reasons: scan.misread };
    const asked = study?.ask(scan.serial, who);
    if (asked?.kind === "refused") return { kind: "refused", reasons: [asked.reason] };
    // Between two units: what was changed judges this one already, or refuses it.
    await this.#parts.limits.lookAgain();
    const { models, calibrations } = this.#parts.limits;
    const now_ms = clock.wall_ms();
    const today = calendarDate(now_ms);
    const piece = file.referenceCheck?.pieces.find((candidate) => candidate.serial === scan.serial) ?? null;
    const found = piece ? modelOf(piece, models) : findModel(scan.serial, models);
    if (found.kind === "refused") return { kind: "refused", reasons: [found.reason] };
    const { model } = found;
    const { limits } = model;
    const calibration = calibrations.get(limits.model) ?? NEVER_CALIBRATED;
    const isDraft = study !== undefined || (model.notApproved !== null && allowDrafts);
    const history = await store.history(scan.serial);
    const dispositions = piece ? [] : await store.dispositionsOf(scan.serial);
    const next = nextAttempt(scan.serial, history, piece ? ANY_NUMBER : limits.retest, {
      draft: isDraft,
      dispositions,
    });
    const isByRule = next.allowed && next.kind === "retest" && !next.isAfterHold && !isDraft && !piece;
    const reasons: Reason[] = [
      ...refuseLimits(model, today, allowDrafts),
      ...(study?.refuseLimits(limits) ?? []),
      ...refuseCalibration(inCalibration(file), today),
      ...this.#parts.room.refusals(now_ms),
      ...refuseUncalibrated(limits, calibration, file.knowledge.fixtureVolume_m3),
      ...(piece || isDraft ? [] : refuseReference(references.state(limits.model).due, file.referenceCheck)),
      ...(piece ? [] : [...refuseParts(scan.parts, limits), ...refuseChecks(scan, limits)]),
      ...(next.allowed ? [] : [{ code: next.code, sentence: next.sentence }]),
      ...(isByRule
        ? refuseRetest(scan, history, limits.retest, { now_ms, sinceAsked_s: this.#sinceAsked_s(history) })
        : []),
    ];
    if (!next.allowed || reasons.length > 0) return { kind: "refused", reasons };
    const choices = isByRule ? limits.retest.reasons : [];
    const retestReason = choices[(scan.retestReason ?? 0) - 1] ?? null;
    return {
      kind: "prepared",
      attempt: {
        serial: scan.serial,
        parts: piece ? {} : scan.parts,
        limits,
        number: next.attempt,
        kind: next.kind,
        ...(next.isAfterHold && !piece && !isDraft ? { isAfterHold: true as const } : {}),
        isDraft,
        ...(asked ? { study: asked.mark } : {}),
        approvedBy: model.approvedBy,
        who,
        missingParts: piece || study ? [] : missingParts(scan.parts, limits),
        retestReasons: retestReason === null ? choices : [],
        retestReason,
        calibration,
        reference: piece,
      },
    };
  }

  /**
   * Time has gone by since the scan, and other programs may have written: all of it is asked again, and what only shows now.
   * @throws RecordError; DriverError or Error when the fixture can't be read
   */
  async atStart(armed: PreparedAttempt): Promise<StartAnswer> {
    const { limits } = armed;
    const leak = limits.steps.find((step) => step.kind === "leak");
    const ventedWithin_Pa = leak?.kind === "leak" ? leak.ventedWithin_Pa : Number.POSITIVE_INFINITY;
    // After a stop in mid-test the fixture may still be emptying: that is no reason to send the inspector away.
    if (leak?.kind === "leak") await this.#waitUntilVented(ventedWithin_Pa, leak.ventLongest_s);
    const again = await this.identify(scanOf(armed), armed.who);
    if (again.kind === "refused") return again;
    const { attempt } = again;
    const { fixture, store, file } = this.#parts;
    const freeDisk_bytes = await store.freeBytes();
    const pressure_Pa = await fixture.read("leak_pressure");
    const stuck = fixture.startRefusal();
    const reasons = [
      ...(stuck ? [stuck] : []),
      ...refuseStart({
        isGuardClosed: fixture.isGuardClosed(),
        pressure_Pa,
        ventedWithin_Pa,
        freeDisk_bytes,
        leastFreeDisk_bytes: file.leastFreeDisk_bytes,
      }),
      ...refuseIncomplete(attempt),
    ];
    return reasons.length === 0 ? { kind: "start", attempt } : { kind: "not_yet", attempt, reasons };
  }

  #sinceAsked_s(history: readonly AttemptSummary[]): number {
    const failed = newestFail(history);
    if (!failed) return 0;
    const { serial, sequence } = failed;
    const now_s = this.#parts.clock.now_s();
    const known = this.#asked.get(serial);
    if (known?.fail === sequence) return now_s - known.at_s;
    this.#asked.set(serial, { fail: sequence, at_s: now_s });
    return 0;
  }

  /** Returns when vented, when the time is over or when the gauge fails; the reading that follows tells which. */
  #waitUntilVented(within_Pa: number, longest_s: number): Promise<void> {
    const { fixture, clock } = this.#parts;
    return new Promise((resolve) => {
      const timer = clock.setTimeout(() => {
        stop();
        resolve();
      }, longest_s * 1000);
      const stop = fixture.observe({ watch: "vented", within_Pa }, () => {
        clock.clearTimeout(timer);
        resolve();
      });
    });
  }
}

/** What would have to be scanned for this attempt. */
function scanOf({ serial, parts, retestReason, limits }: PreparedAttempt): Scan {
  const index = retestReason === null ? -1 : limits.retest.reasons.indexOf(retestReason);
  return { serial, parts, ...(index < 0 ? {} : { retestReason: index + 1 }) };
}

function modelOf(piece: ReferencePiece, models: readonly ModelInForce[]): ReturnType<typeof findModel> {
  const model = models.find(({ limits }) => limits.model === piece.model);
  if (model) return { kind: "found", model };
  return {
    kind: "refused",
    reason: {
      code: "UNKNOWN_SERIAL",
      sentence: `Reference piece ${piece.serial} belongs to model ${piece.model}, which has no limit file. Correct the station file.`,
    },
  };
}
