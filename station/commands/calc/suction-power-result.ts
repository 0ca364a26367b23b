import { toUnit } from "../../../limits/quantity.ts";
import { UsageError } from "../../explain.ts";
import { type Answer, sixDigits } from "./print-result.ts";
import { readAboveZero, readBelowRoom } from "./quantity-option.ts";

/** What was given, as texts, by the names of the options. */
interface SuctionPowerTexts {
  readonly flow: string;
  readonly suction: string;
  readonly inputPower?: string;
}

/** W per cfm and inch of water, by whose inch it is. */
const CONVENTIONS = [
  { name: "ASTM F558, inch at 68 degF", W_per_cfm_inH2O: 0.117354 },
  {
    name: "conventional inch",
    W_per_cfm_inH2O: 1 / (toUnit(1, "flow", "cfm") * toUnit(1, "pressure", "inH2O")),
  },
  { name: "rounded, 1/8.5", W_per_cfm_inH2O: 1 / 8.5 },
] as const;

/**
 * Suction power and efficiency, for programs and for people.
 * @throws UsageError, one sentence, where they are no possible quantities
 */
export function suctionPowerResult(given: SuctionPowerTexts): Answer {
  const flow_m3_s = readAboveZero("--flow", given.flow, "flow");
  const suction_Pa = readBelowRoom("--suction", given.suction);
  const power_W = flow_m3_s * suction_Pa;
  const efficiency = given.inputPower === undefined ? null : efficiencyOf(power_W, given.inputPower);
  const flow_cfm = toUnit(flow_m3_s, "flow", "cfm");
  const suction_inH2O = toUnit(suction_Pa, "pressure", "inH2O");
  const conventions = CONVENTIONS.map((convention) => ({
    ...convention,
    value: flow_cfm * suction_inH2O * convention.W_per_cfm_inH2O,
    unit: "W",
  }));
  return {
    fields: {
      value: power_W,
      unit: "W",
      formula: "q h",
      flow: { value: flow_m3_s * 1000, unit: "L/s" },
      suction: { value: suction_Pa / 1000, unit: "kPa", kind: "below the room's pressure" },
      ...(efficiency === null ? {} : { efficiency: { value: efficiency * 100, unit: "%" } }),
      inches: {
        flow: { value: flow_cfm, unit: "cfm" },
        suction: { value: suction_inH2O, unit: "inH2O" },
        conventions,
      },
    },
    lines: [
      `Suction power: ${sixDigits(power_W)} W, as measured (no correction to standard density and voltage)`,
      `  ${sixDigits(flow_m3_s * 1000)} L/s at ${sixDigits(suction_Pa / 1000)} kPa below the room's pressure`,
      ...(efficiency === null ? [] : [`  efficiency ${sixDigits(efficiency * 100)} %`]),
      `Whose inch of water a figure in inches means changes it; ${sixDigits(flow_cfm)} cfm times ${sixDigits(suction_inH2O)} inches is`,
      ...conventions.map(
        ({ name, W_per_cfm_inH2O, value }) =>
          `  ${sixDigits(value).padStart(9)} W   ${W_per_cfm_inH2O.toFixed(6)} W per cfm and inch, ${name}`,
      ),
    ],
  };
}

function efficiencyOf(power_W: number, text: string): number {
  const efficiency = power_W / readAboveZero("--input-power", text, "power");
  if (efficiency <= 1) return efficiency;
  throw new UsageError(
    `--input-power: ${sixDigits(power_W)} W of suction power can't come out of ${text}; check flow, suction and their units.`,
  );
}
