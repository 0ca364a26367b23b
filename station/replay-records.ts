import type { LeakStep, ModelLimits } from "../limits/model.ts";
import { UnitError } from "../limits/quantity.ts";
import type { CalibrationKind } from "./calibration-file.ts";
import { type CalibrationOrigin, CalibrationsAsMade } from "./calibrations-as-made.ts";
import { calibrationsInForce } from "./calibrations-in-force.ts";
import { NOT_CALIBRATED } from "./cycle/attempt.ts";
import { type TravellerQuery, travellersOf } from "./records/model-travellers.ts";
import { RecordError } from "./records/record-error.ts";
import type { Traveller } from "./records/traveller.ts";
import { replayCurves } from "./replay-curves.ts";
import { type LeakReplay, ReplayTally } from "./replay-summary.ts";
import type { StationFile } from "./station-file.ts";

export interface ReplayOrder {
  readonly limits: ModelLimits;
  readonly recordsFolder: string;
  readonly stationPath: string;
  readonly station: StationFile;
  /** Whose calibrations are today's. */
  readonly now_ms: number;
  readonly query: Omit<TravellerQuery, "model">;
  /** Whether attempts on reference pieces are replayed too. */
  readonly withReferences: boolean;
  /** Whether attempts that keep their verdict are named too. */
  readonly keepAll: boolean;
}

export interface ReplayReport {
  /** Attempts replayed, and how many of them were made with draft limits, or simulated. */
  readonly attempts: number;
  readonly drafts: number;
  /** Measured for studies, and no tests of units. */
  readonly studiesLeftOut: number;
  readonly simulated: number;
  readonly referencesLeftOut: number;
  readonly broken: readonly { readonly path: string; readonly problem: string }[];
  /** Attempts made on stations with another name than the station file's. */
  readonly otherStations: ReadonlyMap<string, number>;
  /** Attempts by where what was learned of the model came from. */
  readonly calibrations: Readonly<Record<CalibrationKind, Readonly<Record<CalibrationOrigin, number>>>>;
  /** What keeps today's calibrations from being used. */
  readonly calibrationProblems: readonly string[];
  readonly leaks: readonly LeakReplay[];
}

/**
 * Measures the stored curves of a records folder again. Nothing is written, and no lock is taken.
 * @throws RecordError when the folder can't be read; broken travellers in it are reported and left out
 */
export async function replayRecords(order: ReplayOrder): Promise<ReplayReport> {
  const { limits, station, stationPath, withReferences } = order;
  const steps = limits.steps.filter((step): step is LeakStep => step.kind === "leak");
  const today = calibrationsInForce(stationPath, station, [limits], order.now_ms).get(limits.model);
  const asMade = new CalibrationsAsMade(stationPath, today ?? NOT_CALIBRATED);
  const tally = new ReplayTally({ keepAll: order.keepAll });
  const broken: { path: string; problem: string }[] = [];
  const otherStations = new Map<string, number>();
  const calibrations = { settle: noneYet(), volume: noneYet() };
  let [attempts, drafts, simulated, referencesLeftOut, studiesLeftOut] = [0, 0, 0, 0, 0];
  for await (const found of travellersOf(order.recordsFolder, { ...order.query, model: limits.model })) {
    if (found.kind === "broken") {
      broken.push({ path: found.path, problem: found.problem });
      continue;
    }
    const { traveller } = found;
    if (isOfOrifice(traveller)) continue;
    if (traveller.study) {
      studiesLeftOut++;
      continue;
    }
    if (traveller.kind === "reference" && !withReferences) {
      referencesLeftOut++;
      continue;
    }
    const { calibration, origin } = asMade.for(traveller, steps);
    try {
      tally.add(traveller, replayCurves(traveller, { limits, knowledge: station.knowledge, calibration }));
    } catch (error) {
      if (!(error instanceof RecordError || error instanceof UnitError)) throw error;
      broken.push({ path: found.path, problem: error.message.replace(/\.$/, "") });
      continue;
    }
    attempts++;
    if (traveller.draft) drafts++;
    if (traveller.station.simulated) simulated++;
    const { name } = traveller.station;
    if (name !== station.name) otherStations.set(name, (otherStations.get(name) ?? 0) + 1);
    calibrations.settle[origin.settle]++;
    calibrations.volume[origin.volume]++;
  }
  return {
    attempts,
    drafts,
    simulated,
    referencesLeftOut,
    studiesLeftOut,
    broken,
    otherStations,
    calibrations,
    calibrationProblems: (today?.problems ?? []).map(({ sentence }) => sentence),
    leaks: tally.leaks(),
  };
}

/** A reference orifice has no leak to measure again. */
function isOfOrifice({ kind, characteristics }: Traveller): boolean {
  return kind === "reference" && characteristics.some(({ measurand }) => measurand === "flow");
}

function noneYet(): Record<CalibrationOrigin, number> {
  return { "as made": 0, "today's": 0, none: 0 };
}
