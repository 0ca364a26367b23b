import { Command, InvalidArgumentError, Option } from "@commander-js/extra-typings";
import type { LeakMethod } from "../../limits/model.ts";
import { UsageError } from "../explain.ts";
import type { LimitOverrides } from "../limit-overrides.ts";
import type { StudyReport } from "../quality/study-report.ts";
import type { TravellerQuery } from "../records/model-travellers.ts";
import type { ReplayReport } from "../replay-records.ts";
import type { StationFile } from "../station-file.ts";
import type { WhatIfReport } from "../what-if/replay-values.ts";
import type { ReplayHead } from "../what-if/what-if-report.ts";

const METHODS = ["fitted", "slope", "difference"] as const satisfies readonly LeakMethod["kind"][];

interface ReplayOptions {
  readonly fromCurves?: true;
  readonly records?: string;
  readonly station?: string;
  readonly from?: string;
  readonly to?: string;
  readonly serial?: string;
  readonly references?: true;
  readonly method?: (typeof METHODS)[number];
  readonly subtractMeanCurve?: true;
  readonly settle?: string;
  readonly measure?: string;
  readonly limit?: string;
  readonly list?: true;
  readonly json?: true;
  readonly html?: string;
}

/**
 * `drumtight limits replay`: 0 replayed, 1 nothing to replay or a traveller is broken, 2 used wrongly or cannot run.
 */
export function replayCommand() {
  return new Command("replay")
    .description(
      "judge what is recorded of a model again, or measure its stored curves again: what these limits would have changed",
    )
    .argument("<file>", "limit file (YAML), approved or not: nothing is judged for production")
    .option("--from-curves", "measure the leak rate again from the stored curves, with these settings")
    .option(
      "--records <dir>",
      "records folder, instead of the station file's; a station may be writing to it",
    )
    .option("--station <file>", "station file the travellers were made with, instead of the demo station's")
    .addOption(
      new Option("--from <date>", "first day of the attempts, like 2026-01-05").argParser(calendarDate),
    )
    .addOption(new Option("--to <date>", "last day of the attempts").argParser(calendarDate))
    .option("--serial <serial>", "this unit only")
    .option(
      "--references",
      "with --from-curves: attempts on reference pieces too, each in a table of its own, judged by its certificate",
    )
    .addOption(new Option("--method <name>", "with --from-curves: another method").choices(METHODS))
    .option("--subtract-mean-curve", "with slope or difference: take the learned mean curve off first")
    .option("--settle <time>", "with --from-curves: another settling time")
    .option("--measure <time>", "with --from-curves: another longest measuring time")
    .option("--limit <rate>", "another upper limit of the leak rate")
    .option("--list", "name every changed unit; with --from-curves, every attempt")
    .option("--json", "print one JSON object")
    .option("--html <file>", "write a page of its own with the figures, charts and changed units")
    .addHelpText(
      "after",
      `
Nothing is written and no lock is taken. Each recorded value is judged by these limits with the uncertainty that was recorded
with it; by the limits that judged it, every verdict is the recorded one. What values can't tell is counted and named: what was
never measured, or was measured with other times or another method. Drafts, reference pieces and held tests are left out.

With --from-curves each curve goes through the station's own watchers, looks and judging; with the limits it was made with, it
gives the recorded value and verdict to the last digit. A curve that ends before the new timing does (an early verdict had ended
it) is counted as too short and not guessed. Bodies that could not be filled keep their verdict. What had been learned of the
model when a traveller was made is used again; where that file is gone, or the method needs a settle calibration and there was
none, today's. Only leak rates are measured again; everything else of a unit is judged again from its recorded value.
--method replaces the whole method: a mean curve is subtracted only with --subtract-mean-curve, and slope and difference have no
early verdict.

Examples:
  drumtight limits replay tub-12.yaml --station station.yaml --from 2026-01-01 --to 2026-01-31
  drumtight limits replay tub-12.yaml --from-curves --station station.yaml --from 2026-01-01
  drumtight limits replay pod-4.yaml --from-curves --records records --settle "10 s" --limit "20 mL/min"`,
    )
    .action(async (file, options) => {
      process.exitCode = await replay(file, options);
    });
}

function calendarDate(text: string): string {
  const at = /^\d{4}-\d{2}-\d{2}$/.test(text) ? new Date(text) : new Date(Number.NaN);
  if (Number.isNaN(at.getTime()) || at.toISOString().slice(0, text.length) !== text) {
    throw new InvalidArgumentError("Give a date like 2026-01-05.");
  }
  return text;
}

async function replay(file: string, options: ReplayOptions): Promise<0 | 1> {
  if (!options.fromCurves) requireNoCurves(options);
  const { from, to, serial } = options;
  if (from !== undefined && to !== undefined && from > to) {
    throw new UsageError(`--from ${from} is after --to ${to}.`);
  }
  const { loadLimitFile } = await import("../../limits/limit-file.ts");
  const { withOverrides } = await import("../limit-overrides.ts");
  const { limitRevisions } = await import("../models-in-force.ts");
  const { readStationFileAlone } = await import("../load-station.ts");
  const inFile = loadLimitFile(file);
  const overrides = overridesOf(options);
  const isAsWritten = Object.keys(overrides).length === 0 && !options.fromCurves;
  const limits = isAsWritten ? inFile : withOverrides(inFile, overrides);
  const stationPath = options.station ?? (await demoStation());
  const station = readStationFileAlone(stationPath);
  const recordsFolder = options.records ?? station.recordsFolder;
  const query = {
    ...(from === undefined ? {} : { from }),
    ...(to === undefined ? {} : { to }),
    ...(serial === undefined ? {} : { serial }),
  };
  const [inForce] = limitRevisions([inFile], station.approvers);
  const head: ReplayHead = {
    limits,
    approvedBy: inForce?.approvedBy ?? null,
    changes: changesOf(options),
    recordsFolder,
    stationPath,
  };
  return options.fromCurves
    ? measuredAgain(head, station, query, options)
    : judgedAgain(head, station, query, options);
}

function requireNoCurves(options: ReplayOptions): void {
  const { limit: _, ...measured } = overridesOf(options);
  const asked = Object.keys({ ...measured, ...(options.references ? { references: true } : {}) }).map(
    optionName,
  );
  if (asked.length === 0) return;
  throw new UsageError(
    `${asked.join(" and ")} ${asked.length === 1 ? "asks" : "ask"} for measuring again: add --from-curves. Without it the recorded values are judged again.`,
  );
}

async function judgedAgain(
  head: ReplayHead,
  station: StationFile,
  query: Omit<TravellerQuery, "model">,
  options: ReplayOptions,
): Promise<0 | 1> {
  const { replayValues } = await import("../what-if/replay-values.ts");
  const keepAll = options.list === true;
  const report = await withProgress((progress) =>
    replayValues({
      limits: head.limits,
      recordsFolder: head.recordsFolder,
      query,
      shifts: station.shifts,
      keepAll,
      progress,
    }),
  );
  if (report.attempts > 0) {
    const { valuesReport } = await import("../what-if/what-if-report.ts");
    await present(valuesReport(head, report, keepAll), head, options);
  }
  say([...brokenLines(report.broken), ...valueHints(head, report)]);
  return report.broken.length > 0 || report.attempts === 0 ? 1 : 0;
}

/** Progress on a line of its own, where somebody sees it, and an empty line afterwards. */
async function withProgress<T>(
  work: (progress: (done: number, of: number) => void) => Promise<T>,
): Promise<T> {
  if (process.stderr.isTTY !== true) return work(() => undefined);
  process.stderr.write("reading records");
  try {
    return await work((done, of) => {
      const part = of > 0 ? ` (${Math.floor((100 * done) / of)} %)` : "";
      process.stderr.write(`\r\u001b[K${done} of ${of} records${part}`);
    });
  } finally {
    process.stderr.write("\r\u001b[K");
  }
}

async function present(report: StudyReport, head: ReplayHead, options: ReplayOptions): Promise<void> {
  const { presentStudy } = await import("../study-page/present-study.ts");
  const { json, html, from, to } = options;
  const days = [from === undefined ? "" : ` from ${from}`, to === undefined ? "" : ` to ${to}`].join("");
  await presentStudy(report, { json, html, source: `${head.recordsFolder}${days}` });
}

function say(lines: readonly string[]): void {
  process.stderr.write(lines.map((line) => `${line}\n`).join(""));
}

function valueHints({ limits, recordsFolder }: ReplayHead, { attempts, source }: WhatIfReport): string[] {
  return [
    ...(attempts === 0
      ? [`No attempt of ${limits.model} in ${recordsFolder}: check the folder, the dates and the serial.`]
      : []),
    ...(source.indexed > source.records
      ? [
          `The index of ${recordsFolder} knows ${source.indexed} records, and ${source.records} are there: look with drumtight audit.`,
        ]
      : []),
  ];
}

async function measuredAgain(
  head: ReplayHead,
  station: StationFile,
  query: Omit<TravellerQuery, "model">,
  options: ReplayOptions,
): Promise<0 | 1> {
  const { replayRecords } = await import("../replay-records.ts");
  const keepAll = options.list === true;
  const report = await withProgress((progress) =>
    replayRecords({
      limits: head.limits,
      recordsFolder: head.recordsFolder,
      stationPath: head.stationPath,
      station,
      now_ms: Date.now(),
      query,
      withReferences: options.references === true,
      keepAll,
      progress,
    }),
  );
  if (report.attempts > 0) {
    const { curvesReport } = await import("../what-if/what-if-report.ts");
    await present(curvesReport(head, report, keepAll), head, options);
  }
  say([...complaints(head, report), ...hints(head, report, station.name)]);
  return report.broken.length > 0 || report.attempts === 0 ? 1 : 0;
}

async function demoStation(): Promise<string> {
  const { relative } = await import("node:path");
  const { demoStationPath } = await import("../wiring.ts");
  const path = demoStationPath();
  const here = relative("", path);
  return here.startsWith("..") ? path : here;
}

function overridesOf({ method, subtractMeanCurve, settle, measure, limit }: ReplayOptions): LimitOverrides {
  return {
    ...(method === undefined ? {} : { method }),
    ...(subtractMeanCurve ? { subtractMeanCurve } : {}),
    ...(settle === undefined ? {} : { settle }),
    ...(measure === undefined ? {} : { measure }),
    ...(limit === undefined ? {} : { limit }),
  };
}

function changesOf(options: ReplayOptions): string[] {
  return Object.entries(overridesOf(options)).map(([name, value]) =>
    value === true ? optionName(name) : `${optionName(name)} ${value}`,
  );
}

/** @example optionName("fromCurves") // "--from-curves" */
function optionName(name: string): string {
  return `--${name.replace(/[A-Z]/g, (letter) => `-${letter.toLowerCase()}`)}`;
}

/** What makes the exit code 1. */
function complaints({ limits, recordsFolder }: ReplayHead, report: ReplayReport): string[] {
  const broken = brokenLines(report.broken);
  if (report.attempts > 0) return broken;
  const only = report.referencesLeftOut > 0 ? ` but of reference pieces (--references takes them too)` : "";
  return [
    ...broken,
    `No attempt of ${limits.model} to replay in ${recordsFolder}${only}: check the folder, the dates and the serial.`,
  ];
}

function brokenLines(broken: ReplayReport["broken"]): string[] {
  return broken.map(
    ({ path, problem }) =>
      `${path} is not as it was recorded and was left out: ${problem}. Tell the quality engineer.`,
  );
}

/** What a reader of the figures should know. */
function hints({ limits, stationPath }: ReplayHead, report: ReplayReport, stationName: string): string[] {
  const isUnlearned = report.leaks.some(({ counts }) =>
    Object.values(counts).some((row) => row["no settle calibration"] > 0),
  );
  return [
    ...[...report.otherStations].map(
      ([name, count]) =>
        `${count} ${count === 1 ? "attempt was" : "attempts were"} made on the station ${JSON.stringify(name)}, and are measured with what ${stationPath} knows of ${JSON.stringify(stationName)}: give that station's file with --station.`,
    ),
    ...(isUnlearned
      ? [
          ...report.calibrationProblems,
          `This method needs to know how ${limits.model} settles: run drumtight study settle --model ${limits.model} first.`,
        ]
      : []),
  ];
}
