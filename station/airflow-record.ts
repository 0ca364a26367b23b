import type { AirflowResult } from "./cycle/airflow-judging.ts";
import { STANDARD_DENSITY_kg_m3 } from "./measure/air/moist-air.ts";
import type { MeanReading, MeasuringOrifice } from "./measure/airflow/airflow-evidence.ts";
import type { CurveFigure, FanCurve, Undetermined } from "./measure/airflow/fan-curve.ts";
import type { TravellerAirflow } from "./records/traveller-airflow.ts";
import type { StationFile } from "./station-file.ts";

/** @returns an airflow step's results as a traveller keeps them, SI */
export function recordedAirflow(
  { step, conditions, points, performance }: AirflowResult,
  calibrations: StationFile["flowCalibrations"],
): TravellerAirflow {
  const { correction, supplyVoltage_V } = conditions;
  return {
    step: step.name,
    air: { density_kg_m3: result(performance.air.density_kg_m3) },
    stated_at: correction && {
      density_kg_m3: STANDARD_DENSITY_kg_m3,
      supply_voltage_V: supplyVoltage_V,
      speed_per_density: correction.speedPerDensity,
      speed_per_voltage: correction.speedPerVoltage,
      exponent_uncertainty: correction.exponentUncertainty,
    },
    flow_from: flowFrom(conditions.flowFrom, calibrations),
    points: performance.points.map((point, i) => recordedPoint(point, points[i])),
    curve: recordedCurve(performance.curve),
  };
}

function recordedPoint(
  point: AirflowResult["performance"]["points"][number],
  found: AirflowResult["points"][number] | undefined,
): TravellerAirflow["points"][number] {
  if (!found) throw new Error(`There are no readings of the point ${point.point}.`);
  const { means, samples } = found;
  return {
    point: point.point,
    orifice: means.orifice,
    samples,
    readings: {
      suction_Pa: reading(means.suction_Pa),
      power_W: reading(means.power_W),
      voltage_V: reading(means.voltage_V),
      ...(means.flow_m3_s ? { flow_m3_s: reading(means.flow_m3_s) } : {}),
      ...(means.drop_Pa ? { drop_Pa: reading(means.drop_Pa) } : {}),
    },
    suction_Pa: result(point.suction),
    flow_m3_s: result(point.flow),
    power_W: result(point.power),
    suction_power_W: result(point.suctionPower),
    efficiency: "kind" in point.efficiency ? null : result(point.efficiency),
  };
}

function recordedCurve(curve: FanCurve | Undetermined): TravellerAirflow["curve"] {
  if (curve.kind === "none") return { kind: "none", why: curve.why };
  const { suctionAtZeroFlow, flowAtZeroSuction, largestSuctionPower } = curve;
  return {
    kind: curve.kind,
    coefficients: [...curve.coefficients],
    suction_at_zero_flow_Pa: figure(suctionAtZeroFlow),
    flow_at_zero_suction_m3_s: figure(flowAtZeroSuction),
    largest_suction_power_W:
      "kind" in largestSuctionPower
        ? largestSuctionPower
        : { ...inside(largestSuctionPower), at_flow_m3_s: largestSuctionPower.flow_m3_s },
    tested: curve.tested.map((point) => ({
      point: point.point,
      flow_m3_s: point.flow_m3_s,
      suction_Pa: point.suction_Pa,
      uncertainty_Pa: point.suctionUncertainty_Pa,
      residual_Pa: point.residual_Pa,
      ...(point.normalised ? { normalised: point.normalised } : {}),
    })),
    fit_probability: curve.fits,
  };
}

function figure(value: CurveFigure | Undetermined) {
  return "kind" in value ? value : inside(value);
}

function inside(value: CurveFigure) {
  return { ...result(value), extrapolated: value.isExtrapolated };
}

function result({ value, uncertainty }: { readonly value: number; readonly uncertainty: number }) {
  return { value, uncertainty };
}

function reading({ mean, uncertainty }: MeanReading) {
  return { mean, scatter: uncertainty };
}

function flowFrom(
  from: AirflowResult["conditions"]["flowFrom"],
  calibrations: StationFile["flowCalibrations"],
): TravellerAirflow["flow_from"] {
  switch (from.kind) {
    case "gauge":
      return { kind: "gauge" };
    case "plenum":
      return {
        kind: "plenum_orifices",
        orifices: [...from.orifices].map(([orifice, opening]) => ({
          orifice,
          opening: opening && {
            ...recordedOpening(opening),
            calibrated: calibrations.get(orifice)?.calibrated ?? null,
          },
        })),
      };
    case "pipe": {
      const { plate } = from;
      return {
        kind: "plate_in_pipe",
        pipe_m: plate.pipe_m,
        pipe_uncertainty_m: plate.pipeUncertainty_m,
        bore_m: plate.bore_m,
        bore_uncertainty_m: plate.boreUncertainty_m,
        taps: plate.taps,
        coefficient: plate.coefficient && { ...plate.coefficient },
        calibrated: calibrations.get("plate_in_pipe")?.calibrated ?? null,
      };
    }
  }
}

function recordedOpening(opening: MeasuringOrifice) {
  return {
    bore_m: opening.bore_m,
    bore_uncertainty_m: opening.boreUncertainty_m,
    coefficient: opening.coefficient,
    coefficient_uncertainty: opening.coefficientUncertainty,
  };
}
