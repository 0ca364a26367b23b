import { escaped } from "../../limits/escaped-text.ts";
import { DIMENSION_OF } from "../../limits/measurand.ts";
import type { Characteristic } from "../../limits/model.ts";
import { formatNumber, formatQuantity } from "../../limits/print-quantity.ts";
import type { ReplayHead } from "../replay-text.ts";
import type { NotRejudged } from "./rejudge.ts";
import type { WhatIfReport } from "./replay-values.ts";
import type { ChangedUnit, CharacteristicCounts, UnitCounts } from "./tally.ts";
import { type Yield, type YieldChange, yieldChange } from "./what-if-summary.ts";

/** Changed units that are shown each way, unless all are asked for. */
const SHOWN_MOST = 20;

/** Judging again for people to read. */
export function whatIfText(
  head: ReplayHead,
  report: WhatIfReport,
  { all }: { readonly all: boolean },
): string {
  const { tally } = report;
  const blocks = [
    headLines(head, report),
    yieldLines("First pass yield, good at their first inspection", yieldChange(tally.first)),
    yieldLines("Final yield, good at their newest valid test", yieldChange(tally.last)),
    ...[...tally.parts()].map(([part, groups]) =>
      groups === null
        ? [`By ${escaped(part)}: nearly every unit has a number of its own, not shown`]
        : groupLines(`By ${escaped(part)}, first inspections`, groups),
    ),
    ...(tally.shifts.size > 0 ? [groupLines("By shift, first inspections", tally.shifts)] : []),
    characteristicLines(tally.characteristics),
    changedLines("at their first inspection", tally.changedFirst, tally.unnamed("first"), all),
    changedLines("by their newest valid test", tally.changedLast, tally.unnamed("last"), all),
  ];
  return blocks.map((lines) => lines.join("\n")).join("\n\n");
}

function headLines(
  { limits, approvedBy, changes, recordsFolder }: ReplayHead,
  report: WhatIfReport,
): string[] {
  const { model, revision } = limits;
  const whose = approvedBy === null ? "a draft, not approved" : `approved by ${approvedBy}`;
  const changed = changes.length > 0 ? `; changed here: ${changes.join(", ")}` : "";
  const revisions = [...report.revisions].sort(([a], [b]) => a - b);
  const left = [
    named(report.references, "of reference pieces"),
    named(report.drafts, "with draft limits or for a study"),
    named(report.held, "held and not released"),
  ].filter((text) => text !== null);
  const { units, notFirst, notValid } = report.tally;
  const apart = [
    named(notFirst, "were inspected first before these attempts or in doubt"),
    named(notValid, "without a valid test"),
  ].filter((text) => text !== null);
  return [
    `${model} revision ${revision}, ${whose}${changed}`,
    `${report.attempts} ${report.attempts === 1 ? "attempt" : "attempts"} in ${recordsFolder}${report.simulated > 0 ? ` (${report.simulated} simulated)` : ""}${left.length > 0 ? `; left out: ${left.join(", ")}` : ""}`,
    ...(revisions.length > 0
      ? [`judged by ${revisions.map(([number, count]) => `revision ${number}: ${count}`).join(", ")}`]
      : []),
    `${units} ${units === 1 ? "unit" : "units"}${apart.length > 0 ? `; ${apart.join(", ")}` : ""}; ${report.voids} void ${report.voids === 1 ? "attempt counts" : "attempts count"} for nothing`,
    "judged again from the recorded values and uncertainties, nothing measured again",
  ];
}

function named(count: number, what: string): string | null {
  return count === 0 ? null : `${count} ${what}`;
}

function yieldLines(title: string, it: YieldChange): string[] {
  const left = Object.entries(it.notRejudged) as [NotRejudged, number][];
  const notJudged = left.reduce((sum, [, count]) => sum + count, 0);
  const rows = table(
    ["", "now pass", "now fail"],
    [
      ["was pass", String(it.passBoth), String(it.passToFail)],
      ["was fail", String(it.failToPass), String(it.failBoth)],
    ],
  );
  return [
    `${title}: ${it.units} ${it.units === 1 ? "unit" : "units"}`,
    ...rows,
    ...(it.keptFail > 0
      ? [
          `${it.keptFail} of the fails ${it.keptFail === 1 ? "was" : "were"} found without a value (gross leak, motor): no limit decides ${it.keptFail === 1 ? "it, and it stays" : "them, and they stay"}`,
        ]
      : []),
    ...(it.toVoid > 0 ? [`${it.toVoid} would be void: the uncertainty is too large for these limits`] : []),
    ...(notJudged > 0
      ? [
          `${notJudged} can't be judged again: ${left.map(([why, count]) => `${count} ${WHY[why]}`).join("; ")}`,
        ]
      : []),
    ...(it.before && it.after && it.difference
      ? [
          `was ${yieldText(it.before, it.compared)}`,
          `now ${yieldText(it.after, it.compared)}`,
          `difference ${signed(it.difference.difference)} points, 95 % sure: ${signed(it.difference.lower)} to ${signed(it.difference.upper)}, same units compared; p ${probability(it.difference.p)}, McNemar's exact test`,
        ]
      : ["no unit can be compared"]),
  ];
}

/** In words, after a count. */
const WHY: Readonly<Record<NotRejudged, string>> = {
  void: "void",
  "not in the history": "without a value that these limits judge",
  "not reached": "stopped before something that these limits judge was measured",
  "other method": "by another leak method (--from-curves)",
  "other settling time": "after another settling time (--from-curves)",
  "other measuring time": "over another measuring time (--from-curves)",
  "other early verdict": "with or without looks, other than these limits (--from-curves)",
  "other test pressure": "at another test pressure",
  "no curve": "without a stored curve",
  "curve too short": "whose curve ends before a verdict by these settings",
  "no settle calibration": "by a method that needs to know how the model settles",
  "other airflow conditions": "with airflow stated at another voltage, correction or orifice",
};

/** @example "95.10 % (194 of 204), 95 % sure: 91.16 to 97.62 %" */
function yieldText({ good, yield: part, lower, upper }: Yield, of: number): string {
  return `${percent(part)} % (${good} of ${of}), 95 % sure: ${percent(lower)} to ${percent(upper)} %`;
}

function percent(part: number): string {
  return (100 * part).toFixed(2);
}

function signed(part: number): string {
  return `${part < 0 ? "-" : "+"}${(100 * Math.abs(part)).toFixed(2)}`;
}

function probability(p: number): string {
  return p < 0.0001 ? "below 0.0001" : p.toFixed(4);
}

function groupLines(title: string, groups: ReadonlyMap<string, UnitCounts>): string[] {
  const rows = [...groups]
    .sort(([a], [b]) => (a < b ? -1 : 1))
    .map(([name, counts]) => {
      const { compared, before, after, passToFail, failToPass, units } = yieldChange(counts);
      const shown = (it: Yield | null) =>
        it ? `${percent(it.yield)} (${percent(it.lower)} to ${percent(it.upper)})` : "-";
      return [
        escaped(name),
        String(compared),
        shown(before),
        shown(after),
        String(passToFail),
        String(failToPass),
        String(units - compared),
      ];
    });
  return [
    `${title}; yields in %, 95 % intervals`,
    ...table(["", "units", "was", "now", "pass to fail", "fail to pass", "not compared"], rows),
  ];
}

function characteristicLines(all: readonly CharacteristicCounts[]): string[] {
  const rows = all.map((it) => [
    it.characteristic.name,
    String(it.judged),
    `${it.failBefore} / ${it.failAfter}`,
    `${it.guardBefore} / ${it.guardAfter}`,
    `${it.marginalBefore} / ${it.marginalAfter}`,
    String(it.toVoid),
    limitsText(it.characteristic),
  ]);
  const early = all.filter(({ changedEarly }) => changedEarly > 0);
  const notJudged = all.filter((it) => it.notJudged.size > 0);
  return [
    "By characteristic, all valid attempts; was / now",
    ...table(["", "judged", "fails", "in guard band", "marginal", "void", "limits"], rows),
    "in guard band: fails within the limits, not by enough to be sure; marginal: passes whose expanded uncertainty (k = 2) reaches a limit",
    ...notJudgedLines(notJudged),
    ...early.map(
      ({ characteristic: { name }, changedEarly }) =>
        `${changedEarly} ${changedEarly === 1 ? "verdict" : "verdicts"} on ${name} ${changedEarly === 1 ? "changes" : "change"} after an early verdict: by these limits the station would have measured for another time, so near a limit it may judge otherwise`,
    ),
  ];
}

/** Characteristics of which the same is to be said in one line. */
function notJudgedLines(all: readonly CharacteristicCounts[]): string[] {
  const namesByWhy = new Map<string, string[]>();
  for (const { characteristic, notJudged } of all) {
    const why = [...notJudged].map(([reason, count]) => `${count} ${WHY[reason]}`).join("; ");
    namesByWhy.set(why, [...(namesByWhy.get(why) ?? []), characteristic.name]);
  }
  return [...namesByWhy].map(([why, names]) => `not judged again of ${names.join(", ")}: ${why}`);
}

function limitsText({ lower, upper, unit, rule, measurand }: Characteristic): string {
  const shown = (value: number) => formatQuantity(value, DIMENSION_OF[measurand], unit);
  const limits = [
    ...(lower === undefined ? [] : [`at least ${shown(lower)}`]),
    ...(upper === undefined ? [] : [`at most ${shown(upper)}`]),
  ].join(" and ");
  return rule.kind === "simple" ? limits : `${limits}, conformance ${formatNumber(100 * rule.conformance)} %`;
}

function changedLines(
  when: string,
  changed: readonly ChangedUnit[],
  unnamed: number,
  all: boolean,
): string[] {
  const ways = [...new Set(changed.map(({ from, to }) => `${from} to ${to}`))];
  const lines = ways.flatMap((way) => {
    const those = changed.filter(({ from, to }) => `${from} to ${to}` === way);
    const shown = all ? those : those.slice(0, SHOWN_MOST);
    const more = those.length - shown.length;
    return [
      `${way}:`,
      ...shown.map(
        ({ serial, attempt, because }) =>
          `  ${escaped(serial)}${attempt > 1 ? ` attempt ${attempt}` : ""}${because === null ? "" : `: ${because}`}`,
      ),
      ...(more > 0 ? [`  and ${more} more; --list names all`] : []),
    ];
  });
  const count = changed.length + unnamed;
  return [
    `${count} ${count === 1 ? "unit changes" : "units change"} ${when}`,
    ...lines,
    ...(unnamed > 0 ? [`${unnamed} more are not kept without --list`] : []),
  ];
}

/** Columns below their heads; the first and the last to the left. */
function table(heads: readonly string[], rows: readonly (readonly string[])[]): string[] {
  const all = [heads, ...rows];
  const widths = heads.map((_, i) => Math.max(...all.map((cells) => cells[i]?.length ?? 0)));
  const isText = (i: number) => i === 0 || heads[i] === "limits";
  return all.map((cells) =>
    cells
      .map((cell, i) => (isText(i) ? cell.padEnd(widths[i] ?? 0) : cell.padStart(widths[i] ?? 0)))
      .join("  ")
      .trimEnd(),
  );
}
