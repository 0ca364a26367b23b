import { createHash } from "node:crypto";
import { readdirSync, readFileSync } from "node:fs";
import { extname, join } from "node:path";
import { z } from "zod";
import { parseLimit } from "./characteristic-checks.ts";
import { type FileProblem, FileProblems, readCheckedYaml } from "./checked-yaml.ts";
import { textOf, withContradictions } from "./faulty-file.ts";
import { conditionsText } from "./leak-rate.ts";
import { contradictions, statedReference } from "./limit-file-checks.ts";
import { type LimitFileText, limitFileShape } from "./limit-file-schema.ts";
import { DIMENSION_OF } from "./measurand.ts";
import type {
  AirflowCorrection,
  Characteristic,
  EarlyVerdictRule,
  LeakMethod,
  ModelLimits,
  Step,
  SuspectCondition,
  SuspectRule,
} from "./model.ts";
import { modelClashes } from "./model-clashes.ts";
import { findUnit, HOUSE_REFERENCE, type ReferenceConditions, UnitError } from "./quantity.ts";
import { ratedInputHighest_W } from "./rated-input.ts";
import { YamlSource } from "./yaml-source.ts";

/** The file or folder itself is not there or cannot be opened. */
export class UnreadableFile extends FileProblems {}

const limitFile = withContradictions(limitFileShape, contradictions);

/**
 * Reads the text of a limit file.
 * @param path named in problems and kept as the source
 * @throws FileProblems with every problem in the file
 */
export function readLimitFile(path: string, text: string): ModelLimits {
  const file = readCheckedYaml(path, text, limitFile);
  return modelLimits(file, { path, sha256: createHash("sha256").update(text, "utf8").digest("hex") });
}

/** @throws FileProblems; UnreadableFile when there is nothing to read */
export function loadLimitFile(path: string): ModelLimits {
  return readLimitFile(path, limitFileText(path));
}

/**
 * The text of a limit file, whose SHA-256 is that of its bytes.
 * @throws UnreadableFile when there is nothing to read, FileProblems when it is no UTF-8
 */
export function limitFileText(path: string): string {
  let bytes: Buffer;
  try {
    bytes = readFileSync(path);
  } catch (error) {
    throw new UnreadableFile([unreadable(path, error, "a limit file that can be read")]);
  }
  try {
    // Keeping the byte order mark keeps the text's SHA-256 that of the bytes.
    return new TextDecoder("utf-8", { fatal: true, ignoreBOM: true }).decode(bytes);
  } catch {
    throw new FileProblems([wholeFile(path, "bytes that are not UTF-8", "UTF-8 text")]);
  }
}

/** A limit file as people wrote it, beside what the station makes of it. */
export interface WrittenLimits {
  readonly limits: ModelLimits;
  /** Quantities in SI, except the characteristics' limits, which keep their text. */
  readonly checked: LimitFileText;
  /** The YAML's plain values. */
  readonly content: unknown;
}

/** @throws FileProblems with every problem in the file */
export function readWrittenLimits(path: string, text: string): WrittenLimits {
  const checked = readCheckedYaml(path, text, limitFile);
  return {
    limits: modelLimits(checked, { path, sha256: createHash("sha256").update(text, "utf8").digest("hex") }),
    checked,
    content: new YamlSource(text).content(),
  };
}

export type LimitFolder =
  | {
      readonly kind: "read";
      /** Of the files without a mistake, one revision of a model each, in the order of their names. */
      readonly models: readonly ModelLimits[];
      /** What the others say is their model; null when one doesn't even say that. */
      readonly faulty: readonly string[] | null;
      readonly problems: readonly FileProblem[];
    }
  | { readonly kind: "missing"; readonly error: FileProblems; readonly problem: FileProblem };

/** Reads all *.yaml files of a folder, also where some have mistakes. */
export function readLimitFolder(folder: string): LimitFolder {
  let all: string[];
  try {
    all = readdirSync(folder);
  } catch (error) {
    return missing(folder, error, "a folder of limit files");
  }
  const names = all.filter((name) => name.endsWith(".yaml"));
  const misnamed = all.filter((name) => /\.ya?ml$/i.test(name) && !name.endsWith(".yaml")).sort();
  if (names.length + misnamed.length === 0) {
    const problem = wholeFile(folder, "no *.yaml file", "one limit file per model");
    return { kind: "missing", error: new FileProblems([problem]), problem };
  }
  // Passed over, a model would be without its limits, or the next revision never taken up, and nobody would know why.
  const problems: FileProblem[] = misnamed.map((name) =>
    wholeFile(join(folder, name), `the ending ${extname(name)}`, "the ending .yaml of a limit file"),
  );
  const models: ModelLimits[] = [];
  const faulty: (string | undefined)[] = misnamed.map(() => undefined);
  for (const name of names.sort()) {
    const path = join(folder, name);
    try {
      models.push(loadLimitFile(path));
    } catch (error) {
      if (!(error instanceof FileProblems)) throw error;
      problems.push(...error.problems);
      faulty.push(error instanceof UnreadableFile ? undefined : statedModel(path));
    }
  }
  const stated = faulty.filter((model) => model !== undefined);
  return {
    kind: "read",
    models,
    faulty: stated.length === faulty.length ? stated : null,
    problems: [...problems, ...modelClashes(models)],
  };
}

/**
 * Reads all *.yaml files of a folder, one revision of a model each, in the order of their names.
 * @throws FileProblems with the problems of all files; also for a folder without any, for two files of one
 * revision, and for serials that fit two models
 */
export function loadLimitFolder(folder: string): readonly ModelLimits[] {
  const read = readLimitFolder(folder);
  if (read.kind === "missing") throw read.error;
  if (read.problems.length > 0) throw new FileProblems(read.problems);
  return read.models;
}

/** The JSON Schema (draft 2020-12) of a limit file as it is written, for editors. */
export function limitFileJsonSchema(): z.core.JSONSchema.BaseSchema {
  return z.toJSONSchema(limitFile, { target: "draft-2020-12", io: "input" });
}

function modelLimits(file: LimitFileText, source: ModelLimits["source"]): ModelLimits {
  const reference = statedReference(file);
  return {
    model: file.model,
    title: file.title,
    revision: file.revision,
    effectiveDate: file.effective_date,
    author: file.author,
    reason: file.reason,
    serialPattern: file.serial.pattern,
    serialCheck: file.serial.check ?? null,
    serialExample: file.serial.example,
    volume_m3: file.body.volume,
    volumeUncertainty_m3: file.body.volume_uncertainty,
    ratedPressure_Pa: file.body.rated_pressure,
    steps: file.steps.map(stepOf),
    characteristics: file.characteristics.map((entry) => characteristicOf(entry, reference)),
    suspects: (file.suspects ?? []).map(suspectOf),
    retest: {
      afterFail: file.retest.after_fail,
      afterVoid: file.retest.after_void,
      reasons: file.retest.reasons ?? [],
      pause_s: file.retest.pause ?? 0,
    },
    parts: file.parts.map((part) => ({ ...part, check: part.check ?? null })),
    source,
  };
}

type LeakStepText = Extract<LimitFileText["steps"][number], { step: "leak" }>;

function stepOf(step: LimitFileText["steps"][number]): Step {
  if (step.step === "leak") {
    return {
      kind: "leak",
      name: step.name,
      testPressure_Pa: step.test_pressure,
      fillTolerance_Pa: step.fill_tolerance,
      fillShortest_s: step.fill_shortest,
      fillLongest_s: step.fill_longest,
      settle_s: step.settle,
      method: methodOf(step.method),
      measureLongest_s: step.measure_longest,
      earlyVerdict: step.early_verdict === "off" ? null : earlyVerdictOf(step.early_verdict),
      ventedWithin_Pa: step.vented_within,
      ventShortest_s: step.vent_shortest,
      ventLongest_s: step.vent_longest,
      ifFailed: step.if_failed,
    };
  }
  return {
    kind: "airflow",
    name: step.name,
    supplyVoltage_V: step.supply_voltage,
    supplyTolerance_V: step.supply_tolerance,
    runningAbove_W: step.running_above,
    stoppedBelow_W: step.stopped_below,
    powerHighest_W: step.power_highest,
    inrushLongest_s: step.inrush_longest,
    runUpLongest_s: step.run_up_longest,
    steady: { within: step.steady.within, window_s: step.steady.window, ahead_s: step.steady.ahead },
    points: step.points.map((point) => ({
      name: point.name,
      orifice: point.orifice,
      knownWithin: point.known_within,
      samplesLeast: point.samples_least,
      holdLongest_s: point.hold_longest,
    })),
    coastLongest_s: step.coast_longest,
    correction: step.correction === "off" ? null : correctionOf(step.correction),
  };
}

type AirflowStepText = Extract<LimitFileText["steps"][number], { step: "airflow" }>;

function correctionOf(correction: Exclude<AirflowStepText["correction"], "off">): AirflowCorrection {
  return {
    speedPerDensity: correction.speed_per_density,
    speedPerVoltage: correction.speed_per_voltage,
    exponentUncertainty: correction.exponent_uncertainty,
  };
}

function suspectOf(rule: NonNullable<LimitFileText["suspects"]>[number]): SuspectRule {
  return { cause: rule.cause, lookAt: rule.look_at, when: rule.when.map(conditionOf) };
}

function conditionOf(
  condition: NonNullable<LimitFileText["suspects"]>[number]["when"][number],
): SuspectCondition {
  if (condition.kind !== "ratio") return condition;
  const { at_least, at_most, ...rest } = condition;
  return {
    ...rest,
    ...(at_least === undefined ? {} : { atLeast: at_least }),
    ...(at_most === undefined ? {} : { atMost: at_most }),
  };
}

function methodOf(method: LeakStepText["method"]): LeakMethod {
  if (method.kind === "fitted") return { kind: "fitted" };
  return { kind: method.kind, subtractsMeanCurve: method.subtract_mean_curve };
}

function earlyVerdictOf(rule: Exclude<LeakStepText["early_verdict"], "off">): EarlyVerdictRule {
  return {
    measureShortest_s: rule.measure_shortest,
    lookEvery_s: rule.look_every,
    falseAccept: rule.false_accept,
    falseReject: rule.false_reject,
  };
}

function characteristicOf(
  entry: LimitFileText["characteristics"][number],
  reference: ReferenceConditions | undefined,
): Characteristic {
  const read = (text: string) => {
    const parsed = parseLimit(text, entry.measure, reference);
    if (!parsed.ok) throw new UnitError(parsed); // the schema's checks have let it through
    return parsed.value;
  };
  const lower = entry.lower === undefined ? undefined : read(entry.lower);
  const upper = entry.upper === undefined ? undefined : read(entry.upper);
  const rated_W = entry.rated_input;
  return {
    name: entry.name,
    step: entry.step,
    measurand: entry.measure,
    ...(entry.point === undefined ? {} : { point: entry.point }),
    ...(lower === undefined ? {} : { lower: lower.value_SI }),
    ...(upper === undefined ? {} : { upper: upper.value_SI }),
    ...(rated_W === undefined ? {} : { upper: ratedInputHighest_W(rated_W), ratedInput_W: rated_W }),
    unit: shownUnit((upper ?? lower)?.unit.symbol ?? "W", entry.measure, reference),
    rule: entry.rule,
  };
}

/**
 * The unit values are shown in: a leak rate at the house reference goes without its conditions, as everywhere in
 * the program; at another reference it carries them.
 */
function shownUnit(
  symbol: string,
  measure: Characteristic["measurand"],
  reference: ReferenceConditions | undefined,
): string {
  if (measure !== "leak_rate") return symbol;
  const stated =
    symbol.includes("@") || reference === undefined ? symbol : `${symbol} @ ${conditionsText(reference)}`;
  const [bare = ""] = stated.split(" @");
  const [full, house] = [
    findUnit(stated, DIMENSION_OF[measure], { reference: HOUSE_REFERENCE }),
    findUnit(bare, DIMENSION_OF[measure], { reference: HOUSE_REFERENCE }),
  ];
  if (!full.ok) return symbol;
  const same =
    house.ok &&
    house.value.numerator === full.value.numerator &&
    house.value.denominator === full.value.denominator;
  return same ? bare : full.value.symbol;
}

function unreadable(path: string, error: unknown, expected: string): FileProblem {
  const code = error instanceof Error && "code" in error ? String(error.code) : String(error);
  return wholeFile(path, FOUND[code] ?? `something unreadable (${code})`, expected);
}

const FOUND: Readonly<Record<string, string>> = {
  ENOENT: "nothing of that name",
  EISDIR: "a folder",
  ENOTDIR: "a file",
  EACCES: "something that may not be read",
};

function missing(folder: string, error: unknown, expected: string): LimitFolder {
  const problem = unreadable(folder, error, expected);
  return { kind: "missing", error: new UnreadableFile([problem]), problem };
}

/** @returns the model a faulty limit file says it is of */
function statedModel(path: string): string | undefined {
  const source = new YamlSource(readFileSync(path, "utf8"));
  return source.isReadable ? textOf(source.content(), "model") : undefined;
}

function wholeFile(file: string, found: string, expected: string): FileProblem {
  return { file, line: 1, column: 1, path: "", found, expected };
}
