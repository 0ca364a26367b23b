import { basename } from "node:path";
import { DIMENSION_OF } from "../limits/measurand.ts";
import type { Characteristic } from "../limits/model.ts";
import { toUnit } from "../limits/quantity.ts";
import { recordedAirflow } from "./airflow-record.ts";
import type { PreparedAttempt, ReferencePiece } from "./cycle/attempt.ts";
import type { CharacteristicResult } from "./cycle/characteristic-result.ts";
import type { AttemptResult } from "./cycle/judging.ts";
import type { PhaseRecord, UnitEvidence } from "./cycle/unit-context.ts";
import type { CurveSamples } from "./cycle/watchers.ts";
import type { HowMeasured } from "./measure/leak/leak-slope.ts";
import { type CurveSample, encodeCurve } from "./records/curve.ts";
import type { AttemptFacts, AttemptOutcome } from "./records/traveller.ts";
import type { StationFile } from "./station-file.ts";

/** What the record says of the station around the attempt. */
export interface RecordContext {
  readonly station: StationFile;
  readonly software: string;
  readonly identities: ReadonlyMap<string, string>;
  readonly referenceCheck: AttemptFacts["reference_check"];
}

/** @returns what is known before the attempt starts, as the open-attempt intent keeps it */
export function attemptFacts(
  attempt: PreparedAttempt,
  startedAt_ms: number,
  context: RecordContext,
): AttemptFacts {
  const { limits, reference, study } = attempt;
  return {
    kind: reference ? "reference" : "unit",
    serial: attempt.serial,
    model: limits.model,
    parts: { ...attempt.parts },
    attempt: { number: attempt.number, kind: attempt.kind },
    draft: attempt.isDraft,
    ...(study
      ? {
          study: {
            name: study.name,
            plan_sha256: study.planSha256,
            run: study.run,
            of: study.of,
            appraiser: study.appraiser,
            trial: study.trial,
          },
        }
      : {}),
    started_at: new Date(startedAt_ms).toISOString(),
    who: {
      inspector: attempt.who.name,
      sign_in: attempt.who.how,
      ...(attempt.who.role ? { role: attempt.who.role } : {}),
    },
    ...(attempt.retestReason === null ? {} : { retest_reason: attempt.retestReason }),
    station: {
      name: context.station.name,
      software: context.software,
      simulated: context.station.isSimulated,
    },
    limit_file: {
      path: basename(limits.source.path),
      model: limits.model,
      revision: limits.revision,
      sha256: limits.source.sha256,
      approved_by: attempt.approvedBy,
    },
    gauges: context.station.gauges.map((gauge) => ({
      name: gauge.name,
      profile: gauge.profile,
      identity: context.identities.get(gauge.name) ?? "",
      calibration_due: gauge.calibrationDue,
    })),
    reference_check: context.referenceCheck,
    calibrations: (["settle", "volume"] as const).flatMap((kind) => {
      const inForce = attempt.calibration[kind];
      return inForce ? [{ kind, file: inForce.file, date: inForce.date, sha256: inForce.sha256 }] : [];
    }),
    ...(reference ? { reference: certifiedPiece(reference) } : {}),
  };
}

function certifiedPiece(piece: ReferencePiece): NonNullable<AttemptFacts["reference"]> {
  const inUnit = (value_m3_s: number) =>
    asWritten(toUnit(value_m3_s, piece.orifice ? "flow" : "leakRate", piece.unit));
  return {
    piece: piece.serial,
    certified_value: inUnit(piece.certified_m3_s),
    tolerance: inUnit(piece.tolerance_m3_s),
    unit: piece.unit,
  };
}

/** @returns what the test found, in the limits' units */
export function attemptOutcome(
  attempt: PreparedAttempt,
  evidence: UnitEvidence,
  result: AttemptResult,
  ended: { readonly at_ms: number; readonly after_s: number },
  { flowCalibrations }: Pick<StationFile, "flowCalibrations">,
): AttemptOutcome {
  const characteristics = result.characteristics.map((one) => recordedCharacteristic(one, evidence));
  return {
    verdict: result.verdict,
    reasons: result.reasons.map(({ code, sentence }) => ({ code, sentence })),
    ended_at: new Date(ended.at_ms).toISOString(),
    duration_s: rounded(ended.after_s, 1e6),
    ambient: evidence.ambient && {
      temperature_K: evidence.ambient.temperature_K,
      pressure_Pa: evidence.ambient.pressure_Pa,
      relative_humidity: evidence.ambient.relativeHumidity,
      ...(evidence.ambient.entered ? { entered: evidence.ambient.entered } : {}),
    },
    characteristics,
    phases: evidence.phases.map((phase) => recordedPhase(phase, evidence)),
    ...(result.airflow.length > 0
      ? { airflow: result.airflow.map((step) => recordedAirflow(step, flowCalibrations)) }
      : {}),
    ...(result.suspects.length > 0 ? { suspects: result.suspects.map(recordedSuspect) } : {}),
    curves: evidence.leaks.flatMap((leak) =>
      (["settle", "measure", "gross"] as const).flatMap((phase) => {
        const curve = leak[phase];
        if (!curve) return [];
        return [{ step: leak.step, phase, channel: "leak_pressure", ...encodeCurve(inSI(curve), "mPa") }];
      }),
    ),
    ...(attempt.reference
      ? {
          reference: {
            measured: characteristics[0]?.value ?? null,
            conforms: result.verdict === "pass",
          },
        }
      : {}),
  };
}

function recordedSuspect({ cause, lookAt, evidence }: AttemptResult["suspects"][number]) {
  return { cause, look_at: lookAt, evidence };
}

function recordedPhase(
  { start_s, end_s, ...phase }: PhaseRecord,
  { leaks }: UnitEvidence,
): AttemptOutcome["phases"][number] {
  const fill = phase.phase === "fill" ? leaks.find((leak) => leak.step === phase.step)?.fill : undefined;
  return {
    ...phase,
    at_s: rounded(start_s, 1e6),
    seconds: rounded(end_s - start_s, 1e6),
    ...(fill
      ? {
          fill: {
            source_at_rest_Pa: fill.sourceAtRest_Pa,
            source_at_end_Pa: fill.source_Pa,
            pressure_at_end_Pa: fill.pressure_Pa,
          },
        }
      : {}),
  };
}

function limitInUnit(characteristic: Characteristic, limit_SI: number): number {
  return asWritten(inUnit(characteristic, limit_SI));
}

/** @returns a number as somebody wrote it: a conversion there and back leaves digits behind (28 % as 28.000000000000004) */
function asWritten(value: number): number {
  return Number(value.toPrecision(14));
}

/** @returns the characteristic's unit value of an SI value */
function inUnit(characteristic: Characteristic, value_SI: number): number {
  return toUnit(value_SI, DIMENSION_OF[characteristic.measurand], characteristic.unit);
}

function recordedCharacteristic(
  result: CharacteristicResult,
  evidence: UnitEvidence,
): AttemptOutcome["characteristics"][number] {
  const { characteristic } = result;
  const scaled = (value: number | null) => (value === null ? null : inUnit(characteristic, value));
  const uncertainty = scaled(result.uncertainty);
  return {
    name: characteristic.name,
    step: characteristic.step,
    ...(characteristic.point === undefined ? {} : { point: characteristic.point }),
    measurand: characteristic.measurand,
    value: scaled(result.value),
    unit: characteristic.unit,
    uncertainty,
    expanded_uncertainty: uncertainty === null ? null : 2 * uncertainty,
    ...(characteristic.lower === undefined
      ? {}
      : { lower: limitInUnit(characteristic, characteristic.lower) }),
    ...(characteristic.upper === undefined
      ? {}
      : { upper: limitInUnit(characteristic, characteristic.upper) }),
    ...(characteristic.ratedInput_W === undefined
      ? {}
      : { rated_input: limitInUnit(characteristic, characteristic.ratedInput_W) }),
    rule: characteristic.rule,
    conformance: result.conformance,
    verdict: result.verdict,
    ...(result.why === undefined ? {} : { why: result.why }),
    budget: result.budget.map((line) => ({
      component: line.component,
      estimate: line.estimate,
      value: line.uncertainty,
      unit: line.unit,
      sensitivity: inUnit(characteristic, line.sensitivity),
      contribution: inUnit(characteristic, line.contribution),
      share: line.share,
    })),
    ...(result.how ? { how: howMeasured(result.how, characteristic, evidence) } : {}),
  };
}

function howMeasured(
  how: HowMeasured,
  { step }: Characteristic,
  { leaks }: UnitEvidence,
): NonNullable<AttemptOutcome["characteristics"][number]["how"]> {
  const look = leaks.find((leak) => leak.step === step)?.look;
  if (!look) return how;
  const { decision } = look;
  return {
    ...how,
    looks: {
      taken: look.number,
      at_s: rounded(look.at_s, 1e6),
      early: look.early,
      ...(decision?.distance === undefined ? {} : { distance: decision.distance }),
      ...(decision?.boundary === undefined ? {} : { boundary: decision.boundary }),
      ...(decision?.riskSpent === undefined ? {} : { risk_spent: decision.riskSpent }),
    },
  };
}

function inSI(curve: CurveSamples): CurveSample[] {
  return curve.t_us.map((t_us, i) => ({ t_s: t_us / 1e6, value: (curve.pressure_mPa[i] as number) / 1000 }));
}

/** Clock arithmetic leaves digits behind the microsecond that mean nothing. */
function rounded(value: number, steps: number): number {
  return Math.round(value * steps) / steps;
}
