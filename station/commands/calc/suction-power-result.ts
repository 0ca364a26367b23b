import { splitQuantity, toUnit } from "../../../limits/quantity.ts";
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
function wattsPerInch() {
  const conventional = 1 / (toUnit(1, "flow", "cfm") * toUnit(1, "pressure", "inH2O"));
  return [
    { name: "ASTM F558, inch at 68 degF", W_per_cfm_inH2O: 0.117354 },
    { name: "conventional inch", W_per_cfm_inH2O: conventional },
    { name: "rounded, 1/8.5", W_per_cfm_inH2O: 1 / 8.5 },
  ];
}

/** The number of inches of water that was written, whichever water is meant; null where it is another unit. */
function inchesWritten(text: string): number | null {
  const written = splitQuantity(text);
  if (!written.ok || !/^in\s*\.?(H2O|WC|WG)/i.test(written.value.unitText)) return null;
  return Math.abs(written.value.number);
}

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
  const written_in = inchesWritten(given.suction);
  const suction_inH2O = written_in ?? toUnit(suction_Pa, "pressure", "inH2O");
  const conventions = wattsPerInch().map((convention) => ({
    ...convention,
    value: flow_cfm * suction_inH2O * convention.W_per_cfm_inH2O,
    unit: "W",
  }));
  const inchLines = [
    `Whose inch of water it is changes the power; ${sixDigits(flow_cfm)} cfm times ${sixDigits(suction_inH2O)} inches is`,
    ...conventions.map(
      ({ name, W_per_cfm_inH2O, value }) =>
        `  ${sixDigits(value).padStart(9)} W   ${W_per_cfm_inH2O.toFixed(6)} W per cfm and inch, ${name}`,
    ),
  ];
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
      ...(written_in === null ? [] : inchLines),
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
