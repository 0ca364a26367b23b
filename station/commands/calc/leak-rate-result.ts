import { convertText } from "../../../limits/convert-text.ts";
import { formatNumber } from "../../../limits/print-quantity.ts";
import { HOUSE_REFERENCE, toUnit } from "../../../limits/quantity.ts";
import { UsageError } from "../../explain.ts";
import {
  gasLossRate_m3_s,
  isothermalLeakRate_m3_s,
  thermalPressureFall_Pa,
} from "../../measure/gas/pressure-change.ts";
import type { GivenChange } from "./given-change.ts";
import { sixDigits } from "./print-result.ts";

/** An answer, for programs and for people. */
export interface LeakRateResult {
  readonly fields: Readonly<Record<string, unknown>>;
  readonly lines: readonly string[];
}

/**
 * The leak rate of a change of pressure in the unit asked for, with what has to be known to read it rightly.
 * @param to unit; Pa.m3/s of the gas at its own (start) temperature if undefined
 * @throws UsageError if `to` is no unit of leak rate or leaves its conditions open
 */
export function leakRateResult(change: GivenChange, to: string | undefined): LeakRateResult {
  const { leak_m3_s, temperature_K, gas, saying, notes, fields } =
    change.form === "isothermal" ? isothermal(change) : betweenStates(change);
  const own = `Pa.m3/s @ ${Number((temperature_K - 273.15).toFixed(4))} degC`;
  const inUnit = (rate_m3_s: number) => {
    const throughput = Number(toUnit(rate_m3_s, "leakRate", own).toPrecision(15));
    if (!Number.isFinite(throughput))
      throw new UsageError("These quantities are too large to calculate with.");
    const converted = convertText(`${throughput} ${own}`, to ?? "Pa.m3/s");
    if (!converted.ok) throw new UsageError(`--to: ${converted.sentence}`);
    return { value: converted.value.value, unit: converted.value.unit };
  };
  const answer = inUnit(leak_m3_s);
  const others = ["Pa.m3/s @ 20 degC", "mL/min @ 20 degC", "mL/min @ 0 degC", "mol/s"]
    .filter((unit) => unit !== answer.unit)
    .map((unit) => ({ value: toUnit(leak_m3_s, "leakRate", unit), unit }));
  const uncorrected = fields.uncorrected_m3_s === undefined ? undefined : inUnit(fields.uncorrected_m3_s);
  const thermal_Pa = fields.thermalFall_Pa;
  return {
    fields: {
      ...answer,
      test_pressure: leak_m3_s > 0 ? "lost" : leak_m3_s < 0 ? "gained" : "unchanged",
      gas,
      gas_temperature: {
        value: temperature_K - 273.15,
        unit: "degC",
        assumed: change.isTemperatureAssumed,
      },
      form: change.form === "isothermal" ? "isothermal" : "start and end states",
      same_leak: others,
      ...(uncorrected === undefined ? {} : { without_temperature_correction: uncorrected }),
      ...(thermal_Pa === undefined ? {} : { thermal_pressure_fall: { value: thermal_Pa, unit: "Pa" } }),
      notes,
    },
    lines: [
      `${formatNumber(answer.value)} ${answer.unit}`,
      `  ${saying}`,
      `  The same leak: ${others.map(({ value, unit }) => `${sixDigits(value)} ${unit}`).join(", ")}`,
      ...(uncorrected === undefined || thermal_Pa === undefined
        ? []
        : [
            `  The temperature alone ${thermal_Pa < 0 ? "raises" : "lowers"} the pressure by ${sixDigits(Math.abs(thermal_Pa))} Pa; not corrected for it: ${sixDigits(uncorrected.value)} ${uncorrected.unit}`,
          ]),
      ...notes.map((note) => `  ${note}`),
    ],
  };
}

interface Worked {
  readonly leak_m3_s: number;
  /** What a throughput without a temperature is stated at. */
  readonly temperature_K: number;
  readonly gas: "out" | "in" | "none" | "out at overpressure, in at vacuum";
  readonly saying: string;
  readonly notes: readonly string[];
  readonly fields: { readonly uncorrected_m3_s?: number; readonly thermalFall_Pa?: number };
}

const ASSUMED_TEMPERATURE = "Gas at 20 degC (house default; --gas-temperature says otherwise).";

const THROUGH_AMBIENT =
  "From one side of the room's pressure to the other, which a leak to the room can't do: look at the signs of the pressures.";

function isothermal(change: Extract<GivenChange, { form: "isothermal" }>): Worked {
  const leak_m3_s = isothermalLeakRate_m3_s(change);
  return {
    leak_m3_s,
    temperature_K: change.temperature_K,
    gas: leak_m3_s > 0 ? "out at overpressure, in at vacuum" : "none",
    saying:
      leak_m3_s > 0
        ? "The test pressure is being lost: gas goes out of a pressurised body, into an evacuated one."
        : leak_m3_s < 0
          ? "Negative: the test pressure grew, which a leak to the room can't do."
          : "The test pressure did not change.",
    notes: change.isTemperatureAssumed ? [ASSUMED_TEMPERATURE] : [],
    fields: {},
  };
}

function betweenStates(change: Extract<GivenChange, { form: "states" }>): Worked {
  const { start, end, barometer_Pa } = change;
  const room_Pa = barometer_Pa?.start ?? HOUSE_REFERENCE.pressure_Pa;
  const endRoom_Pa = barometer_Pa?.end ?? HOUSE_REFERENCE.pressure_Pa;
  if (start.pressure_Pa === room_Pa) {
    throw new UsageError("--start-pressure is the room's pressure, so there is no test pressure to lose.");
  }
  const isVacuum = start.pressure_Pa < room_Pa;
  const body = isVacuum ? "evacuated" : "pressurised";
  const out_m3_s = gasLossRate_m3_s(change);
  const leak_m3_s = isVacuum ? -out_m3_s : out_m3_s;
  const gas = out_m3_s > 0 ? "out" : out_m3_s < 0 ? "in" : "none";
  const pressureLoss_Pa = (isVacuum ? -1 : 1) * (start.pressure_Pa - end.pressure_Pa);
  const isCorrected = start.temperature_K !== end.temperature_K;
  return {
    leak_m3_s,
    temperature_K: start.temperature_K,
    gas,
    saying:
      leak_m3_s > 0
        ? `The test pressure is being lost: gas goes ${gas} (${body} body).`
        : leak_m3_s < 0
          ? `Negative: the test pressure grew, gas goes ${gas} (${body} body), and a leak to the room can't do that.`
          : "The amount of gas did not change.",
    notes: [
      ...(barometer_Pa === undefined
        ? [
            change.isSaidAbsolute
              ? `The body taken as ${body}: it starts ${isVacuum ? "below" : "above"} 101.325 kPa, the house default of the room's pressure; --barometer says otherwise.`
              : `Pressures taken as absolute, the body as ${body}: it starts ${isVacuum ? "below" : "above"} 101.325 kPa. For gauge pressures give --barometer.`,
          ]
        : []),
      ...((start.pressure_Pa - room_Pa) * (end.pressure_Pa - endRoom_Pa) < 0 ? [THROUGH_AMBIENT] : []),
      ...(change.isTemperatureAssumed ? [ASSUMED_TEMPERATURE] : []),
    ],
    fields: isCorrected
      ? {
          uncorrected_m3_s: isothermalLeakRate_m3_s({
            ...change,
            pressureLoss_Pa,
            temperature_K: start.temperature_K,
          }),
          thermalFall_Pa: thermalPressureFall_Pa(start, end.temperature_K),
        }
      : {},
  };
}
