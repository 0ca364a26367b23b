import type { ChartLevel, StudyChart } from "../quality/study-report.ts";
import type { Share, YieldBreakdown, YieldGroup, YieldGrouping } from "../yield/yield-report.ts";
import type { DocumentBlock, DocumentSection, DocumentTable } from "./page-document.ts";
import { percentNumber, percentText } from "./share-text.ts";

const HEADINGS: Readonly<Record<YieldGrouping, string>> = {
  day: "By day",
  shift: "By shift",
  hour: "By hour",
  model: "By model",
  station: "By station",
  cavity: "By cavity",
  lot: "By lot",
  revision: "By limit revision",
};

/** Bars that stay wide enough to be told apart. */
const MOST_DRAWN = 130;
/** More rows are folded away: they are the numbers of a chart. */
const MOST_OPEN = 48;

/** A section for each way in which units were told apart: how many, what part was good at first, and the numbers. */
export function groupSections(breakdowns: readonly YieldBreakdown[], all: Share): DocumentSection[] {
  return breakdowns.flatMap((breakdown) =>
    partsOf(breakdown).flatMap(({ heading, what, groups }) => {
      if (groups.length === 0) return [];
      // Of one group only what stands in the headline already could be said.
      const isAlone = groups.length === 1;
      const drawn = groups.slice(0, MOST_DRAWN);
      const blocks: DocumentBlock[] = [
        ...(isAlone
          ? []
          : [
              { kind: "chart" as const, chart: countsChart(drawn, what) },
              { kind: "chart" as const, chart: yieldChart(drawn, what, all) },
            ]),
        ...(groups.length > MOST_DRAWN
          ? [
              {
                kind: "text" as const,
                text: `Drawn are the first ${MOST_DRAWN} of ${groups.length}; the table has all.`,
              },
            ]
          : []),
        { kind: "table", table: groupTable(groups, what) },
      ];
      return [{ heading, blocks }];
    }),
  );
}

interface PartOfBreakdown {
  readonly heading: string;
  /** "hour", "tub_cavity" */
  readonly what: string;
  readonly groups: readonly YieldGroup[];
}

/** Cavities and lots of different parts are no one list: "tub_cavity P1" and "lid_cavity L1" stand in a section each. */
function partsOf({ by, groups }: YieldBreakdown): PartOfBreakdown[] {
  if (by !== "cavity" && by !== "lot")
    return [{ heading: HEADINGS[by], what: by, groups: shortNames(groups) }];
  const parts = new Map<string, YieldGroup[]>();
  for (const group of groups) {
    const space = group.name.indexOf(" ");
    const part = space === -1 ? by : group.name.slice(0, space);
    const name = space === -1 ? group.name : group.name.slice(space + 1);
    const known = parts.get(part) ?? [];
    known.push({ ...group, name });
    parts.set(part, known);
  }
  return [...parts].map(([part, own]) => ({
    heading: `By ${part.replaceAll("_", " ")}`,
    what: part.replaceAll("_", " "),
    groups: own,
  }));
}

/** A day that all have in common stands in the title already. */
function shortNames(groups: readonly YieldGroup[]): readonly YieldGroup[] {
  const day = /^\d{4}-\d{2}-\d{2} (?=\S)/.exec(groups[0]?.name ?? "")?.[0];
  if (day === undefined || !groups.every(({ name }) => name.startsWith(day))) return groups;
  return groups.map((group) => ({ ...group, name: group.name.slice(day.length) }));
}

function countsChart(groups: readonly YieldGroup[], what: string): StudyChart {
  return {
    title: `Units inspected, by ${what}`,
    x: { label: what, names: groups.map(({ name }) => name) },
    y: { label: "units" },
    stacked: true,
    series: [
      {
        name: "good at first pass",
        draw: "bars",
        points: groups.map(({ counts }, k) => [k, counts.firstPass.count]),
      },
      {
        name: "not good at first pass",
        draw: "bars",
        points: groups.map(({ counts }, k) => [k, counts.inspected - counts.firstPass.count]),
      },
    ],
  };
}

function yieldChart(groups: readonly YieldGroup[], what: string, all: Share): StudyChart {
  const known = groups.flatMap(({ counts: { firstPass } }, k) =>
    firstPass.value === null ? [] : [{ k, ...firstPass }],
  );
  const centre: ChartLevel[] =
    all.value === null
      ? []
      : [{ label: `all ${percentText(all.value)}`, along: "y", at: 100 * all.value, means: "centre" }];
  return {
    title: `First pass yield, by ${what}, with 95 % intervals`,
    x: { label: what, names: groups.map(({ name }) => name) },
    y: { label: "first pass yield, %" },
    series: [
      {
        name: "95 % interval",
        draw: "intervals",
        points: known.flatMap(({ k, lower, upper }): [number, number][] => [
          [k, 100 * (lower ?? 0)],
          [k, 100 * (upper ?? 1)],
        ]),
      },
      {
        name: "first pass yield",
        draw: "dots",
        points: known.map(({ k, value }) => [k, 100 * (value ?? 0)]),
      },
    ],
    levels: centre,
  };
}

function groupTable(groups: readonly YieldGroup[], what: string): DocumentTable {
  const number = (heading: string) => ({ heading, kind: "number" as const });
  const part = (value: number | null) => (value === null ? "" : percentNumber(value));
  return {
    caption: `Units by ${what}`,
    columns: [
      { heading: what, kind: "text" },
      number("inspected"),
      number("good at first"),
      number("first pass yield, %"),
      number("95 % from"),
      number("to"),
      number("good now"),
      number("failed"),
      number("held"),
      number("scrapped"),
      number("reworked"),
    ],
    rows: groups.map(({ name, counts }) => [
      name,
      String(counts.inspected),
      String(counts.firstPass.count),
      part(counts.firstPass.value),
      part(counts.firstPass.lower),
      part(counts.firstPass.upper),
      String(counts.good.count),
      String(counts.failed.count),
      String(counts.held.count),
      String(counts.scrapped.count),
      String(counts.reworked.count),
    ]),
    ...(groups.length > MOST_OPEN ? { isFolded: true as const } : {}),
  };
}
