import type { Profile } from "../../drivers/profile.ts";
import { fromSI } from "../../limits/units.ts";

/** A channel in the unit of its profile. */
export interface ShownChannel {
  readonly name: string;
  readonly unit: string;
  /** @param value_SI as readings are */
  shown(value_SI: number): number;
  /** Differences have no zero of their own: 1 K is 1 degC. */
  shownDifference(difference_SI: number): number;
}

/** The channels of a gauge's profile, for people; none for an I/O block. */
export function shownChannels(profile: Profile): ShownChannel[] {
  if (!("channels" in profile)) return [];
  return profile.channels.map(({ name, unit }) => ({
    name,
    unit: unit.symbol,
    shown: (value_SI) => fromSI(value_SI, unit),
    shownDifference: (difference_SI) => (difference_SI * unit.denominator) / unit.numerator,
  }));
}
