import { nearest } from "./nearest.ts";

/** Kinds of quantity the program knows, each with one SI unit inside. */
export type Dimension =
  | "pressure" // Pa
  | "leakRate" // m3/s of gas at the house reference conditions
  | "flow" // m3/s, the volume that passes at the conditions of the place
  | "temperature" // K, a point on the scale
  | "temperatureDifference" // K
  | "power" // W
  | "time" // s
  | "volume" // m3
  | "length" // m
  | "relativeHumidity" // fraction
  | "voltage" // V
  | "ratio"; // fraction

export type PlainDimension = Exclude<Dimension, "leakRate">;

/** SI value = (value + zero) * numerator / denominator; whole numbers where possible, so that 60 mL/min is 1e-6 m3/s. */
export interface Unit {
  /** The spelling the program prints. */
  readonly symbol: string;
  readonly numerator: number;
  readonly denominator: number;
  /** Where the unit's zero lies above absolute zero, in the unit itself; 0 except for degC and degF. */
  readonly zero: number;
}

/** @returns the SI value of a number in this unit */
export function toSI(value: number, unit: Unit): number {
  return ((value + unit.zero) * unit.numerator) / unit.denominator;
}

/** @returns the number in this unit of an SI value */
export function fromSI(value_SI: number, unit: Unit): number {
  return (value_SI * unit.denominator) / unit.numerator - unit.zero;
}

// Exact by definition (NIST SP 811:2008, app. B): inch, pound, standard acceleration; the gallons in litres.
const LB_KG = 0.45359237;
const G_N = 9.80665;
const IN_M = [254, 10_000] as const;
const IN3 = 16_387_064;
const PER_IN3 = 1e12;

// Water columns are a convention, not a unit: the temperature belongs to the name. Conventional water has
// 1000 kg/m3, conventional mercury 13595.1 kg/m3 (SP 811 B.8). 999.972, 999.016 (SP 811's 4 degC and 60 degF
// columns) and 998.2067 kg/m3 (20 degC, CIPM water table) from memory of those tables.
const WATER = { "": 1000, "@4degC": 999.972, "@60degF": 999.016, "@20degC": 998.2067 } as const;
const MERCURY = { "": 13_595.1, "@0degC": 13_595.08 } as const;

type Row = readonly [spellings: string, numerator: number, denominator: number, zero?: number];

// First spelling is printed. Case counts: mPa is not MPa.
const ROWS: Readonly<Record<Exclude<PlainDimension, "flow">, readonly Row[]>> = {
  pressure: [
    ["Pa N/m2", 1, 1],
    ["mPa", 1, 1000],
    ["daPa", 10, 1],
    ["hPa", 100, 1],
    ["kPa", 1000, 1],
    ["MPa N/mm2", 1_000_000, 1],
    ["GPa", 1_000_000_000, 1],
    ["ubar dyn/cm2", 1, 10],
    ["mbar", 100, 1],
    ["bar", 100_000, 1],
    ["atm", 101_325, 1],
    ["torr Torr", 101_325, 760],
    ["mTorr mtorr", 101_325, 760_000],
    ["psi lbf/in2", LB_KG * G_N * IN_M[1] * IN_M[1], IN_M[0] * IN_M[0]],
    ["psf lbf/ft2", LB_KG * G_N * IN_M[1] * IN_M[1], 144 * IN_M[0] * IN_M[0]],
    ["kgf/cm2", 980_665, 10],
    ...columns(["H2O", "WC", "WG"], WATER),
    ...columns(["Hg"], MERCURY),
  ],
  temperature: [
    ["degC deg.C", 1, 1, 273.15],
    ["degF deg.F", 5, 9, 459.67],
    ["K", 1, 1],
  ],
  temperatureDifference: [
    ["K degC deg.C", 1, 1],
    ["mK", 1, 1000],
    ["degF deg.F", 5, 9],
  ],
  power: [
    ["W", 1, 1],
    ["mW", 1, 1000],
    ["kW", 1000, 1],
    ["hp", 550 * LB_KG * G_N * 12 * IN_M[0], IN_M[1]],
  ],
  time: [
    ["s sec", 1, 1],
    ["ms", 1, 1000],
    ["us", 1, 1_000_000],
    ["min", 60, 1],
    ["h hr", 3600, 1],
    ["d", 86_400, 1],
  ],
  volume: [
    ["m3 cbm", 1, 1],
    ["L l dm3", 1, 1000],
    ["mL ml cm3 cc ccm", 1, 1_000_000],
    ["uL ul mm3", 1, 1_000_000_000],
    ["ft3 cu.ft", 1728 * IN3, PER_IN3],
    ["in3 cu.in", IN3, PER_IN3],
    ["gal US.gal USgal", 231 * IN3, PER_IN3],
    ["UK.gal UKgal imp.gal impgal", 454_609, 100_000_000],
  ],
  length: [
    ["m", 1, 1],
    ["cm", 1, 100],
    ["mm", 1, 1000],
    ["um", 1, 1_000_000],
    ["in", ...IN_M],
    ["ft", 12 * IN_M[0], IN_M[1]],
  ],
  relativeHumidity: [
    ["% %RH %.RH", 1, 100],
    ["fraction", 1, 1],
  ],
  voltage: [
    ["V", 1, 1],
    ["mV", 1, 1000],
    ["uV", 1, 1_000_000],
    ["kV", 1000, 1],
  ],
  ratio: [
    ["%", 1, 100],
    ["ppm", 1, 1_000_000],
    ["fraction", 1, 1],
  ],
};

/** @param names of the column, the printed one first: water column and water gauge are columns of H2O */
function columns(names: readonly string[], density_kg_m3: Readonly<Record<string, number>>): Row[] {
  return Object.entries(density_kg_m3).flatMap(([at, density]): Row[] => {
    const spelt = (length: string) =>
      names.flatMap((name) => [`${length}${name}${at}`, `${length}.${name}${at}`]).join(" ");
    return [
      [spelt("mm"), density * G_N, 1000],
      [spelt("cm"), density * G_N, 100],
      [spelt("in"), density * G_N * IN_M[0], IN_M[1]],
      [spelt("ft"), density * G_N * 12 * IN_M[0], IN_M[1]],
    ];
  });
}

const COLUMN = /^((?:mm|cm|in|ft)\.?(?:H2O|WC|WG|Hg))@/;

/**
 * The columns there are of the liquid of one at a temperature that is not known.
 * @example columnsLike("inH2O@50degC") // ["inH2O", "inH2O@4degC", "inH2O@60degF", "inH2O@20degC"]
 */
export function columnsLike(text: string): readonly string[] {
  const column = COLUMN.exec(text)?.[1];
  if (column === undefined) return [];
  return Object.keys(column.endsWith("Hg") ? MERCURY : WATER).map((at) => `${column.replace(".", " ")}${at}`);
}

const FLOW_NAMES: Readonly<Record<string, string>> = {
  cfm: "ft3/min",
  CFM: "ft3/min",
  cfh: "ft3/h",
  CFH: "ft3/h",
  gpm: "gal/min",
  GPM: "gal/min",
  lpm: "L/min",
  LPM: "L/min",
};

/** What to offer when a unit is not known; also the examples of the docs. */
export const COMMON_UNITS: Readonly<Record<"flow" | "leakRate", readonly string[]>> = {
  flow: ["L/s", "L/min", "mL/min", "m3/h", "m3/min", "m3/s", "cm3/min", "ft3/min", "cfm", "gal/min"],
  leakRate: ["mL/min", "cm3/min", "L/min", "sccm", "Pa.m3/s", "mbar.L/s", "kPa.L/s", "mol/s", "m3/s"],
};

let tables: ReadonlyMap<PlainDimension, ReadonlyMap<string, Unit>> | undefined;

function table(dimension: Exclude<PlainDimension, "flow">): ReadonlyMap<string, Unit> {
  tables ??= new Map(
    Object.entries(ROWS).map(([key, rows]) => [
      key as Exclude<PlainDimension, "flow">,
      new Map(
        rows.flatMap(([spellings, numerator, denominator, zero = 0]) => {
          const names = spellings.split(" ");
          const unit: Unit = { symbol: (names[0] ?? "").replace(".", " "), numerator, denominator, zero };
          return names.map((name) => [name, unit] as const);
        }),
      ),
    ]),
  );
  return tables.get(dimension) ?? new Map();
}

/** Brings the usual spellings of products, powers and degrees to one: "Pa·m³ / s" and "Pa m3/s" are "Pa.m3/s". */
export function normaliseUnitText(text: string): string {
  return text
    .normalize("NFKC") // superscripts, the one-character degC, the two kinds of micro sign
    .replace(/[°º]/g, "deg")
    .replace(/μ/g, "u")
    .replace(/\^/g, "")
    .replace(/\s*[·⋅∙*×]\s*/g, ".")
    .replace(/\s*\/\s*/g, "/")
    .replace(/\s*@\s*/g, "@")
    .trim()
    .replace(/(@[+-]?[\d.]+)\s+/g, "$1")
    .replace(/\s+/g, ".")
    .replace(/\.(s|min|h)-1(?=@|$)/, "/$1");
}

/**
 * The unit a normalised text names, or undefined.
 * @param text as normaliseUnitText leaves it
 */
export function plainUnit(text: string, dimension: PlainDimension): Unit | undefined {
  if (dimension !== "flow") return table(dimension).get(text.replace(/@68degF$/, "@20degC"));
  const named = Object.hasOwn(FLOW_NAMES, text) ? FLOW_NAMES[text] : undefined;
  const parts = (named ?? text).split("/");
  if (parts.length !== 2) return undefined;
  const volume = table("volume").get(parts[0] ?? "");
  const time = table("time").get(parts[1] ?? "");
  if (!volume || !time) return undefined;
  return quotient(volume, time, named && text.toLowerCase() === "cfm" ? "cfm" : undefined);
}

/** Pressure times volume per time, as leak rates are often given. */
export function throughputUnit(text: string): Unit | undefined {
  const slash = text.lastIndexOf("/");
  const dot = text.indexOf(".");
  if (slash < 0 || dot < 0 || dot > slash) return undefined;
  const pressure = table("pressure").get(text.slice(0, dot));
  const flow = plainUnit(text.slice(dot + 1), "flow");
  if (!pressure || !flow) return undefined;
  return {
    symbol: `${pressure.symbol}.${flow.symbol}`,
    numerator: pressure.numerator * flow.numerator,
    denominator: pressure.denominator * flow.denominator,
    zero: 0,
  };
}

function quotient(above: Unit, below: Unit, symbol = `${above.symbol}/${below.symbol}`): Unit {
  return {
    symbol,
    numerator: above.numerator * below.denominator,
    denominator: above.denominator * below.numerator,
    zero: 0,
  };
}

/** The known unit a mistyped one most likely meant. */
export function nearestUnit(text: string, dimension: Dimension): string | undefined {
  const known =
    dimension === "flow" || dimension === "leakRate" ? COMMON_UNITS[dimension] : [...table(dimension).keys()];
  return nearest(text, known);
}

/** The unit of any kind that a mistyped one most likely meant. */
export function nearestUnitOfAll(text: string): string | undefined {
  return nearest(text, [
    ...tabulated().flatMap((dimension) => [...table(dimension).keys()]),
    ...COMMON_UNITS.flow,
    ...COMMON_UNITS.leakRate,
  ]);
}

/** The kinds of quantity this text is a unit of, leak rates aside. */
export function dimensionsOf(text: string): PlainDimension[] {
  const all: PlainDimension[] = [...tabulated(), "flow"];
  return all.filter((dimension) => plainUnit(text, dimension) !== undefined);
}

function tabulated(): Exclude<PlainDimension, "flow">[] {
  return Object.keys(ROWS) as Exclude<PlainDimension, "flow">[];
}
