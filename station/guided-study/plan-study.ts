import { DIMENSION_OF } from "../../limits/measurand.ts";
import type { Characteristic, ModelLimits } from "../../limits/model.ts";
import { parseQuantity, toUnit } from "../../limits/quantity.ts";
import type { ReferencePiece } from "../cycle/attempt.ts";
import { refuseChecks } from "../cycle/check-refusal.ts";
import { UsageError } from "../explain.ts";
import { nameKey, readName } from "../people/person-name.ts";
import { quoted } from "../shown-text.ts";
import { placeIn } from "../study-data/record-asked.ts";
import type { PlannedStudy } from "./planned-studies.ts";
import { MOST_RUNS, makeStudyPlan, type StudyPlan } from "./study-plan.ts";

/** What somebody asks to be planned, as typed. */
export interface PlanAsked {
  readonly study: PlannedStudy;
  readonly name: string;
  readonly characteristic: string | undefined;
  readonly parts: readonly string[];
  /** By serial: a value with or without its unit, or pass or fail. */
  readonly references: ReadonlyMap<string, string>;
  readonly appraisers: readonly string[];
  /** Undefined: as many as are usual. */
  readonly trials: number | undefined;
  readonly seed: number;
}

/** For which station it is planned, and by which limits. */
export interface PlannedFor {
  readonly station: string;
  readonly limits: ModelLimits;
  readonly limitFile: string;
  readonly pieces: readonly ReferencePiece[];
  readonly made_ms: number;
}

type Part = StudyPlan["parts"][number];

/** AIAG, Measurement Systems Analysis, 4th ed.: repeatability 3, bias 10 or more, agreement 3; type 1: common practice, no source. */
const USUAL_TRIALS: Readonly<Record<PlannedStudy, number>> = {
  repeatability: 3,
  type1: 25,
  bias: 10,
  agreement: 3,
};

/**
 * A plan out of what was typed. Reference pieces of the station come with their certified values.
 * @throws UsageError that names the option and says what to give
 */
export function planStudy(asked: PlanAsked, at: PlannedFor): StudyPlan {
  const { study, name, seed, trials = USUAL_TRIALS[study] } = asked;
  const { limits, limitFile } = at;
  const characteristic = characteristicAsked(asked, limits);
  const appraisers = appraisersAsked(asked.appraisers);
  requireEnough(study, asked.parts.length, trials);
  const parts = partsAsked(asked, at, characteristic);
  if (study === "agreement") requireAllKnownOrNone(parts);
  const runs = parts.length * appraisers.length * trials;
  if (runs > MOST_RUNS)
    throw new UsageError(`That would be ${runs} measurements, and a plan has ${MOST_RUNS} at most.`);
  return makeStudyPlan({
    ...{ name, study, station: at.station, model: limits.model },
    ...(characteristic ? judgedAs(characteristic) : {}),
    limit_file: { path: limitFile, revision: limits.revision, sha256: limits.source.sha256 },
    made_at: new Date(at.made_ms).toISOString(),
    ...{ seed, trials, appraisers, parts },
  });
}

function characteristicAsked(
  { study, characteristic: asked }: PlanAsked,
  { characteristics, model }: ModelLimits,
): Characteristic | null {
  const names = characteristics.map(({ name }) => name).join(", ");
  if (study === "agreement") {
    if (asked === undefined) return null;
    throw new UsageError("--characteristic: leave it out, an agreement study compares verdicts.");
  }
  if (asked === undefined) throw new UsageError(`Add --characteristic: ${model} has ${names}.`);
  const found = characteristics[placeIn(characteristics, asked)];
  if (found) return found;
  throw new UsageError(`--characteristic: found ${quoted(asked)}, and ${model} has ${names}.`);
}

function judgedAs({ name, measurand, unit, lower, upper }: Characteristic) {
  const inUnit = (value_SI: number) => asWritten(toUnit(value_SI, DIMENSION_OF[measurand], unit));
  return {
    ...{ characteristic: name, unit },
    ...(lower === undefined ? {} : { lower: inUnit(lower) }),
    ...(upper === undefined ? {} : { upper: inUnit(upper) }),
  };
}

function appraisersAsked(asked: readonly string[]): string[] {
  const names = asked.map((text) => {
    const name = readName(text);
    if (name === null)
      throw new UsageError(`--appraisers: ${quoted(text)} is no name. Give names like "A. Marsh,B. Reyes".`);
    return name;
  });
  requireEachOnce("--appraisers", names.map(nameKey));
  return names;
}

function partsAsked(
  { study, parts, references }: PlanAsked,
  { limits, pieces }: PlannedFor,
  characteristic: Characteristic | null,
): Part[] {
  requireEachOnce("--parts", parts);
  for (const serial of references.keys()) {
    if (!parts.includes(serial)) throw new UsageError(`--references: ${quoted(serial)} is none of --parts.`);
  }
  return parts.map((serial) => {
    const piece = pieces.find((one) => one.serial === serial);
    if (piece) requireMeasured(piece, limits, characteristic);
    else requireSerial(serial, limits);
    const given = references.get(serial);
    if (given !== undefined) return { serial, reference: referenceIn(given, serial, characteristic) };
    if (piece && characteristic) {
      const certified = toUnit(piece.certified_m3_s, "leakRate", characteristic.unit);
      return { serial, reference: asWritten(certified) };
    }
    if (study === "type1" || study === "bias")
      throw new UsageError(`--references: what is known of ${serial}? Give it like ${serial}=30.`);
    return { serial };
  });
}

function requireMeasured(piece: ReferencePiece, limits: ModelLimits, characteristic: Characteristic | null) {
  if (piece.model !== limits.model)
    throw new UsageError(
      `--parts: reference piece ${piece.serial} is of model ${piece.model}, not ${limits.model}.`,
    );
  if (!characteristic)
    throw new UsageError(
      `--parts: reference piece ${piece.serial} is judged by its certificate, and not as units are: give units.`,
    );
  if (characteristic.measurand !== "leak_rate" || piece.orifice)
    throw new UsageError(
      `--parts: on reference piece ${piece.serial} the station does not measure ${characteristic.name}: give units.`,
    );
}

function requireSerial(serial: string, limits: ModelLimits): void {
  if (!limits.serialPattern.test(serial)) {
    throw new UsageError(
      `--parts: ${quoted(serial)} is no serial of ${limits.model}, which looks like ${limits.serialExample}, and no reference piece of the station.`,
    );
  }
  const [wrong] = refuseChecks({ serial, parts: {} }, limits);
  if (wrong) throw new UsageError(`--parts: ${wrong.sentence}`);
}

function referenceIn(
  text: string,
  serial: string,
  characteristic: Characteristic | null,
): number | "pass" | "fail" {
  if (!characteristic) {
    if (text === "pass" || text === "fail") return text;
    throw new UsageError(`--references: found ${quoted(text)} for ${serial}, expected pass or fail.`);
  }
  const { measurand, unit } = characteristic;
  const plain = /^[-+]?\d+(\.\d+)?(e[-+]?\d+)?$/i.test(text) ? Number(text) : Number.NaN;
  if (Number.isFinite(plain)) return plain;
  const read = parseQuantity(text, DIMENSION_OF[measurand]);
  if (read.ok) return asWritten(toUnit(read.value.value_SI, DIMENSION_OF[measurand], unit));
  throw new UsageError(`--references: found ${quoted(text)} for ${serial}, expected a value in ${unit}.`);
}

function requireEnough(study: PlannedStudy, parts: number, trials: number): void {
  const isOfOne = study === "type1";
  if (isOfOne && parts !== 1)
    throw new UsageError(
      `--parts: a type 1 study measures one piece again and again, and ${parts} are given.`,
    );
  if ((study === "repeatability" || study === "agreement") && parts < 2)
    throw new UsageError("--parts: give two or more, better ten, that differ as production does.");
  if (trials < 2) throw new UsageError("--trials: give two or more: what is measured once shows no spread.");
}

function requireAllKnownOrNone(parts: readonly Part[]): void {
  const known = parts.filter(({ reference }) => reference !== undefined).length;
  if (known !== 0 && known !== parts.length)
    throw new UsageError("--references: say of all parts whether they pass or fail, or of none.");
}

function requireEachOnce(option: string, names: readonly string[]): void {
  if (names.length === 0) throw new UsageError(`${option}: give at least one.`);
  const twice = names.find((name, i) => names.indexOf(name) !== i);
  if (twice !== undefined) throw new UsageError(`${option}: ${quoted(twice)} is there twice.`);
}

/** A conversion leaves digits behind that nobody wrote. */
function asWritten(value: number): number {
  return Number(value.toPrecision(12));
}
