import type { Clock } from "../../drivers/ports.ts";
import type { AirflowState } from "../plant/airflow.ts";
import { INLET_PLATE, plateDrop_Pa } from "../plant/flow-plate.ts";
import { airDensity_kg_m3, virtualTemperature_K } from "../plant/gas.ts";
import type { HousingState } from "../plant/housing.ts";
import type { Room } from "../plant/room.ts";
import { randomStream } from "../random.ts";
import type { SimulatedInstrument } from "./plugged-instrument.ts";
import { type ScpiChannel, ScpiInstrument } from "./scpi.ts";
import { Sensor, type SensorTraits } from "./sensor.ts";
import { StreamPressureGauge } from "./stream-pressure.ts";

export interface InstrumentedPlant {
  readonly clock: Clock;
  readonly seed: number;
  /** Of the leak gauge; fifty where it is not said. */
  readonly leakLinesPer_s?: number;
  readonly room: Room;
  readonly housing: (t_s: number) => HousingState;
  readonly airflow: (t_s: number) => AirflowState;
}

// Sizes are common practice, no source: gauges of a tenth of a percent of reading or a little better.
export const LEAK_PRESSURE: SensorTraits = {
  white: 0.6,
  correlated: 0.25,
  correlationTau_s: 0.5,
  lag_s: 0.02,
  resolution: 0.05,
  zeroError: 1.5,
  slopeError: 0.0005,
};
const SOURCE_PRESSURE: SensorTraits = {
  white: 4,
  lag_s: 0.05,
  resolution: 1,
  zeroError: 10,
  slopeError: 0.001,
};
const SUCTION: SensorTraits = {
  white: 2,
  whiteRelative: 0.0012,
  lag_s: 0.1,
  resolution: 1,
  zeroError: 5,
  slopeError: 0.001,
};
const FLOW_L_s: SensorTraits = {
  white: 0.01,
  whiteRelative: 0.002,
  lag_s: 0.15,
  resolution: 0.005,
  zeroError: 0.02,
  slopeError: 0.0025,
};
const FLOW_DROP: SensorTraits = {
  white: 0.3,
  whiteRelative: 0.002,
  lag_s: 0.1,
  resolution: 0.1,
  zeroError: 0.5,
  slopeError: 0.001,
};
export const POWER: SensorTraits = {
  white: 0.2,
  whiteRelative: 0.001,
  lag_s: 0.1,
  resolution: 0.1,
  zeroError: 0.4,
  slopeError: 0.0005,
};
export const VOLTAGE: SensorTraits = {
  white: 0.03,
  correlated: 0.15,
  correlationTau_s: 2,
  lag_s: 0.05,
  resolution: 0.01,
  zeroError: 0.05,
  slopeError: 0.0003,
};
export const AIR_TEMPERATURE: SensorTraits = {
  white: 0.01,
  lag_s: 20,
  resolution: 0.01,
  zeroError: 0.15,
  slopeError: 0,
};
export const AIR_PRESSURE: SensorTraits = {
  white: 1.5,
  lag_s: 0.5,
  resolution: 1,
  zeroError: 15,
  slopeError: 0,
};
export const HUMIDITY: SensorTraits = {
  white: 0.05,
  lag_s: 10,
  resolution: 0.1,
  zeroError: 1,
  slopeError: 0,
};

/** The demo station's gauges, each on its own wire, by their names in the station file. */
export function demoInstruments(plant: InstrumentedPlant): SimulatedInstrument[] {
  const { clock, seed, room, housing, airflow } = plant;
  const leakPressure = new Sensor(LEAK_PRESSURE, randomStream(seed, "sensor leak_pressure"));
  const channel = channelsOf(seed);
  return [
    new StreamPressureGauge(
      { name: "leak_gauge", clock, seed },
      leakPressure,
      (t_s) => housing(t_s).pressure_Pa,
      plant.leakLinesPer_s,
    ),
    new ScpiInstrument({
      name: "source_gauge",
      clock,
      seed,
      kind: "PRESSURE",
      latency_s: 0.002,
      channels: [channel("PRESsure", SOURCE_PRESSURE, (t_s) => housing(t_s).source_Pa)],
    }),
    new ScpiInstrument({
      name: "airflow_gauge",
      clock,
      seed,
      kind: "AIRFLOW",
      latency_s: 0.002,
      channels: [
        channel("SUCTion", SUCTION, (t_s) => airflow(t_s).suction_Pa),
        channel("FLOW", FLOW_L_s, (t_s) => airflow(t_s).flow_m3_s * 1000),
      ],
    }),
    new ScpiInstrument({
      name: "power_meter",
      clock,
      seed,
      kind: "POWER",
      latency_s: 0.005,
      channels: [
        channel("POWer", POWER, (t_s) => airflow(t_s).power_W),
        channel("VOLTage", VOLTAGE, (t_s) => room.mains_V(t_s)),
      ],
    }),
    new ScpiInstrument({
      name: "ambient",
      clock,
      seed,
      kind: "AMBIENT",
      latency_s: 0.005,
      channels: [
        channel("TEMPerature", AIR_TEMPERATURE, (t_s) => room.temperature_K(t_s) - 273.15),
        channel("PRESsure", AIR_PRESSURE, (t_s) => room.pressure_Pa(t_s)),
        channel("HUMidity", HUMIDITY, (t_s) => room.relativeHumidity(t_s) * 100),
      ],
    }),
  ];
}

/** For stations without a flow gauge: the drop over the plate in the fixture's inlet pipe, which the demo station leaves alone. */
export function flowPlateGauge({ clock, seed, room, airflow }: InstrumentedPlant): SimulatedInstrument {
  const drop_Pa = (t_s: number) => {
    const pressure_Pa = room.pressure_Pa(t_s);
    const temperature_K = room.temperature_K(t_s);
    const virtual_K = virtualTemperature_K(temperature_K, pressure_Pa, room.relativeHumidity(t_s));
    const density_kg_m3 = airDensity_kg_m3(pressure_Pa, virtual_K);
    const massFlow_kg_s = airflow(t_s).flow_m3_s * density_kg_m3;
    return plateDrop_Pa(INLET_PLATE, massFlow_kg_s, { pressure_Pa, density_kg_m3, temperature_K });
  };
  return new ScpiInstrument({
    name: "flow_plate",
    clock,
    seed,
    kind: "FLOW-DROP",
    latency_s: 0.002,
    channels: [channelsOf(seed)("DROP", FLOW_DROP, drop_Pa)],
  });
}

/** Makes channels, each with a sensor of its own that is wrong in its own way. */
export function channelsOf(
  seed: number,
): (node: string, traits: SensorTraits, truth: (t_s: number) => number) => ScpiChannel {
  return (node, traits, truth) => {
    const sensor = new Sensor(traits, randomStream(seed, `sensor ${node}`));
    return { node, read: (t_s) => sensor.read(t_s, truth(t_s)) };
  };
}
