import { type ConversionResult, convertGasFlow } from "./gas-flow-conversion.ts";
import { type GasFlowUnit, gasFlowUnit } from "./leak-rate.ts";
import { describeFailure, dimensionHelp, quoted, splitQuantity } from "./quantity.ts";
import {
  columnsLike,
  dimensionsOf,
  fromSI,
  nearestUnitOfAll,
  normaliseUnitText,
  type PlainDimension,
  plainUnit,
  toSI,
} from "./units.ts";

/**
 * Converts a quantity as text into a unit of the same kind. Flows and leak rates keep to the rules of convertGasFlow:
 * nothing is guessed about the conditions that gas is counted at.
 * @example convertText("90 inH2O", "kPa") // 22.4180019 kPa
 * @example convertText("1 mL/min @ 0 degC", "Pa.m3/s") // 0.00168875 Pa.m3/s @ 0 degC
 */
export function convertText(text: string, to: string): ConversionResult {
  const written = splitQuantity(text);
  if (!written.ok) return refused(`F${describeFailure(written).slice(1)}.`);
  const { number, unitText } = written.value;
  if (/^[+-]?[\d.]/.test(to.trim())) return refused(`${quoted(to)} is to be a unit alone, like "kPa".`);
  const from = kindsOf(unitText);
  const into = kindsOf(to);
  if (typeof from === "string") return refused(from);
  if (typeof into === "string") return refused(into);
  if (from.gas && into.gas) return convertGasFlow(number, from.gas, into.gas);
  const [dimension] = from.plain.filter((kind) => into.plain.includes(kind));
  const source = dimension && plainUnit(from.text, dimension);
  const target = dimension && plainUnit(into.text, dimension);
  if (!dimension || !source || !target) {
    return refused(
      `${quoted(text)} can't be converted into ${quoted(to)}: that is the unit of ${kindWords(into)}.`,
    );
  }
  const value_SI = toSI(number, source);
  if (dimension === "temperature" && value_SI < 0) {
    return refused(`${quoted(text)} is below absolute zero.`);
  }
  return {
    ok: true,
    value: {
      value: fromSI(value_SI, target),
      unit: target.symbol,
      notes: [
        ...[source.symbol, target.symbol].flatMap(columnNote),
        ...(dimension === "temperature" && from.plain.includes("temperatureDifference")
          ? ["Taken as points on the scale, not as a difference."]
          : []),
      ],
    },
  };
}

interface Kinds {
  readonly text: string;
  readonly gas?: GasFlowUnit;
  readonly plain: readonly PlainDimension[];
}

/** @returns what the unit may be of, or the sentence that it is none */
function kindsOf(unitText: string): Kinds | string {
  const text = normaliseUnitText(unitText);
  const plain = dimensionsOf(text).filter((dimension) => dimension !== "flow");
  if (plain.length > 0) return { text, plain };
  const columns = columnsLike(text);
  if (columns.length > 0) return unknownUnit(unitText, `the columns known here are ${columns.join(", ")}`);
  const gas = gasFlowUnit(text);
  if (gas.ok) return { text, gas: gas.value, plain };
  if (gas.expected !== undefined) return `${quoted(unitText)} needs ${gas.expected}.`;
  if (text.includes("@") || text.includes("/")) return unknownUnit(unitText, gas.hint);
  const near = nearestUnitOfAll(text);
  return unknownUnit(unitText, near === undefined ? 'write one like "kPa"' : `did you mean ${near}?`);
}

function unknownUnit(unitText: string, hint = ""): string {
  return `${quoted(unitText)} is no unit that is known here (${hint}).`;
}

function kindWords({ gas, plain: [kind] }: Kinds): string {
  if (gas || kind === undefined) return "a flow or a leak rate";
  return dimensionHelp(kind).expected.replace(/ with its unit.*/, "");
}

const COLUMN = /^(?:mm|cm|in|ft)(H2O|Hg)$/;

function columnNote(symbol: string): string[] {
  const [, liquid] = COLUMN.exec(symbol) ?? [];
  if (liquid === "H2O") {
    return [
      `${symbol} is the conventional column, water of 1000 kg/m3; ${symbol}@4degC, @20degC and @60degF are known too.`,
    ];
  }
  if (liquid === "Hg") return [`${symbol} is the conventional column, mercury of 13595.1 kg/m3.`];
  return [];
}

function refused(sentence: string): ConversionResult {
  return { ok: false, sentence };
}
