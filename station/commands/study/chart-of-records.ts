import { UsageError } from "../../explain.ts";
import { type ChartedGroup, chartByGroup } from "../../quality/control-chart/chart-by-group.ts";
import { chartReport } from "../../quality/control-chart/chart-report.ts";
import type { ChartKind } from "../../quality/control-chart/chart-study.ts";
import type { RunRule } from "../../quality/control-chart/run-rules.ts";
import { groupedByName } from "../../quality/grouped.ts";
import type { StudyReport } from "../../quality/study-report.ts";
import type { RecordedValues } from "../../study-data/from-records.ts";
import type { VerdictCount } from "../../study-data/verdict-counts.ts";
import { presentStudy } from "../../study-page/present-study.ts";
import type { ChartArguments } from "./chart.ts";
import { recordsQueryOf, testsQueryOf } from "./records-options.ts";

/**
 * A control chart of what stations have recorded, in the order of recording. What `--per` asks for makes the points of charts of
 * subgroups and counts, and `--by` then a chart for each group; without `--per` the points are by `--by`.
 */
export async function chartOfRecords(
  args: ChartArguments,
  rules: readonly RunRule[] | undefined,
): Promise<0 | 1> {
  const { kind } = args;
  if (kind === "p" || kind === "u") return chartOfVerdicts({ ...args, kind }, rules);
  const isGrouped = kind === "xbar-r" || kind === "xbar-s";
  if (isGrouped && args.by === undefined && args.per === undefined)
    throw new UsageError(
      "Add --per day or --per shift, or --by, what makes a subgroup: a lot, another tracked part, or station.",
    );
  if (!isGrouped && args.per !== undefined)
    throw new UsageError(`--per says nothing for --kind ${kind}: each value is a point of its own.`);
  const { by, per } = pointsAndGroups(args);
  const { valuesOfModels } = await import("../../study-data/several-models.ts");
  const query = await recordsQueryOf({ ...args, by, per });
  const found = await valuesOfModels(query);
  const options = { ...args, rules, unit: args.unit ?? found.unit, of: args.of ?? found.subject };
  const report =
    by === undefined || (isGrouped && per === undefined)
      ? ungrouped(kind, found, options)
      : chartByGroup(groupsOf(kind, found), found.by ?? by, options);
  return presentStudy(
    { ...report, notes: [...report.notes, ...found.notes] },
    { ...args, source: found.source },
  );
}

/** A day or a shift makes points in time, whatever option it is given by. */
function pointsAndGroups({ kind, by, per }: Pick<ChartArguments, "kind" | "by" | "per">) {
  const hasPoints = kind === "xbar-r" || kind === "xbar-s" || kind === "p" || kind === "u";
  const time = by?.toLowerCase();
  return hasPoints && per === undefined && (time === "day" || time === "shift")
    ? { by: undefined, per: time as "day" | "shift" }
    : { by, per };
}

type ValueKind = Exclude<ChartKind, "p" | "u">;
type Options = Parameters<typeof chartReport>[1];

function ungrouped(kind: ValueKind, found: RecordedValues, options: Options): StudyReport {
  if (kind === "xbar-r" || kind === "xbar-s") {
    const names = found.by === undefined ? found.periods : found.groups;
    return chartReport({ kind, subgroups: subgroupsOf(names, found.values) }, options);
  }
  return chartReport({ kind, values: found.values }, { ...options, labels: found.serials });
}

function groupsOf(kind: ValueKind, found: RecordedValues): ChartedGroup[] {
  const places = new Map<string, number[]>();
  for (const [i, group] of found.groups.entries()) {
    const known = places.get(group);
    if (known) known.push(i);
    else places.set(group, [i]);
  }
  return [...places].sort(byName).map(([name, its]) => {
    const values = its.map((i) => found.values[i] ?? Number.NaN);
    if (kind === "xbar-r" || kind === "xbar-s") {
      const periods = its.map((i) => found.periods[i] ?? "");
      return { name, data: { kind, subgroups: subgroupsOf(periods, values) }, labels: undefined };
    }
    return { name, data: { kind, values }, labels: its.map((i) => found.serials[i] ?? "") };
  });
}

function subgroupsOf(names: readonly string[], values: readonly number[]) {
  return [...groupedByName(names, values)].map(([name, its]) => ({ name, values: its }));
}

const NATURAL = new Intl.Collator("en", { numeric: true });

function byName([a]: readonly [string, unknown], [b]: readonly [string, unknown]): number {
  return NATURAL.compare(a, b);
}

function countsByGroup(counts: readonly VerdictCount[]): Map<string, VerdictCount[]> {
  const groups = new Map<string, VerdictCount[]>();
  for (const count of counts) groups.set(count.group, [...(groups.get(count.group) ?? []), count]);
  return groups;
}

/** Units that failed (p), or everything found wrong with them (u), of so many tested; by day unless asked otherwise. */
async function chartOfVerdicts(
  args: ChartArguments & { readonly kind: "p" | "u" },
  rules: readonly RunRule[] | undefined,
): Promise<0 | 1> {
  const { kind } = args;
  if (args.passed) throw new UsageError(`--passed leaves nothing for --kind ${kind} to count.`);
  const asked = pointsAndGroups(args);
  const { by } = asked;
  const per = asked.per ?? (by === undefined ? "day" : undefined);
  const { verdictCounts } = await import("../../study-data/verdict-counts.ts");
  const query = { ...(await testsQueryOf({ ...args, by, per })), characteristic: args.characteristic };
  const found = await verdictCounts(query);
  const what = kind === "p" ? "failed of tested" : "findings on tested units";
  const options = { ...args, rules, of: args.of ?? `${found.subject}, ${what}` };
  const samples = (counts: readonly VerdictCount[]) =>
    counts.map(({ failed, findings, tested }) => ({ count: kind === "p" ? failed : findings, size: tested }));
  const named = (counts: readonly VerdictCount[]) =>
    counts.map(({ group, period }) => (per === undefined ? group : period));
  const report =
    by === undefined || per === undefined
      ? chartReport({ kind, samples: samples(found.counts) }, { ...options, labels: named(found.counts) })
      : chartByGroup(
          [...countsByGroup(found.counts)].sort(byName).map(([name, counts]) => ({
            name,
            data: { kind, samples: samples(counts) },
            labels: named(counts),
          })),
          found.by ?? by,
          options,
        );
  const findings =
    kind === "u" && args.characteristic === undefined
      ? [
          "A finding is a characteristic that failed, or what kept a unit from being measured; steps that were left out after a fail have none.",
        ]
      : [];
  return presentStudy(
    { ...report, notes: [...report.notes, ...findings, ...found.notes] },
    { ...args, source: found.source },
  );
}
