import type { StudyChart, StudyTable } from "../quality/study-report.ts";
import type { ChangedUnit, CharacteristicCounts, UnitCounts, WhatIfTally } from "./tally.ts";
import { type YieldChange, yieldChange } from "./what-if-summary.ts";
import { counted, limitsText, percent, signed, WHY_NOT, yieldText } from "./what-if-words.ts";

/** Changed units that are shown each way, unless all are asked for. */
const SHOWN_MOST = 20;
/** More groups than this make no chart. */
const CHARTED_MOST = 40;

const text = (heading: string) => ({ heading, kind: "text" }) as const;
const number = (heading: string) => ({ heading, kind: "number" }) as const;

/** Units by what they were and would be, and their yields. */
export function yieldTable(tally: WhatIfTally): StudyTable {
  const both = [yieldChange(tally.first), yieldChange(tally.last)];
  const whys = [...new Set(both.flatMap(({ notRejudged }) => Object.keys(notRejudged)))];
  const row = (name: string, cell: (it: YieldChange) => string) => [name, ...both.map(cell)];
  const counts = (name: string, count: (it: YieldChange) => number) => row(name, (it) => String(count(it)));
  const interval = (it: { readonly lower: number; readonly upper: number } | null) =>
    it ? `${(100 * it.lower).toFixed(2)} to ${(100 * it.upper).toFixed(2)}` : "";
  return {
    caption: "Units by what they were and what they would be",
    columns: [text(""), number("first inspection"), number("newest valid test")],
    rows: [
      counts("units", ({ units }) => units),
      counts("pass, pass now", ({ passBoth }) => passBoth),
      counts("pass, fail now", ({ passToFail }) => passToFail),
      counts("fail, pass now", ({ failToPass }) => failToPass),
      counts("fail, fail now", ({ failBoth }) => failBoth),
      ...(both.some(({ keptFail }) => keptFail > 0)
        ? [counts("  of these found without a value", ({ keptFail }) => keptFail)]
        : []),
      ...(both.some(({ toVoid }) => toVoid > 0) ? [counts("void now", ({ toVoid }) => toVoid)] : []),
      ...whys.map((why) => counts(`not judged: ${why}`, ({ notRejudged }) => notRejudged[why] ?? 0)),
      row("of those compared, yield was", ({ before }) => (before ? percent(before.yield) : "")),
      row("  95 % sure", ({ before }) => interval(before)),
      row("yield now", ({ after }) => (after ? percent(after.yield) : "")),
      row("  95 % sure", ({ after }) => interval(after)),
      row("difference, points", ({ difference }) => (difference ? signed(difference.difference) : "")),
      row("  95 % sure", ({ difference }) =>
        difference ? `${signed(difference.lower)} to ${signed(difference.upper)}` : "",
      ),
      row("p, McNemar's exact test", ({ difference }) => (difference ? probability(difference.p) : "")),
      ...(both.some(({ units, compared }) => units > compared)
        ? [
            row("of all units, yield was", ({ ofAll }) => (ofAll ? percent(ofAll.before) : "")),
            row("  now at least", ({ ofAll }) => (ofAll ? percent(ofAll.afterLeast) : "")),
            row("  now at most", ({ ofAll }) => (ofAll ? percent(ofAll.afterMost) : "")),
          ]
        : []),
    ],
  };
}

function probability(p: number): string {
  return p < 0.0001 ? "below 0.0001" : p.toFixed(4);
}

/** First inspections by each tracked part and by shift; parts whose numbers are serial numbers are left out. */
export function groupTables(tally: WhatIfTally): StudyTable[] {
  return groupsOf(tally).map(([by, groups]) => {
    const all = sorted(groups).map(([name, counts]) => [name, yieldChange(counts)] as const);
    const hasLeft = all.some(([, { units, compared }]) => units > compared);
    return {
      caption: `By ${by}, first inspections; yields in % with 95 % intervals`,
      columns: [
        text(by),
        number("units"),
        number("was"),
        number("now"),
        number("to fail"),
        number("to pass"),
        ...(hasLeft ? [number("not compared")] : []),
      ],
      rows: all.map(([name, { units, compared, before, after, passToFail, failToPass }]) => [
        name,
        String(units),
        yieldText(before),
        yieldText(after),
        String(passToFail),
        String(failToPass),
        ...(hasLeft ? [String(units - compared)] : []),
      ]),
    };
  });
}

export function groupCharts(tally: WhatIfTally): StudyChart[] {
  return groupsOf(tally).flatMap(([by, groups]) => {
    const all = sorted(groups).map(([name, counts]) => [name, yieldChange(counts)] as const);
    const compared = all.filter(([, it]) => it.compared > 0);
    if (compared.length < 2 || compared.length > CHARTED_MOST) return [];
    // Beside each other: a yield that stays the same would hide what it was.
    const series = (name: string, aside: number, of: (it: YieldChange) => number) => ({
      name,
      draw: "dots" as const,
      points: compared.map(([, it], k) => [k + aside, 100 * of(it)] as const),
    });
    return [
      {
        title: `First pass yield by ${by}`,
        x: { label: by, names: compared.map(([name]) => name) },
        y: { label: "first pass yield, %" },
        series: [
          series("was", -0.06, ({ before }) => before?.yield ?? 0),
          series("now", 0.06, ({ after }) => after?.yield ?? 0),
        ],
      },
    ];
  });
}

function groupsOf(tally: WhatIfTally): [string, ReadonlyMap<string, UnitCounts>][] {
  const parts = [...tally.parts()].flatMap(([part, groups]): [string, ReadonlyMap<string, UnitCounts>][] =>
    groups ? [[part, groups]] : [],
  );
  return tally.shifts.size > 0 ? [...parts, ["shift", tally.shifts]] : parts;
}

function sorted(groups: ReadonlyMap<string, UnitCounts>): [string, UnitCounts][] {
  return [...groups].sort(([a], [b]) => (a < b ? -1 : 1));
}

export function characteristicTable(all: readonly CharacteristicCounts[]): StudyTable {
  const leftOut = ({ notJudged }: CharacteristicCounts) =>
    [...notJudged.values()].reduce((sum, count) => sum + count, 0);
  const hasLeft = all.some((it) => leftOut(it) > 0);
  return {
    caption: "By characteristic, all valid attempts; was / now",
    columns: [
      text("characteristic"),
      number("judged"),
      number("fails"),
      number("guard band"),
      number("marginal"),
      number("void"),
      ...(hasLeft ? [number("not judged")] : []),
      text("limits"),
    ],
    rows: all.map((it) => [
      it.characteristic.name,
      String(it.judged),
      `${it.failBefore} / ${it.failAfter}`,
      `${it.guardBefore} / ${it.guardAfter}`,
      `${it.marginalBefore} / ${it.marginalAfter}`,
      String(it.toVoid),
      ...(hasLeft ? [String(leftOut(it))] : []),
      limitsText(it.characteristic),
    ]),
  };
}

/** What can't be said of characteristics, and why; those of which the same is to be said together. */
export function notJudgedNotes(all: readonly CharacteristicCounts[]): string[] {
  const namesByWhy = new Map<string, string[]>();
  for (const { characteristic, notJudged } of all) {
    if (notJudged.size === 0) continue;
    const why = [...notJudged].map(([reason, count]) => `${count} ${WHY_NOT[reason]}`).join("; ");
    namesByWhy.set(why, [...(namesByWhy.get(why) ?? []), characteristic.name]);
  }
  return [...namesByWhy].map(([why, names]) => `Not judged again of ${names.join(", ")}: ${why}.`);
}

/** Those that change at first, by their newest test, and void attempts that would have been none. */
export function changedTables(tally: WhatIfTally, all: boolean): StudyTable[] {
  const of = (which: string, changed: readonly ChangedUnit[], unnamed: number): StudyTable[] => {
    const ways = [...new Set(changed.map(wayOf))];
    const shown = all
      ? changed
      : ways.flatMap((way) => changed.filter((it) => wayOf(it) === way).slice(0, SHOWN_MOST));
    if (shown.length === 0) return [];
    const more = changed.length + unnamed - shown.length;
    const count = counted(changed.length + unnamed, "unit changes", "units change");
    const caption = `${count} ${which}${more > 0 ? `; ${more} more, which --list names` : ""}`;
    return [{ caption, ...changedRows(shown) }];
  };
  const { voids } = tally;
  const byFirst = of("at the first inspection", tally.changedFirst, tally.unnamed("first"));
  const byLast = of("by the newest valid test", tally.changedLast, tally.unnamed("last"));
  const isSame = JSON.stringify(byFirst[0]?.rows) === JSON.stringify(byLast[0]?.rows);
  return [
    ...(isSame
      ? of("at the first inspection and by the newest valid test", tally.changedFirst, tally.unnamed("first"))
      : [...byFirst, ...byLast]),
    ...of(
      "from an attempt without verdict",
      voids.changed,
      voids.toPass + voids.toFail - voids.changed.length,
    ),
  ];
}

/** Every changed unit that is named, for a page. */
export function changedData(tally: WhatIfTally): StudyTable {
  const all = [
    ...tally.changedFirst.map((it) => ["first inspection", ...rowOf(it)]),
    ...tally.changedLast.map((it) => ["newest valid test", ...rowOf(it)]),
    ...tally.voids.changed.map((it) => ["attempt without verdict", ...rowOf(it)]),
  ];
  return {
    caption: "Units whose verdict changes",
    columns: [text("of"), ...CHANGED_COLUMNS],
    rows: all,
  };
}

const CHANGED_COLUMNS = [text("unit"), number("attempt"), text("change"), text("because")];

function changedRows(changed: readonly ChangedUnit[]) {
  return { columns: CHANGED_COLUMNS, rows: changed.map(rowOf) };
}

function rowOf(it: ChangedUnit): string[] {
  return [it.serial, String(it.attempt), wayOf(it), it.because ?? ""];
}

function wayOf({ from, to }: ChangedUnit): string {
  return `${from} to ${to}`;
}
