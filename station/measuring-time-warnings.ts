import type { Characteristic, LeakStep, ModelLimits } from "../limits/model.ts";
import { formatQuantity } from "../limits/print-quantity.ts";
import { HOUSE_REFERENCE } from "../limits/quantity.ts";
import { leakConditions, MOST_UNCERTAIN_PASS } from "./cycle/leak-judging.ts";
import type { LimitStation } from "./limit-warnings.ts";
import { foreseeLeak } from "./measure/leak/foreseen-leak.ts";
import { MOST_UNCERTAIN_TIGHT } from "./measure/leak/leak-looks.ts";
import { type RoomForVerdicts, roomForVerdicts } from "./room-for-verdicts.ts";

export interface MeasuringTimeWarning {
  readonly characteristic: string;
  readonly rule: RoomForVerdicts["rule"];
  readonly sentence: string;
}

/** A room nobody has measured yet. */
export const ROOM_NOBODY_MEASURED = { ...HOUSE_REFERENCE, relativeHumidity: 0.5 };

const COVERAGE_FACTOR = 2;
/** Longest measuring time that is looked at, as many times the one stated. */
const LONGEST_TRIED = 20;
const TRIED_APART = 1.1;

/**
 * Where a leak step's longest measuring time leaves a value at the limit so uncertain that its guard band swallows the limit, that
 * nothing may pass by it, or that no early verdict could call a unit tight. How soon looks begin is no matter: large leaks show early.
 */
export function measuringTimeWarnings(
  step: LeakStep,
  limits: ModelLimits,
  station: LimitStation,
): MeasuringTimeWarning[] {
  const gauge = station.knowledge.channels.get("leak_pressure");
  const conditions = leakConditions(
    step,
    { limits, calibration: station.calibration },
    { ambient: ROOM_NOBODY_MEASURED, phases: [] },
    station.knowledge,
  );
  if (!gauge || !conditions) return [];
  return limits.characteristics.flatMap((characteristic): MeasuringTimeWarning[] => {
    const { name, upper } = characteristic;
    if (characteristic.step !== step.name || upper === undefined) return [];
    const uncertaintyAt = (measureLongest_s: number) => {
      const foreseen = foreseeLeak(upper, { ...step, measureLongest_s }, conditions, gauge.absolute);
      return foreseen.expandedUncertainty_m3_s === null
        ? null
        : foreseen.expandedUncertainty_m3_s / COVERAGE_FACTOR;
    };
    const objection = objectionTo(characteristic, upper, step, uncertaintyAt(step.measureLongest_s));
    if (!objection) return [];
    const enough_s = shortestWithout(step.measureLongest_s, (tried_s) =>
      objectionTo(characteristic, upper, step, uncertaintyAt(tried_s)),
    );
    const remedy =
      enough_s === null
        ? "reduce the largest part of the uncertainty, which each traveller lists, or raise the limit; a longer time alone does not help"
        : `set measure_longest to ${seconds(enough_s)} or more`;
    return [
      {
        characteristic: name,
        rule: objection.rule,
        sentence: `${objection.finding}, in ${seconds(step.measureLongest_s)} of measuring: ${remedy}.`,
      },
    ];
  });
}

function objectionTo(
  characteristic: Characteristic,
  upper: number,
  { earlyVerdict }: LeakStep,
  uncertainty: number | null,
): RoomForVerdicts | null {
  if (uncertainty === null) return null;
  const found = roomForVerdicts(characteristic, uncertainty);
  if (found?.rule === "guard band") return found;
  const shown = formatQuantity(uncertainty, "leakRate", characteristic.unit, {
    significant: 3,
    reference: HOUSE_REFERENCE,
  });
  if (uncertainty > MOST_UNCERTAIN_PASS * upper) {
    return {
      rule: "uncertainty",
      finding: `A value's standard uncertainty is ${shown}, more than a third of the limit, and no unit passes by one so vague`,
    };
  }
  if (!earlyVerdict || uncertainty <= MOST_UNCERTAIN_TIGHT * upper) return null;
  return {
    rule: "uncertainty",
    finding: `A value's standard uncertainty is still ${shown}, more than a quarter of the limit, so that no early verdict calls a unit tight`,
  };
}

function shortestWithout(stated_s: number, objection: (tried_s: number) => RoomForVerdicts | null) {
  for (let tried_s = stated_s * TRIED_APART; tried_s <= stated_s * LONGEST_TRIED; tried_s *= TRIED_APART) {
    if (!objection(tried_s)) return Math.ceil(tried_s);
  }
  return null;
}

function seconds(time_s: number): string {
  return formatQuantity(time_s, "time", "s", { significant: 3 });
}
