import { HOUSE_REFERENCE, quoted, toUnit } from "../../../limits/quantity.ts";
import { UsageError } from "../../explain.ts";
import {
  fanThrough,
  type Inlet,
  inletPassing,
  type LeakLaw,
  type LeakTest,
  leakLeaving,
  type OperatingPoint,
  operatingPoint,
  type StatedFan,
} from "../../measure/airflow/leak-cost.ts";
import { type Answer, byDefault, sixDigits } from "./print-result.ts";
import {
  DEFAULT_COEFFICIENT,
  readAboveZero,
  readBelowRoom,
  readBore,
  readCoefficient,
  readLeakRate,
  readTestPressure,
} from "./quantity-option.ts";

/** What was given of fan, inlet and leak, as texts, by the names of the options. */
interface CostTexts {
  readonly sealedSuction: string;
  readonly openFlow: string;
  readonly middleFlow?: string;
  readonly middleSuction?: string;
  readonly workingFlow?: string;
  readonly orifice?: string;
  readonly coefficient?: string;
  readonly leakRate?: string;
  readonly suctionToRemain?: string;
  readonly pressure: string;
  readonly law?: LeakLaw;
}

/** The same in SI. */
interface GivenCost {
  readonly fan: StatedFan;
  readonly inlet: Inlet;
  readonly isCoefficientAssumed: boolean;
  readonly test: LeakTest;
  readonly laws: readonly LeakLaw[];
  readonly asked:
    | { readonly kind: "cost"; readonly leakRate_m3_s: number }
    | { readonly kind: "leak"; readonly suction_Pa: number };
}

const LEAK_UNIT = "mL/min @ 20 degC";
const LAW_WORDS: Readonly<Record<LeakLaw, string>> = {
  laminar: "As through fine pores (laminar)",
  orifice: "As through a hole (orifice)",
};

/**
 * Reads the options of `calc leak-cost`.
 * @throws UsageError, one sentence, where they are no possible cleaner or leak
 */
export function readGivenCost(given: CostTexts): GivenCost {
  const fan = readFan(given);
  const coefficient =
    given.coefficient === undefined ? DEFAULT_COEFFICIENT : readCoefficient(given.coefficient);
  const inlet = readInlet(given, fan, coefficient);
  const barometer_Pa = HOUSE_REFERENCE.pressure_Pa;
  const { gauge_Pa } = readTestPressure("--pressure", given.pressure, barometer_Pa);
  if (gauge_Pa === 0) {
    throw new UsageError('--pressure: nothing leaks without a pressure difference; give one like "-8 kPa".');
  }
  return {
    fan,
    inlet,
    isCoefficientAssumed: given.coefficient === undefined,
    test: { pressure_Pa: gauge_Pa, barometer_Pa },
    laws: given.law === undefined ? ["laminar", "orifice"] : [given.law],
    asked: readAsked(given),
  };
}

function readFan({ sealedSuction, openFlow, middleFlow, middleSuction }: CostTexts): StatedFan {
  const sealed_Pa = readBelowRoom("--sealed-suction", sealedSuction);
  const open_m3_s = readAboveZero("--open-flow", openFlow, "flow");
  if ((middleFlow === undefined) !== (middleSuction === undefined)) {
    throw new UsageError("A middle point of the fan curve needs both --middle-flow and --middle-suction.");
  }
  const middle =
    middleFlow === undefined || middleSuction === undefined
      ? null
      : {
          flow_m3_s: readAboveZero("--middle-flow", middleFlow, "flow"),
          suction_Pa: readBelowRoom("--middle-suction", middleSuction),
        };
  const fan = fanThrough({ sealed_Pa, open_m3_s, middle });
  if (fan) return fan;
  throw new UsageError(
    middle
      ? "No fan curve that falls all the way goes through these three points: check --sealed-suction, --middle-flow, --middle-suction and --open-flow."
      : `--sealed-suction: found ${quoted(sealedSuction)}, but a room has no more than 100.9 kPa to lose.`,
  );
}

function readInlet(
  { workingFlow, orifice, coefficient: given }: CostTexts,
  fan: StatedFan,
  coefficient: number,
) {
  if (orifice !== undefined && workingFlow !== undefined) {
    throw new UsageError("--orifice and --working-flow both say where the cleaner works: give one of them.");
  }
  if (orifice !== undefined) return { bore_m: readBore("--orifice", orifice), coefficient };
  if (workingFlow === undefined) {
    throw new UsageError(
      'Say where the cleaner works: --orifice, like "16.5 mm", or --working-flow, like "16 L/s".',
    );
  }
  if (given !== undefined) {
    throw new UsageError("--coefficient: that is an orifice's; with --working-flow leave it out.");
  }
  const inlet = inletPassing(fan, readAboveZero("--working-flow", workingFlow, "flow"), coefficient);
  if (inlet) return inlet;
  throw new UsageError(
    `--working-flow: found ${quoted(workingFlow)}, but the fan moves less than its --open-flow of ${litres(fan.open_m3_s)} against any inlet.`,
  );
}

function readAsked({ leakRate, suctionToRemain }: CostTexts): GivenCost["asked"] {
  if (leakRate !== undefined && suctionToRemain !== undefined) {
    throw new UsageError(
      "--leak-rate asks what a leak costs, --suction-to-remain which leak leaves that: give one of them.",
    );
  }
  if (leakRate !== undefined) return { kind: "cost", leakRate_m3_s: readLeakRate("--leak-rate", leakRate) };
  if (suctionToRemain !== undefined) {
    return { kind: "leak", suction_Pa: readBelowRoom("--suction-to-remain", suctionToRemain) };
  }
  throw new UsageError(
    'Say what is asked: --leak-rate, like "60 mL/min @ 20 degC", for what it costs; or --suction-to-remain, like "15 kPa", for the leak.',
  );
}

/** What the leak costs, or the leak, for programs and for people. */
export function leakCostResult(given: GivenCost): Answer {
  const { fan, inlet, test, isCoefficientAssumed, asked } = given;
  const tight = operatingPoint(fan, inlet, 0, "laminar", test);
  const answer =
    asked.kind === "cost"
      ? costAnswer(given, asked.leakRate_m3_s, tight)
      : leakAnswer(given, asked.suction_Pa, tight);
  const form = fan.coefficients.length > 2 ? "parabola" : "line";
  const [sealed_Pa = Number.NaN] = fan.coefficients;
  return {
    fields: {
      ...answer.fields,
      tight: { suction: kPa(tight.suction_Pa), inlet_flow: L_s(tight.inlet_m3_s) },
      inlet: {
        bore: { value: inlet.bore_m * 1000, unit: "mm" },
        coefficient: { value: inlet.coefficient, assumed: isCoefficientAssumed },
      },
      fan: {
        form,
        sealed_suction: kPa(sealed_Pa),
        open_flow: L_s(fan.open_m3_s),
        density: { value: 1.2, unit: "kg/m3" },
      },
      test: {
        pressure: kPa(test.pressure_Pa),
        barometer: kPa(test.barometer_Pa),
        temperature: { value: 20, unit: "degC" },
      },
    },
    lines: [
      ...answer.lines,
      `Tight: ${kPaText(tight.suction_Pa)} and ${litres(tight.inlet_m3_s)} through an orifice of ${sixDigits(inlet.bore_m * 1000)} mm, coefficient ${inlet.coefficient}${byDefault(isCoefficientAssumed)}.`,
      `Fan curve: a ${form} from ${kPaText(sealed_Pa)} to ${litres(fan.open_m3_s)}, at 1.20 kg/m3; the leak is on top of those it was measured with.`,
    ],
  };
}

function costAnswer(given: GivenCost, leakRate_m3_s: number, tight: OperatingPoint): Answer {
  const costs = given.laws.map((law) => {
    const leaking = operatingPoint(given.fan, given.inlet, leakRate_m3_s, law, given.test);
    const lost_Pa = tight.suction_Pa - leaking.suction_Pa;
    return { law, leaking, lost_Pa, lost_percent: (lost_Pa / tight.suction_Pa) * 100 };
  });
  const worst = costs.reduce((a, b) => (b.lost_Pa > a.lost_Pa ? b : a));
  const inletLost = (leaking: OperatingPoint) => tight.inlet_m3_s - leaking.inlet_m3_s;
  return {
    fields: {
      value: worst.lost_Pa,
      unit: "Pa",
      kind: "suction lost at the working point",
      law: worst.law,
      laws: costs.map(({ law, leaking, lost_Pa, lost_percent }) => ({
        law,
        suction: kPa(leaking.suction_Pa),
        suction_lost: { value: lost_Pa, unit: "Pa" },
        suction_lost_part: { value: lost_percent, unit: "%" },
        inlet_flow: L_s(leaking.inlet_m3_s),
        inlet_flow_lost: L_s(inletLost(leaking)),
        leak_flow: L_s(leaking.leak_m3_s),
      })),
    },
    lines: [
      `Suction lost at the working point: ${sixDigits(worst.lost_Pa)} Pa, ${sixDigits(worst.lost_percent)} %${costs.length > 1 ? " (the worse of two laws)" : ""}`,
      ...costs.map(
        ({ law, leaking, lost_Pa }) =>
          `  ${LAW_WORDS[law]}: ${sixDigits(lost_Pa)} Pa lost, ${kPaText(leaking.suction_Pa)} left; the inlet loses ${litres(inletLost(leaking))}, the leak lets in ${litres(leaking.leak_m3_s)}`,
      ),
    ],
  };
}

function leakAnswer(given: GivenCost, suction_Pa: number, tight: OperatingPoint): Answer {
  const leaks = given.laws.map((law) => {
    const leak_m3_s = leakLeaving(given.fan, given.inlet, suction_Pa, law, given.test);
    if (leak_m3_s === null) {
      throw new UsageError(
        `--suction-to-remain: tight, the cleaner has only ${kPaText(tight.suction_Pa)} at its working point; ask for less to remain.`,
      );
    }
    return { law, leak_m3_s, leaking: operatingPoint(given.fan, given.inlet, leak_m3_s, law, given.test) };
  });
  const least = leaks.reduce((a, b) => (b.leak_m3_s < a.leak_m3_s ? b : a));
  return {
    fields: {
      value: inUnit(least.leak_m3_s),
      unit: LEAK_UNIT,
      kind: "leak rate that leaves the suction",
      law: least.law,
      suction: kPa(suction_Pa),
      laws: leaks.map(({ law, leak_m3_s, leaking }) => ({
        law,
        leak_rate: { value: inUnit(leak_m3_s), unit: LEAK_UNIT },
        inlet_flow: L_s(leaking.inlet_m3_s),
        leak_flow: L_s(leaking.leak_m3_s),
      })),
    },
    lines: [
      `Leak that leaves ${kPaText(suction_Pa)}: ${leakText(least.leak_m3_s)}, tested at ${kPaText(given.test.pressure_Pa)}${leaks.length > 1 ? " (the smaller of two laws)" : ""}`,
      ...leaks.map(
        ({ law, leak_m3_s, leaking }) =>
          `  ${LAW_WORDS[law]}: ${leakText(leak_m3_s)}; at the working point it lets in ${litres(leaking.leak_m3_s)} beside ${litres(leaking.inlet_m3_s)} through the inlet`,
      ),
    ],
  };
}

function kPa(pressure_Pa: number) {
  return { value: pressure_Pa / 1000, unit: "kPa" };
}

function L_s(flow_m3_s: number) {
  return { value: flow_m3_s * 1000, unit: "L/s" };
}

function kPaText(pressure_Pa: number): string {
  return `${sixDigits(pressure_Pa / 1000)} kPa`;
}

function inUnit(leak_m3_s: number): number {
  return toUnit(leak_m3_s, "leakRate", LEAK_UNIT);
}

/** A leak that costs suction anybody would miss is no matter of millilitres. */
function leakText(leak_m3_s: number): string {
  const small = inUnit(leak_m3_s);
  const unit = small < 10_000 ? LEAK_UNIT : "L/min @ 20 degC";
  return `${sixDigits(toUnit(leak_m3_s, "leakRate", unit))} ${unit}`;
}

function litres(flow_m3_s: number): string {
  return `${sixDigits(flow_m3_s * 1000)} L/s`;
}
