import type { Share, UnitLine, YieldCounts, YieldReport } from "../yield/yield-report.ts";
import { share } from "../yield/yield-tally.ts";

/** Tables of a report, in the order of a workbook's sheets. */
export const YIELD_TABLES = [
  "summary",
  "groups",
  "pareto",
  "checks",
  "revisions",
  "down-time",
  "held",
  "units",
] as const;
export type YieldTableName = (typeof YIELD_TABLES)[number];

/** text: as it is; count: a whole number; percent: a part of a whole, 0 to 1; number: any; time: an ISO 8601 instant. */
export type ColumnKind = "text" | "count" | "percent" | "number" | "time";

/** Numbers where `kind` says so, texts otherwise; null where there is nothing to say. */
export type TableCell = string | number | null;

export interface TableColumn {
  /** With its unit: "cycle time median, s". */
  readonly heading: string;
  readonly kind: ColumnKind;
}

/** Rows and columns for programs and spreadsheets: values as they are, not rounded. */
export interface YieldTable {
  readonly name: YieldTableName;
  readonly columns: readonly TableColumn[];
  readonly rows: readonly (readonly TableCell[])[];
}

/** @returns one of a report's tables */
export function yieldTable(report: YieldReport, name: YieldTableName): YieldTable {
  return { name, ...TABLES[name](report) };
}

type Made = Omit<YieldTable, "name">;

const TABLES: Readonly<Record<YieldTableName, (report: YieldReport) => Made>> = {
  summary: summaryTable,
  groups: groupsTable,
  pareto: paretoTable,
  checks: checksTable,
  revisions: revisionsTable,
  "down-time": downTimeTable,
  held: heldTable,
  units: unitsTable,
};

interface Field<T> extends TableColumn {
  readonly of: (it: T) => TableCell;
}

function tableOf<T>(items: readonly T[], fields: readonly Field<T>[]): Made {
  return {
    columns: fields.map(({ heading, kind }) => ({ heading, kind })),
    rows: items.map((item) => fields.map(({ of }) => of(item))),
  };
}

const text = <T>(heading: string, of: (it: T) => TableCell): Field<T> => ({ heading, kind: "text", of });
const count = <T>(heading: string, of: (it: T) => number | null): Field<T> => ({
  heading,
  kind: "count",
  of,
});
const percent = <T>(heading: string, of: (it: T) => number | null): Field<T> => ({
  heading: `${heading}, %`,
  kind: "percent",
  of,
});
const number = <T>(heading: string, of: (it: T) => number | null): Field<T> => ({
  heading,
  kind: "number",
  of,
});
const time = <T>(heading: string, of: (it: T) => string | null): Field<T> => ({ heading, kind: "time", of });

interface GroupRow {
  readonly by: string;
  readonly name: string;
  readonly from: string | null;
  readonly to: string | null;
  readonly counts: YieldCounts;
  /** Known of all tests together only. */
  readonly cycleTime: YieldReport["cycleTime"];
}

/** One row for each group of each grouping, and a last one for all units together, called "total". */
function groupsTable({ total, breakdowns, cycleTime, source }: YieldReport): Made {
  const groups = breakdowns.flatMap(({ by, groups }) =>
    groups.map((group) => ({ ...group, by, cycleTime: null })),
  );
  const all = {
    by: "total",
    name: "total",
    from: source.firstTest_at,
    to: source.lastTest_at,
    counts: total,
    cycleTime,
  };
  const steps = [
    ...new Set(
      [total, ...groups.map(({ counts }) => counts)].flatMap(({ steps }) => steps.map(({ step }) => step)),
    ),
  ];
  return tableOf<GroupRow>(
    [...groups, all],
    [
      text("grouped by", ({ by }) => by),
      text("group", ({ name }) => name),
      time("from", ({ from }) => from),
      time("to", ({ to }) => to),
      ...countFields().map((field) => ({ ...field, of: ({ counts }: GroupRow) => field.of(counts) })),
      ...steps.flatMap((step) => stepFields(step)),
      number("cycle time median, s", ({ cycleTime }) => cycleTime?.median_s ?? null),
      number("cycle time 95 % quantile, s", ({ cycleTime }) => cycleTime?.p95_s ?? null),
    ],
  );
}

function countFields(): readonly Field<YieldCounts>[] {
  return [
    count("inspected, units", ({ inspected }) => inspected),
    count("good at first pass, units", ({ firstPass }) => firstPass.count),
    ...ratioFields("first pass yield", ({ firstPass }) => firstPass),
    count("good, units", ({ good }) => good.count),
    ...ratioFields("quality ratio", ({ good }) => good),
    count("failed, units", ({ failed }) => failed.count),
    ...ratioFields("failed", ({ failed }) => failed),
    count("on hold, units", ({ held }) => held.count),
    ...ratioFields("on hold", ({ held }) => held),
    count("scrapped, units", ({ scrapped }) => scrapped.count),
    ...ratioFields("scrap ratio", ({ scrapped }) => scrapped),
    count("reworked, units", ({ reworked }) => reworked.count),
    ...ratioFields("rework ratio", ({ reworked }) => reworked),
    count("passed after rework, units", ({ reworkPassed }) => reworkPassed.count),
    ...ratioFields("passed after rework, of reworked", ({ reworkPassed }) => reworkPassed),
    count("retested after a fail, units", ({ retested }) => retested.of),
    count("passed when retested, units", ({ retested }) => retested.count),
    ...ratioFields("passed when retested, of retested", ({ retested }) => retested),
    percent("rolled throughput yield", ({ rolledThroughputYield }) => rolledThroughputYield),
    count("defects at first inspection", ({ defects }) => defects.found),
    count("opportunities for defects", ({ defects }) => defects.opportunities),
    number("defects per million opportunities", ({ defects }) => defects.dpmo),
    count("tests", ({ tests }) => tests),
    count("void tests", ({ voidTests }) => voidTests),
    ...ratioFields("void, of tests", ({ voidTests, tests }) => share(voidTests, tests)),
  ];
}

function ratioFields(name: string, of: (counts: YieldCounts) => Share): readonly Field<YieldCounts>[] {
  return [
    percent(name, (counts) => of(counts).value),
    percent(`${name} 95 % from`, (counts) => of(counts).lower),
    percent(`${name} 95 % to`, (counts) => of(counts).upper),
  ];
}

function stepFields(step: string): readonly Field<GroupRow>[] {
  const passedOf = ({ counts }: GroupRow) => counts.steps.find((it) => it.step === step)?.passed;
  return [
    count(`step ${step}: got to it, units`, (row) => passedOf(row)?.of ?? null),
    count(`step ${step}: passed at first, units`, (row) => passedOf(row)?.count ?? null),
    percent(`step ${step}: first pass yield`, (row) => passedOf(row)?.value ?? null),
    percent(`step ${step}: first pass yield 95 % from`, (row) => passedOf(row)?.lower ?? null),
    percent(`step ${step}: first pass yield 95 % to`, (row) => passedOf(row)?.upper ?? null),
  ];
}

function paretoTable(report: YieldReport): Made {
  const kinds = [
    ["failed at first inspection", "failed units", report.failingCharacteristics],
    ["cause confirmed by repair", "reworked units", report.confirmedCauses],
    ["cause suspected first", "failed units", report.suspectedCauses],
    ["void test", "void tests", report.voidsByCause],
  ] as const;
  return tableOf(
    kinds.flatMap(([kind, whole, bars]) => bars.map((bar) => ({ kind, whole, ...bar }))),
    [
      text("what", ({ kind }) => kind),
      text("name", ({ name }) => name),
      count("count", ({ count }) => count),
      text("of all", ({ whole }) => whole),
      percent("part of these", ({ rate }) => rate),
      percent("part of findings", ({ share }) => share),
      percent("part of findings, with those above", ({ cumulative }) => cumulative),
    ],
  );
}

function checksTable({ referenceChecks }: YieldReport): Made {
  return tableOf(referenceChecks, [
    text("reference piece", ({ serial }) => serial),
    text("model", ({ model }) => model),
    count("passed, checks", ({ passed }) => passed),
    count("failed, checks", ({ failed }) => failed),
    count("void, checks", ({ voids }) => voids),
    time("last check", ({ last }) => last?.at ?? null),
    text("last verdict", ({ last }) => last?.verdict ?? null),
    number("last measured", ({ last }) => last?.measured ?? null),
    number("certified", ({ last }) => last?.certified ?? null),
    number("tolerance", ({ last }) => last?.tolerance ?? null),
    text("unit", ({ last }) => last?.unit ?? null),
  ]);
}

function revisionsTable({ limitRevisions }: YieldReport): Made {
  return tableOf(limitRevisions, [
    text("model", ({ model }) => model),
    count("revision", ({ revision }) => revision),
    time("first test", ({ first_at }) => first_at),
    time("last test", ({ last_at }) => last_at),
    count("tests", ({ tests }) => tests),
    text("limit file SHA-256", ({ sha256 }) => sha256),
  ]);
}

function downTimeTable({ downTime }: YieldReport): Made {
  return tableOf(downTime, [
    text("fault", ({ code }) => code),
    count("count", ({ count }) => count),
    number("down time, s", ({ down_s }) => down_s),
    time("last", ({ last_at }) => last_at),
    text("last one's words", ({ sentence }) => sentence),
  ]);
}

function heldTable({ heldUnits }: YieldReport): Made {
  return tableOf(heldUnits, [
    text("serial", ({ serial }) => serial),
    text("model", ({ model }) => model),
    time("on hold since", ({ since }) => since),
    text("by", ({ by }) => by ?? "station, or not stated"),
    text("reason", ({ reason }) => reason),
  ]);
}

/** A column for each tracked part. */
function unitsTable({ units = [] }: YieldReport): Made {
  const parts = [...new Set(units.flatMap((unit) => Object.keys(unit.parts)))].sort();
  return tableOf(units, [
    text("serial", ({ serial }) => serial),
    text("model", ({ model }) => model),
    text("station", ({ station }) => station),
    time("first inspection ended", ({ first_at }) => first_at),
    text("first verdict", ({ first }) => first ?? "none that can be trusted"),
    text("failed at first by", ({ failedBy }) => failedBy.join(", ") || null),
    text("stands now", ({ state }) => STATE_WORDS[state]),
    text("because", ({ reason }) => reason),
    count("tests", ({ tests }) => tests),
    ...parts.map((part) => text<UnitLine>(`part ${part}`, (unit) => unit.parts[part] ?? null)),
  ]);
}

const STATE_WORDS: Readonly<Record<UnitLine["state"], string>> = {
  good: "good",
  failed: "failed",
  held: "ON HOLD",
  in_doubt: "ON HOLD, in doubt",
  scrapped: "SCRAPPED",
  reworked: "reworked, not tested since",
  void: "no valid test",
  none: "no test",
};

interface SummaryLine {
  readonly what: string;
  readonly value: TableCell;
}

/** The figures of all units together, what was asked for and where they come from. */
function summaryTable({ asked, source, total, cycleTime, down_s, notes, heldUnits }: YieldReport): Made {
  const line = (what: string, value: TableCell): SummaryLine => ({ what, value });
  const inPercent = (value: number) => Number((100 * value).toFixed(6));
  return tableOf(
    [
      line("first day", asked.from ?? "the first that was recorded"),
      line("last day", asked.to ?? "the last that was recorded"),
      line("time zone", asked.timeZone),
      line("shifts begin", asked.shifts.join(", ") || "not stated"),
      line("only model", asked.model ?? "all"),
      line("only station", asked.station ?? "all"),
      ...countFields().map(({ heading, kind, of }) => {
        const value = of(total);
        return line(heading, kind === "percent" && typeof value === "number" ? inPercent(value) : value);
      }),
      line("cycle time median, s", cycleTime?.median_s ?? null),
      line("cycle time 95 % quantile, s", cycleTime?.p95_s ?? null),
      line("down time, faults at the same time counted once, s", down_s),
      line("units on hold that must not be shipped", heldUnits.length),
      line("first test (UTC)", source.firstTest_at),
      line("last test (UTC)", source.lastTest_at),
      line("stations", source.stations.join(", ")),
      line("models", source.models.join(", ")),
      line("simulated tests among them", source.simulated ? "yes" : "no"),
      line("drafts left out, tests", source.drafts),
      line("reference pieces left out, tests", source.references),
      line(
        "travellers compared with the index",
        source.travellersCompared ?? "none: the index was taken at its word",
      ),
      line("broken travellers left out", source.broken.length),
      ...source.broken.map(({ path, problem }) => line(`broken: ${path}`, problem)),
      ...notes.map((note) => line("note", note)),
      line("intervals", "95 %, Clopper-Pearson"),
      line("records folder", source.folder),
      line("made (UTC)", source.made_at),
    ],
    [text("what", ({ what }) => what), text("value", ({ value }) => value)],
  );
}
