import { dimensionsOf, normaliseUnitText, type PlainDimension } from "../../limits/units.ts";

/** A unit found on a line, in the words of a profile. */
export interface UnitHint {
  /** As the profile spells it. */
  readonly unit: string;
  readonly quantity: ProfileQuantity;
}

/** Quantities a profile's channel may have, the likelier of those that share a unit first. */
const QUANTITIES = [
  ["pressure", "pressure"],
  ["flow", "flow"],
  ["temperature", "temperature"],
  ["power", "power"],
  ["voltage", "voltage"],
  ["relativeHumidity", "relative_humidity"],
  ["ratio", "ratio"],
  ["length", "length"],
] as const satisfies readonly (readonly [PlainDimension, string])[];

export type ProfileQuantity = (typeof QUANTITIES)[number][1];

/** Spellings that our own table does not have, and those written all in capitals; MPA may be mPa or MPa: not here. */
const OTHER_SPELLINGS: Readonly<Record<string, string>> = {
  C: "degC",
  F: "degF",
  RH: "%",
  "%RH": "%",
  PA: "Pa",
  HPA: "hPa",
  KPA: "kPa",
  MBAR: "mbar",
  BAR: "bar",
  PSI: "psi",
  TORR: "torr",
  MMHG: "mmHg",
  MMH2O: "mmH2O",
  INH2O: "inH2O",
  INHG: "inHg",
  "L/S": "L/s",
  "L/MIN": "L/min",
  LPM: "L/min",
  SLPM: "L/min",
  "M3/H": "m3/h",
  CFM: "cfm",
};

/**
 * The unit that a text on a line names, or null where it names none that a profile can have.
 * @example unitHint("HPA") // { unit: "hPa", quantity: "pressure" }
 */
export function unitHint(text: string): UnitHint | null {
  return known(text) ?? known(OTHER_SPELLINGS[text.toUpperCase()] ?? "");
}

function known(text: string): UnitHint | null {
  if (text === "") return null;
  const dimensions = dimensionsOf(normaliseUnitText(text));
  const found = QUANTITIES.find(([dimension]) => dimensions.includes(dimension));
  return found ? { unit: text, quantity: found[1] } : null;
}
