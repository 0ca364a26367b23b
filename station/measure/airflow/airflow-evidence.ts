import type { PressureTaps } from "../gas/iso-5167.ts";
import type { SpeedResponse } from "./standard-conditions.ts";

/** Mean of a channel at a point, and its standard uncertainty from scatter (type A). */
export interface MeanReading {
  readonly mean: number;
  readonly uncertainty: number;
}

/** What was read at one point of an airflow step. */
export interface PointMeans {
  readonly point: string;
  readonly orifice: string;
  /** Below ambient. */
  readonly suction_Pa: MeanReading;
  readonly power_W: MeanReading;
  readonly voltage_V: MeanReading;
  /** Of a flow gauge, at the density of the room. */
  readonly flow_m3_s: MeanReading | null;
  /** Over the plate in the pipe. */
  readonly drop_Pa: MeanReading | null;
}

/** An orifice that the measuring plenum draws through. Uncertainties are standard and absolute. */
export interface MeasuringOrifice {
  readonly bore_m: number;
  /** Counts where the coefficient was not calibrated: a calibration compares the flow with that of the bore as stated. */
  readonly boreUncertainty_m: number;
  readonly coefficient: number;
  readonly coefficientUncertainty: number;
  readonly isCalibrated: boolean;
}

/** An orifice plate in the pipe that leads the room's air to the inlet. Uncertainties are standard and absolute. */
export interface PipePlate {
  readonly pipe_m: number;
  readonly pipeUncertainty_m: number;
  readonly bore_m: number;
  readonly boreUncertainty_m: number;
  readonly taps: PressureTaps;
  /** From a calibration; null is the one of ISO 5167-2, with its uncertainty. */
  readonly coefficient: { readonly value: number; readonly uncertainty: number } | null;
}

/**
 * Where the flow comes from. Through a closed inlet exactly nothing flows: a null among the orifices, a name in `closed`. A
 * plate needs to be told: its flow goes as the root of its drop, so that a gauge's zero would pass for a flow.
 */
export type FlowFrom =
  | { readonly kind: "gauge" }
  | { readonly kind: "plenum"; readonly orifices: ReadonlyMap<string, MeasuringOrifice | null> }
  | { readonly kind: "pipe"; readonly plate: PipePlate; readonly closed: ReadonlySet<string> };

/** The room's air with standard uncertainties. */
export interface MeasuredRoom {
  readonly temperature_K: number;
  readonly temperatureUncertainty_K: number;
  readonly pressure_Pa: number;
  readonly pressureUncertainty_Pa: number;
  /** 0 to 1. */
  readonly relativeHumidity: number;
  readonly relativeHumidityUncertainty: number;
}

/** Standard uncertainties of a channel from its calibration. */
export interface GaugeUncertainty {
  /** In the channel's SI unit. */
  readonly absolute: number;
  /** Part of the reading. */
  readonly relative: number;
}

export type AirflowChannel = "suction" | "flow" | "flow_drop" | "power" | "voltage";

export interface AirflowConditions {
  readonly room: MeasuredRoom;
  /** Of the channels in use, by name. */
  readonly channels: ReadonlyMap<string, GaugeUncertainty>;
  readonly flowFrom: FlowFrom;
  /** Voltage that results are stated at. */
  readonly supplyVoltage_V: number;
  /** Null: results are stated as measured. `exponentUncertainty` is standard, of either exponent. */
  readonly correction: (SpeedResponse & { readonly exponentUncertainty: number }) | null;
}
