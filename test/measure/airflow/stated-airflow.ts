import type {
  AirflowConditions,
  GaugeUncertainty,
  MeanReading,
  PointMeans,
} from "../../../station/measure/airflow/airflow-evidence.ts";
import type { CurveFigure, FanCurve, Undetermined } from "../../../station/measure/airflow/fan-curve.ts";

/** A mean that is known exactly, or to some standard uncertainty. */
export const known = (mean: number, uncertainty = 0): MeanReading => ({ mean, uncertainty });

/** One point as a flow gauge reads it. */
export function gaugePoint(
  point: string,
  read: { flow_m3_s: MeanReading; suction_Pa: MeanReading; power_W?: number; voltage_V?: number },
): PointMeans {
  const { flow_m3_s, suction_Pa, power_W = 1000, voltage_V = 230 } = read;
  return {
    point,
    orifice: point,
    suction_Pa,
    flow_m3_s,
    drop_Pa: null,
    power_W: known(power_W),
    voltage_V: known(voltage_V),
  };
}

const EXACT: GaugeUncertainty = { absolute: 0, relative: 0 };

/** Exact gauges, air of about 1.20 kg/m3 known exactly, nothing corrected; what a test is about is stated by it. */
export function exactly(changes: Partial<AirflowConditions> = {}): AirflowConditions {
  return {
    room: {
      temperature_K: 293.15,
      temperatureUncertainty_K: 0,
      pressure_Pa: 101_325,
      pressureUncertainty_Pa: 0,
      relativeHumidity: 0.5,
      relativeHumidityUncertainty: 0,
    },
    channels: new Map(["suction", "flow", "flow_drop", "power", "voltage"].map((name) => [name, EXACT])),
    flowFrom: { kind: "gauge" },
    supplyVoltage_V: 230,
    correction: null,
    ...changes,
  };
}

/** The curve, where there must be one. */
export function curveOf(curve: FanCurve | Undetermined): FanCurve {
  if (curve.kind === "none") throw new Error(`No curve: ${curve.why}`);
  return curve;
}

/** The figure, where there must be one. */
export function told<Figure extends CurveFigure>(figure: Figure | Undetermined): Figure {
  if ("why" in figure) throw new Error(`No figure: ${figure.why}`);
  return figure;
}
