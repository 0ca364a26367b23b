import { Command } from "@commander-js/extra-typings";
import type { FileProblem } from "../../limits/checked-yaml.ts";
import type { ModelLimits } from "../../limits/model.ts";
import type { LimitStation } from "../limit-warnings.ts";
import type { E2930Rule } from "../measure/leak/e2930.ts";
import { complain, print, type ReadResult, readOne } from "./one-limit-file.ts";

const DONE = 0;
const CHECK_FAILED = 1;

/** `drumtight limits check`: 0 good files, whatever is doubtful about them; 1 mistakes; 2 a file can't be read. */
export function checkCommand() {
  return new Command("check")
    .description("name every mistake in limit files: file, line, column, found, expected")
    .argument("<file...>", "limit files (YAML)")
    .option(
      "--station <file>",
      "also name orifices this station has not, and warn of leak limits too fine for it (YAML)",
    )
    .option("--records <dir>", "records folder: also warn of a revision number that has judged units already")
    .option("--json", "one JSON object per file")
    .addHelpText(
      "after",
      "\nWarns of what a colleague would ask about; a warning leaves the exit code 0. With --station: limits tighter than" +
        "\nthe station's uncertainty, measuring times too short, the rules of ASTM E2930, revisions against its own." +
        "\n\nExample:\n  $ drumtight limits check limits/models/tub-12.yaml --station station.yaml",
    )
    .action(async (files, { station: stationPath, records, json }) => {
      const { limitWarnings } = await import("../limit-warnings.ts");
      const { judgedRevisions } = await import("../judged-revisions.ts");
      const { revisionWarnings } = await import("../revision-warnings.ts");
      const { describeProblem } = await import("../../limits/checked-yaml.ts");
      const stationFor = stationPath === undefined ? null : await openStation(stationPath);
      const { clashesWith } = await import("../../limits/model-clashes.ts");
      const unchecked = new Set<E2930Rule>();
      const beside = [...(stationFor?.limits ?? [])];
      process.exitCode = DONE;
      for (const file of files) {
        const read = await readOne(file);
        const unfit = read.ok
          ? [...(stationFor?.unfit(read.limits) ?? []), ...clashesWith(read.limits, beside)]
          : [];
        if (read.ok) beside.push(read.limits);
        const result: ReadResult =
          unfit.length === 0
            ? read
            : { ok: false, exitCode: CHECK_FAILED, problems: unfit, sentences: unfit.map(describeProblem) };
        if (!result.ok) {
          process.exitCode = Math.max(Number(process.exitCode), result.exitCode);
          if (json) print(JSON.stringify({ file, ok: false, problems: result.problems }));
          else complain(result.sentences);
          continue;
        }
        const { model, revision, source } = result.limits;
        const judged = records === undefined ? [] : await judgedRevisions(records, model);
        const ofStation = limitWarnings(result.limits, stationFor?.known(result.limits) ?? null);
        const doubts = {
          ...ofStation,
          warnings: [
            ...ofStation.warnings,
            ...revisionWarnings(result.limits, stationFor?.inForce(model) ?? null, judged),
          ],
        };
        for (const rule of doubts.unchecked) unchecked.add(rule);
        if (json) {
          print(JSON.stringify({ file, ok: true, model, revision, sha256: source.sha256, ...doubts }));
          continue;
        }
        print(`${file}: OK, ${model} revision ${revision}`);
        for (const { characteristic, sentence } of doubts.warnings) {
          complain([`${file}: warning: ${characteristic === null ? "" : `${characteristic}: `}${sentence}`]);
        }
        if (doubts.not_foreseen?.length) {
          complain([
            `${file}: not held against the station's uncertainty: ${doubts.not_foreseen.join(", ")}. No limit of the file tells suction and flow there.`,
          ]);
        }
      }
      if (!json) complain(uncheckedSentences(unchecked, stationFor !== null));
    });
}

interface StationOfLimits {
  /** What lies in its folder without a mistake. */
  readonly limits: readonly ModelLimits[];
  /** The limits of a model that the station has now; null where it has none. */
  inForce(model: string): ModelLimits | null;
  /** What the station knows of a model. */
  known(limits: ModelLimits): LimitStation;
  /** What a limit file asks for and the station has not, at its places. */
  unfit(limits: ModelLimits): readonly FileProblem[];
}

async function openStation(path: string): Promise<StationOfLimits> {
  const { readStationFileAlone } = await import("../load-station.ts");
  const { calibrationsInForce, misnamedCalibrations } = await import("../calibrations-in-force.ts");
  const { readLimitFolder } = await import("../../limits/limit-file.ts");
  const { orificeProblems } = await import("../limit-orifices.ts");
  const { NOT_CALIBRATED } = await import("../cycle/attempt.ts");
  const { byModel } = await import("../../limits/revisions.ts");
  const { limitsOn } = await import("../models-in-force.ts");
  const { calendarDate } = await import("../calendar-date.ts");
  const station = readStationFileAlone(path);
  const folder = readLimitFolder(station.limitsFolder);
  // Without its limit files nobody can say which models the station has.
  if (folder.kind === "read" && folder.problems.length === 0) {
    const models = [...byModel(folder.models).keys()];
    complain(misnamedCalibrations(path, models).map(({ sentence }) => sentence));
  }
  const known = (limits: ModelLimits) => {
    const found = calibrationsInForce(path, station, [limits], Date.now()).get(limits.model);
    complain(found?.problems.map(({ sentence }) => sentence) ?? []);
    return { knowledge: station.knowledge, calibration: found ?? NOT_CALIBRATED };
  };
  const judging =
    folder.kind === "read" ? limitsOn(folder.models, station.approvers, calendarDate(Date.now())) : [];
  const inForce = (model: string) => judging.find((limits) => limits.model === model) ?? null;
  const limits = folder.kind === "read" ? folder.models : [];
  return {
    limits,
    known,
    inForce,
    unfit: (limits) => orificeProblems(limits, [...station.orificeOutputs.keys()]),
  };
}

/** Said once, however many files there are. */
function uncheckedSentences(rules: ReadonlySet<E2930Rule>, hasStation: boolean): string[] {
  if (rules.size === 0) return [];
  const remedy = hasStation
    ? "First learn on the tight reference piece how the body settles: drumtight study settle."
    : "They depend on the station: add --station FILE.";
  return [`Not checked of ASTM E2930: ${[...rules].join(", ")}. ${remedy}`];
}
