import { type BudgetLine, budgetOf } from "../fit/uncertainty.ts";
import { CIPM_RELATIVE_UNCERTAINTY, moistAir, type RoomAir, USUAL_CO2 } from "./moist-air.ts";

/** Standard uncertainties of what the air's density is calculated from. */
export interface RoomAirUncertainty {
  readonly temperature_K: number;
  readonly pressure_Pa: number;
  /** Of the fraction 0 to 1. */
  readonly relativeHumidity: number;
  readonly co2: number;
}

type Input = keyof RoomAirUncertainty;

const NAMES: Readonly<Record<Input, readonly [component: string, unit: string, step: number]>> = {
  temperature_K: ["temperature", "K", 0.01],
  pressure_Pa: ["pressure", "Pa", 10],
  relativeHumidity: ["humidity", "fraction", 0.001],
  co2: ["carbon dioxide", "fraction", 1e-5],
};

/**
 * What each input adds to the standard uncertainty of the air's density, and what the equation itself does; the inputs
 * are taken as uncorrelated, the sensitivities are differences of `moistAir`.
 * @returns one line an input, in kg/m3; `combinedUncertainty` of them is the density's
 * @throws RangeError as `moistAir` does
 * @example with 0.2 K, 50 Pa, 0.03 and 100e-6 of CO2 at 20 degC, 101325 Pa, 0.5: 0.00089, 0.00059, 0.00031, 0.00005 and
 *   0.00003 kg/m3, together 0.0011
 * @see JCGM 100:2008 (GUM), 5.1.3; Picard et al., Metrologia 45 (2008) 149-155
 */
export function airDensityBudget(air: RoomAir, uncertainty: RoomAirUncertainty): BudgetLine[] {
  const whole = { co2: USUAL_CO2, ...air };
  const density_kg_m3 = moistAir(whole).density_kg_m3;
  const inputs = (Object.keys(NAMES) as Input[]).map((key) => {
    const [component, unit] = NAMES[key];
    const sensitivity = slopeOf(whole, key);
    return { component, unit, estimate: whole[key], uncertainty: uncertainty[key], sensitivity };
  });
  const equation = {
    component: "CIPM-2007 equation",
    estimate: 1,
    uncertainty: CIPM_RELATIVE_UNCERTAINTY,
    unit: "fraction",
    sensitivity: density_kg_m3,
  };
  return budgetOf([...inputs, equation]);
}

function slopeOf(air: Required<RoomAir>, key: Input): number {
  const step = NAMES[key][2];
  // Humidity and CO2 have ends: there the difference is one-sided.
  const most = key === "relativeHumidity" ? 1 : Number.POSITIVE_INFINITY;
  const [below, above] = [Math.max(air[key] - step, 0), Math.min(air[key] + step, most)];
  const density = (value: number) => moistAir({ ...air, [key]: value }).density_kg_m3;
  return (density(above) - density(below)) / (above - below);
}
