import type { Dimension } from "../limits/quantity.ts";

/** Channels of a station, whatever the instruments behind them are called, and what each delivers. */
export const CHANNEL_DIMENSIONS = {
  leak_pressure: "pressure",
  source_pressure: "pressure",
  suction: "pressure",
  flow: "flow",
  flow_drop: "pressure",
  power: "power",
  voltage: "voltage",
  ambient_temperature: "temperature",
  ambient_pressure: "pressure",
  ambient_humidity: "relativeHumidity",
} as const satisfies Readonly<Record<string, Dimension>>;

export type StationChannel = keyof typeof CHANNEL_DIMENSIONS;

export function isStationChannel(name: string): name is StationChannel {
  return Object.hasOwn(CHANNEL_DIMENSIONS, name);
}

export const STATION_CHANNELS: readonly StationChannel[] =
  Object.keys(CHANNEL_DIMENSIONS).filter(isStationChannel);
