import { loadLimitFile } from "../../limits/limit-file.ts";
import { ModelWatch } from "../../station/quality/early-warning/model-watch.ts";
import type { WatchedUnit } from "../../station/quality/early-warning/watched-unit.ts";
import { SimulatedLine } from "./early-warning-line.ts";
import { atLeast, atMost, type Bench, type Figure } from "./figure.ts";

/** Of each figure; EARLY_WARNING_UNITS sets another number of undisturbed units. */
const UNDISTURBED = Number(process.env.EARLY_WARNING_UNITS ?? 20_000);
const DRIFTS = Math.max(40, Math.round(UNDISTURBED / 400));
/** A station's window has that many units of a model at least, where there are so many; and begins anew after that many more. */
const [KNOWN, WINDOW] = [1500, 1024];
/** A part of defective units as a line would stand it, and the demo's. */
const DEFECT_RATES = [0.02, 0.28];
const MODELS = ["pod-4", "tub-12"];

interface Alarms {
  readonly units: number;
  /** Times at which the first of the model's charts began to warn: what somebody at the station sees. */
  readonly alarms: number;
  /** Characteristics that warned, each for itself. */
  readonly drifts: number;
  /** Units that were tested while a warning stood. */
  readonly warned: number;
}

/**
 * @param known units before the ones that count, in each window
 * @param window units that count, until a watch begins anew
 * @returns false alarms on a line where nothing changes
 */
function undisturbed(line: SimulatedLine, units: number, known: number, window: number): Alarms {
  let [alarms, drifts, warned, made] = [0, 0, 0, 0];
  while (made < units) {
    const watch = new ModelWatch("MODEL");
    for (let k = 0; k < known; k++) watch.add(line.next());
    for (let k = 0; k < window && made < units; k++, made++) {
      const wasQuiet = watch.isQuiet;
      const before = watch.signals;
      watch.add(line.next());
      drifts += watch.signals - before;
      if (watch.signals > before && wasQuiet) alarms++;
      if (!watch.isQuiet) warned++;
    }
  }
  return { units, alarms, drifts, warned };
}

interface Delays {
  /** Units of the drifting part up to and with the one that signalled, mean. */
  readonly mean: number;
  /** Of the mean, one standard error. */
  readonly error: number;
  readonly scopeRight: number;
  /** Mean distance of the first suspect from the first that drifted, in units of the model. */
  readonly off: number;
}

/** @returns how soon a step of one standard deviation is signalled, begun after so many units */
function drifting(
  line: SimulatedLine,
  { name, cavity, after, times }: { name: string; cavity: string | null; after: number; times: number },
): Delays {
  const step = line.deviationOf(name);
  let [sum, squares, right, off, counted] = [0, 0, 0, 0, 0];
  for (let run = 0; counted < times && run < 4 * times; run++) {
    const watch = new ModelWatch("MODEL");
    for (let k = 0; k < after; k++) watch.add(line.next({ only: name }));
    // Signalled before anything changed: such a run says nothing of the delay.
    if (!watch.isQuiet) continue;
    const isMeant = ({ tub_cavity }: WatchedUnit["parts"]) => cavity === null || tub_cavity === cavity;
    let [delay, begun, isFound] = [0, "", false];
    while (!isFound && delay < 500) {
      const unit = line.next({ only: name, added: (parts) => (isMeant(parts) ? step : 0) });
      if (isMeant(unit.parts)) delay++;
      if (isMeant(unit.parts) && begun === "") begun = unit.serial;
      watch.add(unit);
      const found = watch
        .warnings()
        .find((it) => it.characteristic === name && it.direction === "rises" && it.ended === null);
      if (!found) continue;
      isFound = true;
      // By a unit of another cavity, before the first that drifted came.
      if (begun === "") break;
      if ((found.cavity?.value ?? null) === cavity) right++;
      off += Math.abs(Number(found.first.serial.slice(1)) - Number(begun.slice(1)));
    }
    if (begun === "") continue;
    sum += delay;
    squares += delay * delay;
    counted++;
  }
  const mean = sum / counted;
  const error = Math.sqrt((squares / counted - mean * mean) / counted);
  return { mean, error, scopeRight: right / counted, off: off / counted };
}

/** Early warning on units of the simulated population: false alarms of a chart and of all of a model together, and how soon one drifts. */
export const earlyWarning: Bench = async () => {
  const figures: Figure[] = [];
  const found = (figure: Figure) => {
    figures.push(figure);
    // The table comes at the end; these lines say meanwhile how it goes.
    process.stderr.write(`${figure.figure}: ${figure.value} ${figure.unit} (${figure.against})\n`);
  };
  for (const file of MODELS)
    for (const rate of DEFECT_RATES) {
      const limits = loadLimitFile(`limits/models/${file}.yaml`);
      const line = new SimulatedLine(limits, rate, 1);
      const of = `${limits.model}, ${Math.round(rate * 100)} % defective`;
      for (const [known, window] of [
        [KNOWN, WINDOW],
        [0, 1000],
      ] as const) {
        const { units, alarms, drifts, warned } = undisturbed(line, UNDISTURBED, known, window);
        // Each unit counts in three charts of a characteristic: of all units, of its tub cavity, of its lid cavity.
        const ofChart = Math.round((3 * limits.characteristics.length * units) / drifts);
        const apart = units / alarms;
        found(
          atLeast(1, {
            figure: `units for a false alarm of any of a model's charts, ${known === 0 ? "its first 1000" : `after ${known}`}, ${of}`,
            value: Math.round(apart),
            unit: "units",
            against: `500; +- ${Math.round(apart / Math.sqrt(alarms))}, ${alarms} alarms; each chart one in ${ofChart} of its own; a warning stands at ${Math.round((100 * warned) / units)} %`,
            ratio: apart / 500,
          }),
        );
      }
      for (const cavity of [null, limits.model === "POD-4" ? "P2" : "T2"])
        for (const name of ["leak rate", "sealed suction"])
          for (const after of [200, 500, KNOWN]) {
            const { mean, error, scopeRight, off } = drifting(line, { name, cavity, after, times: DRIFTS });
            found(
              atMost(1, {
                figure: `${name} up by 1 sd, ${cavity ?? "all"}, after ${after}, ${of}`,
                value: Number(mean.toFixed(1)),
                unit: "units",
                against: `15; +- ${error.toFixed(1)}; told as ${cavity ?? "the model"} in ${Math.round(100 * scopeRight)} %, first suspect ${off.toFixed(0)} units off`,
                ratio: mean / 15,
              }),
            );
          }
    }
  return figures;
};
