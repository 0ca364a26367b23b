import { findUnit } from "../../limits/quantity.ts";
import { UsageError } from "../explain.ts";
import { CHANNEL_DIMENSIONS, isStationChannel } from "../station-channels.ts";
import type { NamedChannel } from "./draft-profile.ts";

/**
 * Channels as the engineer gives them, in the order in which their numbers stand on the line.
 * @throws UsageError for a channel no station has, or a unit that is none of its quantity
 * @returns null for a number that is to be left alone, given as "-"
 * @example namedChannels("leak_pressure hPa, -")
 */
export function namedChannels(text: string): (NamedChannel | null)[] {
  return text.split(",").map((part) => {
    if (part.trim() === "-") return null;
    const [name = "", ...unitWords] = part.trim().split(/\s+/);
    if (!isStationChannel(name)) {
      throw new UsageError(
        `--channels: ${JSON.stringify(name)} is no channel of a station; there are: ${Object.keys(CHANNEL_DIMENSIONS).join(", ")}.`,
      );
    }
    const dimension = CHANNEL_DIMENSIONS[name];
    const unit = findUnit(unitWords.join(" "), dimension);
    if (!unit.ok) {
      throw new UsageError(
        `--channels: ${name} needs its unit, like "${name} ${EXAMPLES[dimension]}"; found ${unit.found}, expected ${unit.expected}.`,
      );
    }
    const quantity = dimension === "relativeHumidity" ? "relative_humidity" : dimension;
    return { name, quantity, unit: unit.value.symbol };
  });
}

const EXAMPLES = {
  pressure: "hPa",
  flow: "L/s",
  power: "W",
  voltage: "V",
  temperature: "degC",
  relativeHumidity: "%",
} as const;
