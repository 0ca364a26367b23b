import { conditionsText, countedAt, type GasFlowUnit, type ReferenceConditions } from "./leak-rate.ts";
import { formatNumber } from "./print-quantity.ts";
import { fromSI, toSI, type Unit } from "./units.ts";

/** A quantity in another unit. */
export interface Conversion {
  readonly value: number;
  /** The whole unit: where it counts gas, with the conditions the gas is counted at. */
  readonly unit: string;
  /** What was taken as understood, a sentence each. */
  readonly notes: readonly string[];
}

export type ConversionResult =
  | { readonly ok: true; readonly value: Conversion }
  /** One sentence for the person who wrote the text: what is wrong, and what to write. */
  | { readonly ok: false; readonly sentence: string };

/** The two readings that a volume of gas without conditions has in practice. */
const USUAL: readonly ReferenceConditions[] = [273.15, 293.15].map((temperature_K) => ({
  temperature_K,
  pressure_Pa: 101_325,
}));

/**
 * Converts between units of flow and leak rate. Two units of one kind, both without conditions, differ by a plain
 * factor. A unit to convert into that leaves its conditions open takes them from the quantity, when it counts the same
 * way (L/h from mL/min @ 0 degC) or is a throughput, which only needs the temperature (Pa.m3/s from mL/min @ 0 degC).
 * Everything else that is open is refused, with the readings it could have.
 */
export function convertGasFlow(value: number, from: GasFlowUnit, to: GasFlowUnit): ConversionResult {
  const said = quantityText(value, from);
  if (isOpen(from)) {
    if (isOpen(to) && from.counts === to.counts) {
      return converted(value, from.plain, to.plain, ["At unchanged conditions of the gas."]);
    }
    const readings = USUAL.map((conditions) => openReading(value, from, to, conditions));
    const write = USUAL.map((conditions) => `"${said} @ ${conditionsText(conditions)}"`).join(" or ");
    return {
      ok: false,
      sentence: `"${said}" does not say at which conditions the gas is counted: ${readings.join(", ")}; write ${write}.`,
    };
  }
  const source = countedAt(from, from.conditions ?? HOUSE);
  if (!isOpen(to)) return converted(value, source, countedAt(to, to.conditions ?? HOUSE));
  const { conditions } = from;
  if (conditions && followsConditions(from, to)) {
    const other = USUAL.find(({ temperature_K }) => temperature_K !== conditions.temperature_K) ?? HOUSE;
    return converted(value, source, countedAt(to, conditions), [
      `Counted at the conditions of "${said}"; the same gas is ${reading(value, source, countedAt(to, other))}.`,
    ]);
  }
  const readings = USUAL.map((usual) => reading(value, source, countedAt(to, usual)));
  return {
    ok: false,
    sentence: `"${to.plain.symbol}" does not say at which conditions the gas is to be counted: "${said}" is ${readings.join(" or ")}; write which.`,
  };
}

const HOUSE: ReferenceConditions = { temperature_K: 293.15, pressure_Pa: 101_325 };

function isOpen(unit: GasFlowUnit): boolean {
  return unit.counts !== "amount" && unit.conditions === undefined;
}

function followsConditions(from: GasFlowUnit, to: GasFlowUnit): boolean {
  if (to.counts === "throughput") return true;
  return from.counts !== "throughput" && (to.counts === "volume" || from.counts === to.counts);
}

/** What an open quantity is when its gas is counted at these conditions, and, where it hides the difference, at 20 degC. */
function openReading(
  value: number,
  from: GasFlowUnit,
  to: GasFlowUnit,
  conditions: ReferenceConditions,
): string {
  const source = countedAt(from, conditions);
  const own = reading(value, source, countedAt(to, to.conditions ?? conditions));
  const atHouse = reading(value, source, countedAt(to, to.conditions ?? HOUSE));
  return `at ${conditionsText(conditions)} it would be ${own}${own === atHouse ? "" : ` (which is ${atHouse})`}`;
}

function reading(value: number, from: Unit, to: Unit): string {
  return `${formatNumber(fromSI(toSI(value, from), to), { significant: 7 })} ${to.symbol}`;
}

function converted(value: number, from: Unit, to: Unit, notes: readonly string[] = []): ConversionResult {
  return { ok: true, value: { value: fromSI(toSI(value, from), to), unit: to.symbol, notes } };
}

function quantityText(value: number, { counts, plain, conditions }: GasFlowUnit): string {
  const unit = conditions ? countedAt({ counts, plain }, conditions).symbol : plain.symbol;
  return `${formatNumber(value)} ${unit}`;
}
