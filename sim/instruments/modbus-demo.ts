import { randomStream } from "../random.ts";
import type { AsciiIoBlock } from "./ascii-io.ts";
import {
  AIR_PRESSURE,
  AIR_TEMPERATURE,
  channelsOf,
  HUMIDITY,
  type InstrumentedPlant,
  LEAK_PRESSURE,
  POWER,
  VOLTAGE,
} from "./demo-instruments.ts";
import { ModbusAmbient, ModbusPower, ModbusPressure } from "./modbus-gauges.ts";
import { ModbusIo } from "./modbus-io.ts";
import type { SimulatedInstrument } from "./plugged-instrument.ts";
import { Sensor } from "./sensor.ts";

export type ModbusFraming = "rtu" | "tcp";

/** The demo station's instruments that can be had with registers, too. */
export const MODBUS_INSTRUMENTS = ["leak_gauge", "power_meter", "ambient", "io_block"] as const;

/** How their frames travel, as their profiles say. */
export const MODBUS_FRAMINGS: ReadonlyMap<ModbusInstrumentName, ModbusFraming> = new Map([
  ["leak_gauge", "rtu"],
  ["power_meter", "rtu"],
  ["ambient", "rtu"],
  ["io_block", "tcp"],
]);
export type ModbusInstrumentName = (typeof MODBUS_INSTRUMENTS)[number];

/**
 * The same instrument with registers in place of lines: the same sensor, wrong in the same way.
 * @param block whose outputs and inputs the I/O block's coils stand for
 */
export function modbusInstrument(
  name: ModbusInstrumentName,
  framing: ModbusFraming,
  { clock, seed, room, housing, airflow }: InstrumentedPlant,
  block: AsciiIoBlock,
): SimulatedInstrument {
  const common = { name, clock, seed, framing };
  const channel = channelsOf(seed);
  switch (name) {
    case "leak_gauge": {
      const sensor = new Sensor(LEAK_PRESSURE, randomStream(seed, "sensor leak_pressure"));
      return new ModbusPressure({ ...common, unitId: 1, latency_s: 0.002 }, (t_s) =>
        sensor.read(t_s, housing(t_s).pressure_Pa),
      );
    }
    case "power_meter": {
      const power = channel("POWer", POWER, (t_s) => airflow(t_s).power_W);
      const voltage = channel("VOLTage", VOLTAGE, (t_s) => room.mains_V(t_s));
      return new ModbusPower({ ...common, unitId: 3, latency_s: 0.005 }, power.read, voltage.read);
    }
    case "ambient":
      return new ModbusAmbient(
        { ...common, unitId: 7, latency_s: 0.005 },
        {
          temperature_C: channel("TEMPerature", AIR_TEMPERATURE, (t_s) => room.temperature_K(t_s) - 273.15)
            .read,
          pressure_Pa: channel("PRESsure", AIR_PRESSURE, (t_s) => room.pressure_Pa(t_s)).read,
          humidity_pct: channel("HUMidity", HUMIDITY, (t_s) => room.relativeHumidity(t_s) * 100).read,
        },
      );
    case "io_block":
      return new ModbusIo({ ...common, unitId: 1, latency_s: 0.001 }, block);
  }
}
