import { z } from "zod";
import { quantity } from "../limits/quantity-schema.ts";
import type { FlowFrom, MeasuringOrifice } from "./measure/airflow/airflow-evidence.ts";

/**
 * Coefficient of a plain sharp-edged orifice that nobody has calibrated, and its standard uncertainty: handbooks give 0.60
 * to 0.62, ASTM F558's orifices from half an inch 0.587 to 0.617 with our expansibility (both from memory); the uncertainty
 * covers how sharp an edge is and how the air comes to it.
 */
const HOUSE_COEFFICIENT = { value: 0.6, uncertainty: 0.012 };

/** A coefficient from a calibration: when, and the last day on which it may be used (ISO 8601). */
export interface FlowCalibration {
  readonly calibrated: string;
  readonly calibrationDue: string;
}

/** A number in a range, complained of once whatever is wrong with it. */
function number(words: string, isIn: (value: number) => boolean) {
  return z.number({ error: () => words }).refine(isIn, { error: () => words });
}

const date = z.iso.date("a date like 2027-01-31");
const bore = quantity("length", { above: "0 mm", examples: ["16.5 mm"] });
const uncertainty = quantity("length", { atLeast: "0 mm", examples: ["0.01 mm"] });

const calibration = {
  coefficient: number("a number from 0.4 to 1, like 0.62", (value) => value >= 0.4 && value <= 1).optional(),
  coefficient_uncertainty: number(
    "the coefficient's standard uncertainty, a number above 0 and at most 0.1, like 0.003",
    (value) => value > 0 && value <= 0.1,
  ).optional(),
  calibrated: date.optional(),
  calibration_due: date.optional(),
};

const orifice = z.strictObject({
  output: z.string().min(1).nullable(),
  bore: bore.optional(),
  bore_uncertainty: uncertainty.optional(),
  ...calibration,
});

const plate = z.strictObject({
  pipe: bore,
  pipe_uncertainty: uncertainty,
  bore,
  bore_uncertainty: uncertainty,
  taps: z.enum(["corner", "flange", "d-d2"]),
  ...calibration,
});

/** What the inlet of a unit sees, by name. */
export const orificesShape = z.record(z.string(), orifice);

/** Where the flow through a unit comes from. There is no default: every airflow result depends on it. */
export const flowFromShape = z.union(
  [z.enum(["gauge", "plenum_orifices"]), z.strictObject({ plate_in_pipe: plate })],
  { error: () => '"gauge", "plenum_orifices", or a mapping with plate_in_pipe' },
);

type Orifices = z.output<typeof orificesShape>;

/** @param orifices, from that do not contradict each other (station-flow-checks.ts) */
export function flowFromOf(orifices: Orifices, from: z.output<typeof flowFromShape>): FlowFrom {
  if (from === "gauge") return { kind: "gauge" };
  if (from === "plenum_orifices") {
    const openings = Object.entries(orifices).map(([name, it]) => [name, measuringOrifice(it)] as const);
    return { kind: "plenum", orifices: new Map(openings) };
  }
  const { pipe, pipe_uncertainty, bore: bore_m, bore_uncertainty, taps, coefficient } = from.plate_in_pipe;
  const { coefficient_uncertainty } = from.plate_in_pipe;
  const closed = Object.entries(orifices).flatMap(([name, { output }]) => (output === null ? [name] : []));
  return {
    kind: "pipe",
    closed: new Set(closed),
    plate: {
      pipe_m: pipe,
      pipeUncertainty_m: pipe_uncertainty,
      bore_m,
      boreUncertainty_m: bore_uncertainty,
      taps,
      coefficient:
        coefficient === undefined || coefficient_uncertainty === undefined
          ? null
          : { value: coefficient, uncertainty: coefficient_uncertainty },
    },
  };
}

/** @returns what each orifice lets air through; null for a closed inlet, and none where its bore is not said */
export function openingsOf(orifices: Orifices): ReadonlyMap<string, MeasuringOrifice | null> {
  return new Map(
    Object.entries(orifices).flatMap(([name, it]) => {
      const opening = measuringOrifice(it);
      return opening || it.output === null ? [[name, opening] as const] : [];
    }),
  );
}

function measuringOrifice(given: Orifices[string]): MeasuringOrifice | null {
  const { output, bore: bore_m, bore_uncertainty, coefficient, coefficient_uncertainty } = given;
  if (output === null || bore_m === undefined || bore_uncertainty === undefined) return null;
  const isCalibrated = coefficient !== undefined && coefficient_uncertainty !== undefined;
  return {
    bore_m,
    boreUncertainty_m: bore_uncertainty,
    coefficient: isCalibrated ? coefficient : HOUSE_COEFFICIENT.value,
    coefficientUncertainty: isCalibrated ? coefficient_uncertainty : HOUSE_COEFFICIENT.uncertainty,
    isCalibrated,
  };
}

/** @returns the calibrations that the flow rests on: of orifices by their names, of the plate in the pipe as "plate_in_pipe" */
export function flowCalibrations(
  orifices: Orifices,
  from: z.output<typeof flowFromShape>,
): ReadonlyMap<string, FlowCalibration> {
  if (from === "gauge") return new Map();
  const calibrated = from === "plenum_orifices" ? orifices : from;
  return new Map(
    Object.entries(calibrated).flatMap(([name, { calibrated: day, calibration_due }]) =>
      day === undefined || calibration_due === undefined
        ? []
        : [[name, { calibrated: day, calibrationDue: calibration_due }] as const],
    ),
  );
}
