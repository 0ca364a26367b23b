import { basename, dirname, extname, join } from "node:path";
import { z } from "zod";
import { quantity } from "../limits/quantity-schema.ts";
import type { ChannelUncertainty } from "./cycle/characteristic-result.ts";
import type { StationChannel } from "./station-channels.ts";

/** Where the room's temperature, pressure and humidity come from. */
export type RoomSource =
  | { readonly kind: "instrument" }
  /** Somebody reads them and enters them into this file, and they hold so long. */
  | {
      readonly kind: "entered";
      readonly validFor_s: number;
      readonly path: string;
      readonly stationPath: string;
    };

const uncertain = (dimension: Parameters<typeof quantity>[0], zero: string) =>
  quantity(dimension, {
    above: zero,
    description: "standard uncertainty of what was entered, the room's changes meanwhile included",
  });

/** There is no default: every leak rate and every flow depends on it. */
export const ambientShape = z.union(
  [
    z.literal("instrument"),
    z.strictObject({
      entered: z.strictObject({
        valid_for: quantity("time", { above: "0 s", atMost: "24 h", examples: ["4 h"] }),
        temperature_uncertainty: uncertain("temperatureDifference", "0 K"),
        pressure_uncertainty: uncertain("pressure", "0 Pa"),
        humidity_uncertainty: uncertain("relativeHumidity", "0 %"),
      }),
    }),
  ],
  { error: () => '"instrument", or a mapping with entered' },
);

type AmbientKey = z.output<typeof ambientShape>;

/** Entered values lie beside the station file: those of line-2.yaml in line-2.ambient.json. */
export function roomSource(given: AmbientKey, stationPath: string): RoomSource {
  if (given === "instrument") return { kind: "instrument" };
  const name = `${basename(stationPath, extname(stationPath))}.ambient.json`;
  return {
    kind: "entered",
    validFor_s: given.entered.valid_for,
    path: join(dirname(stationPath), name),
    stationPath,
  };
}

/** Uncertainties of entered values, as of channels that no gauge has. */
export function enteredChannels(
  given: AmbientKey,
): readonly (readonly [StationChannel, ChannelUncertainty])[] {
  if (given === "instrument") return [];
  const { temperature_uncertainty, pressure_uncertainty, humidity_uncertainty } = given.entered;
  return [
    ["ambient_temperature", { absolute: temperature_uncertainty, relative: 0 }],
    ["ambient_pressure", { absolute: pressure_uncertainty, relative: 0 }],
    ["ambient_humidity", { absolute: humidity_uncertainty, relative: 0 }],
  ];
}
