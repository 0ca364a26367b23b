import { loadLimitFile } from "../../limits/limit-file.ts";
import { ModelWatch } from "../../station/quality/early-warning/model-watch.ts";
import type { WatchedUnit } from "../../station/quality/early-warning/watched-unit.ts";
import { SimulatedLine } from "./early-warning-line.ts";
import { atLeast, atMost, type Bench, type Figure } from "./figure.ts";

/** Of each figure; EARLY_WARNING_UNITS sets another number of undisturbed units. */
const UNDISTURBED = Number(process.env.EARLY_WARNING_UNITS ?? 100_000);
const DRIFTS = Math.max(40, Math.round(UNDISTURBED / 250));
/** A watch begins anew after so many, as a station's does. */
const WINDOW = 2500;
/** A part of defective units as a line would stand it, and the demo's. */
const DEFECT_RATES = [0.02, 0.28];
const MODELS = ["pod-4", "tub-12"];

interface Alarms {
  readonly units: number;
  /** Times at which the first of the model's charts began to warn: what somebody at the station sees. */
  readonly alarms: number;
  /** Characteristics that warned, each for itself. */
  readonly drifts: number;
}

/** @returns false alarms on a line where nothing changes */
export function undisturbed(line: SimulatedLine, units: number, window = WINDOW): Alarms {
  let [alarms, drifts, made] = [0, 0, 0];
  while (made < units) {
    const watch = new ModelWatch("MODEL");
    for (let k = 0; k < window && made < units; k++, made++) {
      const wasQuiet = watch.isQuiet;
      const before = watch.signals;
      watch.add(line.next());
      drifts += watch.signals - before;
      if (watch.signals > before && wasQuiet) alarms++;
    }
  }
  return { units, alarms, drifts };
}

export interface Delays {
  /** Units of the drifting part up to and with the one that signalled, mean. */
  readonly mean: number;
  readonly scopeRight: number;
  /** Mean distance of the first suspect from the first that drifted, in units of the model. */
  readonly off: number;
}

/** @returns how soon a step of one standard deviation is signalled, begun after so many units */
export function drifting(
  line: SimulatedLine,
  { name, cavity, after, times }: { name: string; cavity: string | null; after: number; times: number },
): Delays {
  const step = line.deviationOf(name);
  let [sum, right, off, counted] = [0, 0, 0, 0];
  for (let run = 0; counted < times && run < 4 * times; run++) {
    const watch = new ModelWatch("MODEL");
    for (let k = 0; k < after; k++) watch.add(line.next());
    // Signalled before anything changed: such a run says nothing of the delay.
    if (!watch.isQuiet) continue;
    const isMeant = ({ tub_cavity }: WatchedUnit["parts"]) => cavity === null || tub_cavity === cavity;
    let [delay, begun, isFound] = [0, "", false];
    while (!isFound && delay < 500) {
      const unit = line.next((parts) => (isMeant(parts) ? { [name]: step } : {}));
      if (isMeant(unit.parts)) delay++;
      if (isMeant(unit.parts) && begun === "") begun = unit.serial;
      watch.add(unit);
      const found = watch
        .warnings()
        .find((it) => it.characteristic === name && it.direction === "rises" && it.ended === null);
      if (!found) continue;
      isFound = true;
      if ((found.cavity?.value ?? null) === cavity) right++;
      off += Math.abs(Number(found.first.serial.slice(1)) - Number(begun.slice(1)));
    }
    sum += delay;
    counted++;
  }
  return { mean: sum / counted, scopeRight: right / counted, off: off / counted };
}

/** Early warning on units of the simulated population: false alarms of a chart and of all of a model together, and how soon one drifts. */
export const earlyWarning: Bench = async () => {
  const figures: Figure[] = [];
  for (const file of MODELS)
    for (const rate of DEFECT_RATES) {
      const limits = loadLimitFile(`limits/models/${file}.yaml`);
      const line = new SimulatedLine(limits, rate, 1);
      const of = `${limits.model}, ${rate * 100} % defective`;
      const { units, alarms, drifts } = undisturbed(line, UNDISTURBED);
      // Each unit counts in three charts of a characteristic: of all units, of its tub cavity, of its lid cavity.
      const ofChart = (3 * limits.characteristics.length * units) / drifts;
      figures.push(
        atLeast(1, {
          figure: `units of a chart for a false alarm, ${of}`,
          value: Math.round(ofChart),
          unit: "units",
          against: `500; all charts of the model together: ${alarms} alarms, one in ${Math.round(units / alarms)} units`,
          ratio: ofChart / 500,
        }),
      );
      for (const cavity of [null, limits.model === "POD-4" ? "P2" : "T2"])
        for (const name of ["leak rate", "sealed suction"])
          for (const after of [200, 1000]) {
            const { mean, scopeRight, off } = drifting(line, { name, cavity, after, times: DRIFTS });
            figures.push(
              atMost(1, {
                figure: `${name} up by 1 sd, ${cavity ?? "all"}, after ${after}, ${of}`,
                value: Number(mean.toFixed(1)),
                unit: "units",
                against: `15; told as ${cavity ?? "the model"} in ${Math.round(100 * scopeRight)} %, first suspect ${off.toFixed(0)} units off`,
                ratio: mean / 15,
              }),
            );
          }
    }
  return figures;
};
