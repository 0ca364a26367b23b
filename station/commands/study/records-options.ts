import { type Command, InvalidArgumentError, Option } from "@commander-js/extra-typings";
import { UsageError } from "../../explain.ts";
import type { RecordsQuery } from "../../study-data/record-asked.ts";
import { calendarDate } from "./calendar-date.ts";

/** What every study from records may be given. */
export interface FromRecordsArguments {
  readonly records?: string | undefined;
  readonly station?: string | undefined;
  readonly model?: string | undefined;
  readonly characteristic?: string | undefined;
  readonly from?: string | undefined;
  readonly to?: string | undefined;
  readonly shift?: string | undefined;
  readonly at?: string | undefined;
  readonly drafts?: true | undefined;
}

/** What `withRecordsOptions` adds to a study of units. */
export interface RecordsArguments extends FromRecordsArguments {
  readonly part?: readonly (readonly [string, string])[] | undefined;
  readonly passed?: true | undefined;
  readonly allAttempts?: true | undefined;
  readonly by?: string | undefined;
}

/** What `withReferenceOptions` adds to a study of reference pieces. */
export interface ReferenceArguments extends FromRecordsArguments {
  readonly piece?: string | undefined;
}

/** Options of a study that may take units' values from records instead of a CSV file. */
export function withRecordsOptions(command: Command) {
  return withPartOption(command)
    .option("--passed", "from records: only units that passed, so that a few gross leaks hide nothing")
    .option("--all-attempts", "from records: repeats, too, and not only each unit's first valid test")
    .option(
      "--by <what>",
      "from records: group by station, shift, day, model or a tracked part (tub_cavity, or lot)",
    );
}

/** Options of a study that may take tests of units from records, whichever of a unit's. */
export function withPartOption(command: Command) {
  return withFromRecords(command).addOption(
    new Option(
      "--part <name=value>",
      "from records: only units with this tracked part; may be repeated",
    ).argParser(partIs),
  );
}

/** Options of a study that may take readings of reference pieces from records. */
export function withReferenceOptions(command: Command) {
  return withFromRecords(command).option(
    "--piece <serial>",
    "from records: only this reference piece, like REF-LEAK-TUB-12",
  );
}

/** Options of every study from records. */
function withFromRecords(command: Command) {
  return command
    .option("--records <dir>", "take the values from this records folder, or the station file's")
    .option("--station <file>", "station file: its records folder, and when its shifts begin")
    .option(
      "--model <name>",
      "from records: the model; several, commas between, with --by model (chart, compare)",
    )
    .option("--characteristic <name>", "from records: what was judged, as the limit file names it: leak_rate")
    .addOption(
      new Option("--from <date>", "from records: first day, like 2026-01-05").argParser(calendarDate),
    )
    .addOption(new Option("--to <date>", "from records: last day").argParser(calendarDate))
    .option("--shift <begin>", "from records: only the shift that begins then, like 06:00")
    .option("--at <station>", "from records: only tests at the station of this name")
    .option("--drafts", "from records: tests on draft limits, too");
}

/** @returns whether the values are to come from records; undefined CSV and no records is for the study to refuse */
export function isFromRecords(
  csv: string | undefined,
  { records, station, model }: FromRecordsArguments,
): boolean {
  const asks = records !== undefined || station !== undefined || model !== undefined;
  if (asks && csv !== undefined) {
    throw new UsageError("Give a CSV file or --records, not both: the values come from one of them.");
  }
  return asks;
}

/** @throws UsageError where something is missing, with what to add */
export async function recordsQueryOf(
  args: RecordsArguments & { readonly per?: "day" | "shift" | undefined },
): Promise<RecordsQuery> {
  const { characteristic } = args;
  if (characteristic === undefined) {
    throw new UsageError("Add --characteristic, as the limit file names it, like leak_rate.");
  }
  return { ...(await testsQueryOf(args)), characteristic, passedOnly: args.passed === true };
}

/** @throws UsageError where something is missing, with what to add */
export async function testsQueryOf(
  args: RecordsArguments & { readonly per?: "day" | "shift" | undefined },
): Promise<Omit<RecordsQuery, "characteristic">> {
  const { model, from, to, shift, by, per, at } = args;
  if (model === undefined) throw new UsageError("Add --model: from records a study is about one model.");
  if (from !== undefined && to !== undefined && from > to) {
    throw new UsageError(`--from ${from} is after --to ${to}.`);
  }
  if (by?.trim() === "") throw new UsageError("--by: give station, shift, day, model or a tracked part.");
  const { readStationFileAlone } = await import("../../load-station.ts");
  const station = args.station === undefined ? undefined : readStationFileAlone(args.station);
  const shifts = station?.shifts ?? [];
  if (shifts.length === 0 && (shift !== undefined || by?.toLowerCase() === "shift" || per === "shift")) {
    throw new UsageError("Give the station file with --station: only one with shifts says when they begin.");
  }
  if (shift !== undefined && !shifts.includes(shift)) {
    throw new UsageError(`--shift ${shift}: this station's shifts begin at ${shifts.join(", ")}.`);
  }
  return {
    folder: args.records ?? station?.recordsFolder ?? "records",
    model,
    ...{ from, to, shift, shifts, by, per, at },
    parts: new Map(args.part ?? []),
    attempts: args.allAttempts ? "all" : "first",
    withDrafts: args.drafts === true,
  };
}

function partIs(
  text: string,
  before: readonly (readonly [string, string])[] = [],
): (readonly [string, string])[] {
  const at = text.indexOf("=");
  if (at < 1 || at === text.length - 1) {
    throw new InvalidArgumentError("Give a tracked part and its value, like tub_cavity=T1.");
  }
  return [...before, [text.slice(0, at), text.slice(at + 1)]];
}
