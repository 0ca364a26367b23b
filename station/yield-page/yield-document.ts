import type { ParetoBar, Share, YieldAsked, YieldReport } from "../yield/yield-report.ts";
import { groupSections } from "./group-blocks.ts";
import type { DocumentBlock, DocumentSection, HeadlineFigure, PageDocument } from "./page-document.ts";
import { paretoBlocks } from "./pareto-blocks.ts";
import { plantTime } from "./plant-time.ts";
import { countText, grouped, intervalText, percentText, unitsText } from "./share-text.ts";
import { stationSection, stepsSection } from "./station-blocks.ts";
import { failuresSection, heldSection, warningsSection } from "./unit-blocks.ts";
import { valueBlocks } from "./value-blocks.ts";
import type { YieldDetail } from "./yield-detail.ts";

/** The report of some days, as it is read from top to bottom; the same whether on a page or on paper. */
export function yieldDocument(report: YieldReport, detail: YieldDetail, software: string): PageDocument {
  const { asked, total } = report;
  const zone = asked.timeZone;
  const isEmpty = total.inspected === 0;
  const values = valueBlocks(detail.measured, zone);
  const sections: DocumentSection[] = [
    ...toKnow(report, detail),
    ...heldSection(report.heldUnits, zone),
    ...warningsSection(report.warnings, zone),
    ...(isEmpty
      ? []
      : [
          ...groupSections(
            report.breakdowns.filter(({ by }) => isOfTime(by)),
            total.firstPass,
          ),
          whatFailed(report),
          ...(values.length > 0 ? [{ heading: "Leak rate and suction", blocks: values }] : []),
          ...groupSections(
            report.breakdowns.filter(({ by }) => !isOfTime(by)),
            total.firstPass,
          ),
        ]),
    ...(isEmpty && total.tests === 0 ? [] : [stepsSection(report)]),
    stationSection(report),
    ...(isEmpty && detail.failures.length === 0 ? [] : [failuresSection(detail, zone)]),
    { heading: "How it is counted", blocks: [{ kind: "list", items: HOW_COUNTED }] },
  ];
  return {
    title: `Yield ${daysText(asked)}`,
    about: aboutOf(report, software),
    sentence: daySentence(report),
    headline: isEmpty ? [] : headlineOf(report),
    sections,
  };
}

function isOfTime(by: string): boolean {
  return by === "hour" || by === "shift" || by === "day";
}

/** @example daysText({ from: "2026-01-05", to: "2026-01-05" }) // "of 2026-01-05" */
function daysText({ from, to }: YieldAsked): string {
  if (from !== null && from === to) return `of ${from}`;
  if (from === null && to === null) return "of all records";
  if (from === null) return `up to ${to}`;
  return to === null ? `since ${from}` : `from ${from} to ${to}`;
}

function aboutOf({ asked, source }: YieldReport, software: string): PageDocument["about"] {
  const { timeZone: zone } = asked;
  const only = [
    ...(asked.model === null ? [] : [`model ${asked.model} only`]),
    ...(asked.station === null ? [] : [`station ${asked.station} only`]),
  ];
  const compared =
    source.travellersCompared === null
      ? "by the folder's index; its travellers were not compared"
      : `${grouped(source.travellersCompared)} travellers read and compared`;
  return [
    ["Station", source.stations.length > 0 ? source.stations.join(", ") : "none"],
    ["Models", source.models.length > 0 ? source.models.join(", ") : "none"],
    ...(only.length > 0 ? [["Asked for", only.join(", ")] as const] : []),
    [
      "Tests",
      source.firstTest_at === null || source.lastTest_at === null
        ? "none"
        : `from ${plantTime(source.firstTest_at, zone)} to ${plantTime(source.lastTest_at, zone)}`,
    ],
    ["Times", asked.shifts.length > 0 ? `${zone}, shifts from ${asked.shifts.join(", ")}` : zone],
    ["Records", `${source.folder}: ${compared}`],
    ["Made", `${plantTime(source.made_at, zone)} by ${software}`],
  ];
}

/**
 * How the days were, for somebody who reads nothing else.
 * @example daySentence(report) // "139 of 151 units were good at first, 140 are good now and 2 are held; found most often: leak rate (8 of 12)."
 */
function daySentence({ asked, source, total, failingCharacteristics, heldUnits }: YieldReport): string {
  const broken =
    source.broken.length === 0
      ? ""
      : ` ${source.broken.length === 1 ? "One traveller is" : `${grouped(source.broken.length)} travellers are`} not as recorded and no part of these figures.`;
  if (total.inspected === 0) {
    const tests =
      total.tests > 0
        ? ` ${total.tests === 1 ? "One test was made, and it was no" : `${grouped(total.tests)} tests were made, none of them a`} unit's first inspection.`
        : "";
    const held = heldUnits.length > 0 ? ` ${unitsText(heldUnits.length)} held.` : "";
    return `No unit was inspected ${emptyDays(asked)}.${tests}${held}${broken}`;
  }
  const { inspected, firstPass, good, held, scrapped } = total;
  const parts = [
    `${grouped(good.count)} ${good.count === 1 ? "is" : "are"} good now`,
    ...(held.count > 0 ? [`${grouped(held.count)} ${held.count === 1 ? "is" : "are"} held`] : []),
    ...(scrapped.count > 0 ? [`${grouped(scrapped.count)} scrapped`] : []),
  ];
  const failed = inspected - firstPass.count;
  const more = heldUnits.length - held.count;
  const others =
    more > 0
      ? ` ${grouped(more)} more ${more === 1 ? "is" : "are"} held, and ${more === 1 ? "counts" : "count"} as not inspected.`
      : "";
  const most = mostText(failingCharacteristics, failed);
  return `${grouped(firstPass.count)} of ${unitsText(inspected)} ${firstPass.count === 1 || inspected === 1 ? "was" : "were"} good at first, ${listed(parts)}${most}.${others}${broken}`;
}

function emptyDays(asked: YieldAsked): string {
  const { from, to } = asked;
  if (from !== null && from === to) return `on ${from}`;
  return from === null && to === null ? "in these records" : daysText(asked);
}

const MOST_ALIKE = 2;

function mostText(bars: readonly ParetoBar[], failed: number): string {
  const [first] = bars;
  if (!first || failed === 0) return "";
  const names = bars.filter(({ count }) => count === first.count).map(({ name }) => name);
  // Where several are as frequent, none of them is what a reader should look at first.
  if (names.length > MOST_ALIKE) return "";
  return `; found most often: ${listed(names)} (${first.count} of ${failed}${names.length > 1 ? " each" : ""})`;
}

/** @example listed(["140 are good now", "2 are held"]) // "140 are good now and 2 are held" */
function listed(parts: readonly string[]): string {
  if (parts.length < 2) return parts.join("");
  return `${parts.slice(0, -1).join(", ")} and ${parts.at(-1)}`;
}

function headlineOf({ total, heldUnits }: YieldReport): HeadlineFigure[] {
  const { firstPass, good, held, failed, scrapped, reworked, rolledThroughputYield, steps } = total;
  const share = (name: string, it: Share): HeadlineFigure => ({
    name,
    value: it.value === null ? "none" : percentText(it.value),
    made: countText(it),
    interval: intervalText(it),
    isAlarm: false,
  });
  const products = steps.flatMap(({ passed }) => (passed.value === null ? [] : [percentText(passed.value)]));
  return [
    share("Good at first pass", firstPass),
    share("Good now (quality ratio)", good),
    {
      name: "Rolled throughput yield",
      value: rolledThroughputYield === null ? "none" : percentText(rolledThroughputYield),
      made:
        rolledThroughputYield === null ? "a step was never got to" : `${products.join(" × ")}, step by step`,
      interval: null,
      isAlarm: false,
    },
    heldFigure(held, heldUnits.length),
    plain("Failed", failed, "waiting for a decision"),
    plain("Reworked", reworked, "whatever came of it"),
    plain("Scrapped", scrapped, ""),
  ];
}

/** @param listed units held now; those of which no test can be trusted are not among the inspected ones */
function heldFigure(held: Share, listed: number): HeadlineFigure {
  const all = Math.max(held.count, listed);
  const inspected = all > held.count ? `, ${grouped(held.count)} of them inspected` : "";
  return {
    name: "Held",
    value: grouped(all),
    made: all > 0 ? `not to be shipped; listed below${inspected}` : `of ${unitsText(held.of)}`,
    interval: null,
    isAlarm: all > 0,
  };
}

function plain(name: string, share: Share, what: string): HeadlineFigure {
  const part = share.value === null ? "" : percentText(share.value);
  return {
    name,
    value: grouped(share.count),
    made: [part, share.count > 0 ? what : ""].filter((it) => it !== "").join(", "),
    interval: intervalText(share),
    isAlarm: false,
  };
}

function toKnow({ notes, source }: YieldReport, detail: YieldDetail): DocumentSection[] {
  const items = [
    ...(source.simulated ? ["Simulated tests are among these: no real unit was measured in them."] : []),
    ...notes,
    ...detail.notes,
    ...(source.drafts > 0
      ? [
          `${source.drafts === 1 ? "1 test" : `${grouped(source.drafts)} tests`} with unapproved limits or for a study ${source.drafts === 1 ? "is" : "are"} left out.`,
        ]
      : []),
  ];
  const broken: DocumentBlock[] =
    source.broken.length === 0
      ? []
      : [
          {
            kind: "table",
            table: {
              caption: "Travellers that are not as they were recorded: no part of any figure",
              columns: [
                { heading: "file", kind: "text" },
                { heading: "what is wrong", kind: "text" },
              ],
              rows: source.broken.map(({ path, problem }) => [path, problem]),
            },
          },
        ];
  const blocks: DocumentBlock[] = [
    ...(items.length > 0 ? [{ kind: "list" as const, items }] : []),
    ...broken,
  ];
  return blocks.length > 0 ? [{ heading: "To know", blocks }] : [];
}

function whatFailed({
  failingCharacteristics,
  suspectedCauses,
  confirmedCauses,
}: YieldReport): DocumentSection {
  const blocks = [
    ...paretoBlocks(failingCharacteristics, {
      title: "What units failed by at first inspection",
      name: "failed by",
      of: "failed units",
    }),
    ...paretoBlocks(suspectedCauses, {
      title: "What failed units were first suspected of",
      name: "suspected",
      of: "failed units",
    }),
    ...paretoBlocks(confirmedCauses, {
      title: "What repair found to be wrong",
      name: "confirmed cause",
      of: "units reworked",
    }),
  ];
  return {
    heading: "What failed",
    blocks: blocks.length > 0 ? blocks : [{ kind: "text", text: "No unit failed its first inspection." }],
  };
}

const HOW_COUNTED: readonly string[] = [
  "A unit counts once, in the hour, shift or day of its first valid inspection, however often it was tested; what became of it later counts there, too.",
  "First pass yield: good at first inspection by inspected. Quality ratio: good now by inspected. Rework and scrap ratios: reworked or scrapped by inspected (ISO 22400-2). Rolled throughput yield: the product of the steps' first pass yields.",
  "Intervals: 95 %, Clopper-Pearson. Reference pieces, tests with unapproved limits and tests for studies count nowhere.",
];
