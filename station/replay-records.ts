import type { LeakStep, ModelLimits } from "../limits/model.ts";
import { convert, UnitError } from "../limits/quantity.ts";
import type { CalibrationKind } from "./calibration-file.ts";
import { type CalibrationOrigin, CalibrationsAsMade } from "./calibrations-as-made.ts";
import { calibrationsInForce } from "./calibrations-in-force.ts";
import { NOT_CALIBRATED } from "./cycle/attempt.ts";
import { DecidedUnits, knownDecisions } from "./records/known-decisions.ts";
import { type TravellerQuery, travellersOf } from "./records/model-travellers.ts";
import { StoredFromTravellers } from "./records/read-stored-values.ts";
import { RecordError } from "./records/record-error.ts";
import { countRecords } from "./records/record-name.ts";
import type { Traveller } from "./records/traveller.ts";
import { type ReplayedLeak, replayCurves } from "./replay-curves.ts";
import { type LeakReplay, ReplayTally } from "./replay-summary.ts";
import type { StationFile } from "./station-file.ts";
import type { MeasuredAgain } from "./what-if/rejudge.ts";
import { heldAttempts, type JudgedHistory, ValuesReplay } from "./what-if/replay-values.ts";

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
  /** Whether attempts that keep their verdict are named too, and every unit that changes. */
  readonly keepAll: boolean;
  /** Called from time to time with the number of records looked at. */
  readonly progress?: (done: number, of: number) => void;
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
  /** Units, judged by their leak rates as measured again and by what was recorded of everything else. */
  readonly history: JudgedHistory;
}

/** Records between two words of progress. */
const PROGRESS_EVERY = 20;

/**
 * Measures the stored curves of a records folder again. Nothing is written, and no lock is taken.
 * @throws RecordError when the folder can't be read; broken travellers in it are reported and left out
 */
export async function replayRecords(order: ReplayOrder): Promise<ReplayReport> {
  const { limits, station, stationPath, recordsFolder, withReferences, progress } = order;
  const steps = limits.steps.filter((step): step is LeakStep => step.kind === "leak");
  const today = calibrationsInForce(stationPath, station, [limits], order.now_ms).get(limits.model);
  const asMade = new CalibrationsAsMade(stationPath, today ?? NOT_CALIBRATED);
  const tally = new ReplayTally({ keepAll: order.keepAll });
  const broken: { path: string; problem: string }[] = [];
  const otherStations = new Map<string, number>();
  const calibrations = { settle: noneYet(), volume: noneYet() };
  const decisions = await knownDecisions(recordsFolder);
  const decided = new DecidedUnits(decisions);
  const history = new ValuesReplay(
    { limits, shifts: station.shifts, keepAll: order.keepAll },
    heldAttempts(decisions),
  );
  const stored = new StoredFromTravellers();
  const { records } = await countRecords(recordsFolder, 0);
  let [attempts, drafts, simulated, referencesLeftOut, studiesLeftOut, seen] = [0, 0, 0, 0, 0, 0];
  for await (const found of travellersOf(recordsFolder, { ...order.query, model: limits.model })) {
    seen++;
    if (found.kind === "broken") {
      broken.push({ path: found.path, problem: found.problem });
      continue;
    }
    const { traveller } = found;
    decided.meet(traveller.serial);
    if (progress && seen % PROGRESS_EVERY === 0) progress(traveller.chain.sequence, records);
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
      const leaks = replayCurves(traveller, { limits, knowledge: station.knowledge, calibration });
      tally.add(traveller, leaks);
      history.add(stored.attemptOf(traveller, found.goesOn), measuredAgain(limits, leaks));
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
  await decided.requireFiles();
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
    history: history.result(),
  };
}

/** @returns what was measured again, in the limits' order of all characteristics */
export function measuredAgain(
  { characteristics }: ModelLimits,
  leaks: readonly ReplayedLeak[],
): (MeasuredAgain | undefined)[] {
  return characteristics.map(({ name, unit }) => {
    const after = leaks.find(({ characteristic }) => characteristic.name === name)?.after;
    if (!after || after.kind === "not measured") return after;
    const { verdict, value, uncertainty } = after.finding;
    const inSI = (shown: number | null) => (shown === null ? null : convert(shown, unit, "m3/s", "leakRate"));
    return { kind: "measured", verdict, value: inSI(value), uncertainty: inSI(uncertainty) };
  });
}

/** A reference orifice has no leak to measure again. */
function isOfOrifice({ kind, characteristics }: Traveller): boolean {
  return kind === "reference" && characteristics.some(({ measurand }) => measurand === "flow");
}

function noneYet(): Record<CalibrationOrigin, number> {
  return { "as made": 0, "today's": 0, none: 0 };
}
