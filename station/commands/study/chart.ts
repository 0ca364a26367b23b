import { UsageError } from "../../explain.ts";
import { chartReport } from "../../quality/control-chart/chart-report.ts";
import type { ChartData, ChartKind } from "../../quality/control-chart/chart-study.ts";
import { chosenRules, type RunRule } from "../../quality/control-chart/run-rules.ts";
import { type CsvTable, nameIn, numberIn, readCsv } from "../../study-data/csv.ts";
import { presentStudy, type StudyOutput } from "../../study-page/present-study.ts";
import { isFromRecords, type RecordsArguments } from "./records-options.ts";

export interface ChartArguments extends StudyOutput, RecordsArguments {
  readonly kind: ChartKind;
  readonly target?: number | undefined;
  readonly sigma?: number | undefined;
  readonly width?: number | undefined;
  readonly baseline?: number | undefined;
  readonly rules?: string | undefined;
  readonly lambda?: number | undefined;
  readonly steadyLimits?: true | undefined;
  readonly allowance?: number | undefined;
  readonly decision?: number | undefined;
  readonly reset?: true | undefined;
  readonly of?: string | undefined;
  readonly unit?: string | undefined;
  readonly per?: "day" | "shift" | undefined;
}

/** @throws UsageError, NoStudy with what to do */
export async function studyChart(csv: string | undefined, args: ChartArguments): Promise<0 | 1> {
  const columns = COLUMNS[args.kind];
  const isRecorded = isFromRecords(csv, args);
  if (!isRecorded && csv === undefined)
    throw new UsageError(
      `Give a CSV file with ${columns.required.join(",")}, or - for standard input; or take them from --records.`,
    );
  checkOptions(args);
  const rules = args.rules === undefined ? undefined : namedRules(args.rules);
  if (isRecorded || csv === undefined) {
    const { chartOfRecords } = await import("./chart-of-records.ts");
    return chartOfRecords(args, rules);
  }
  const table = readCsv(csv, columns);
  const data = dataOf(table, args.kind);
  const labels =
    table.columns.has("label") && !("subgroups" in data)
      ? table.rows.map((row) => row.cells.label ?? "")
      : undefined;
  return presentStudy(chartReport(data, { ...args, rules, labels }), { ...args, source: table.path });
}

const OF_VALUES = { required: ["value"], optional: ["label"] };
const OF_SUBGROUPS = { required: ["subgroup", "value"] };

const COLUMNS: Readonly<
  Record<ChartKind, { readonly required: readonly string[]; readonly optional?: readonly string[] }>
> = {
  individuals: OF_VALUES,
  ewma: OF_VALUES,
  cusum: OF_VALUES,
  "xbar-r": OF_SUBGROUPS,
  "xbar-s": OF_SUBGROUPS,
  p: { required: ["count", "size"], optional: ["label"] },
  u: { required: ["count"], optional: ["size", "label"] },
};

const WITH_RULES: readonly ChartKind[] = ["individuals", "xbar-r", "xbar-s", "p", "u"];

/** Options that not every chart has, and which have them. */
const BELONGS: Readonly<Record<string, readonly ChartKind[]>> = {
  lambda: ["ewma"],
  steadyLimits: ["ewma"],
  allowance: ["cusum"],
  decision: ["cusum"],
  reset: ["cusum"],
  width: [...WITH_RULES, "ewma"],
  sigma: ["individuals", "xbar-r", "xbar-s", "ewma", "cusum"],
  rules: WITH_RULES,
};

function checkOptions(args: ChartArguments): void {
  for (const [name, kinds] of Object.entries(BELONGS)) {
    if (args[name as keyof ChartArguments] === undefined || kinds.includes(args.kind)) continue;
    const option = `--${name.replaceAll(/[A-Z]/g, (letter) => `-${letter.toLowerCase()}`)}`;
    throw new UsageError(
      `${option} says nothing for --kind ${args.kind}: it belongs to ${kinds.join(", ")}.`,
    );
  }
}

function namedRules(text: string): readonly RunRule[] {
  const chosen = chosenRules(text);
  if ("rules" in chosen) return chosen.rules;
  throw new UsageError(
    `--rules: ${JSON.stringify(chosen.fault)} is no rule's name, or the beginning of several; give names like "beyond, nine, two of three", or all. --help lists them.`,
  );
}

function dataOf(table: CsvTable, kind: ChartKind): ChartData {
  switch (kind) {
    case "individuals":
    case "ewma":
    case "cusum":
      return { kind, values: table.rows.map((row) => numberIn(table, row, "value")) };
    case "xbar-r":
    case "xbar-s":
      return { kind, subgroups: subgroupsOf(table) };
    default:
      return { kind, samples: samplesOf(table, kind) };
  }
}

function subgroupsOf(table: CsvTable): Subgroup[] {
  return grouped(
    table.rows.map((row) => ({
      name: nameIn(table, row, "subgroup"),
      value: numberIn(table, row, "value"),
    })),
  );
}

interface Subgroup {
  readonly name: string;
  readonly values: readonly number[];
}

/** Values of one name together, in the order in which the names first come. */
function grouped(named: readonly { readonly name: string; readonly value: number }[]): Subgroup[] {
  const groups = new Map<string, number[]>();
  for (const { name, value } of named) {
    const group = groups.get(name);
    if (group) group.push(value);
    else groups.set(name, [value]);
  }
  return [...groups].map(([name, values]) => ({ name, values }));
}

/** Held against what a count may be here, where the line of the file can be named. */
function samplesOf(table: CsvTable, kind: "p" | "u"): { readonly count: number; readonly size: number }[] {
  return table.rows.map((row) => {
    const count = numberIn(table, row, "count");
    const size = table.columns.has("size") ? numberIn(table, row, "size") : 1;
    const no = (what: string) => new UsageError(`${table.path}, line ${row.line}: ${what}.`);
    if (!(Number.isInteger(count) && count >= 0))
      throw no(`count is ${count}, expected a whole number from 0`);
    if (!(size > 0))
      throw no(`size is ${size}, expected a number above 0; take out lines in which nothing was looked at`);
    if (kind === "p" && !Number.isInteger(size))
      throw no(`size is ${size}, expected a whole number of units`);
    if (kind === "p" && count > size)
      throw no(
        `count is ${count} of ${size}: more can't fail than were tested. For several defects on a unit take --kind u`,
      );
    return { count, size };
  });
}
