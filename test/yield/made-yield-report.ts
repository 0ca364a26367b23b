import { exactInterval } from "../../station/quality/exact-interval.ts";
import type {
  ParetoBar,
  Share,
  YieldBreakdown,
  YieldCounts,
  YieldGrouping,
  YieldReport,
} from "../../station/yield/yield-report.ts";

/** A part of a whole with its interval, as reports have it. */
export function madeShare(count: number, of: number): Share {
  if (of === 0) return { count, of, value: null, lower: null, upper: null };
  const { lower, upper } = exactInterval(count, of);
  return { count, of, value: count / of, lower, upper };
}

export interface MadeOutcome {
  readonly inspected: number;
  readonly firstGood: number;
  readonly good?: number;
  readonly held?: number;
  readonly scrapped?: number;
  readonly reworked?: number;
  readonly voids?: number;
}

/** Counts that fit together: inspected = good + failed + held + scrapped. */
function madeCounts({ inspected, firstGood, ...rest }: MadeOutcome): YieldCounts {
  const { good = firstGood, held = 0, scrapped = 0, reworked = 0, voids = 0 } = rest;
  const leakPassed = Math.min(inspected, firstGood + Math.floor((inspected - firstGood) / 3));
  const retested = Math.max(0, good - firstGood);
  return {
    inspected,
    firstPass: madeShare(firstGood, inspected),
    good: madeShare(good, inspected),
    failed: madeShare(inspected - good - held - scrapped, inspected),
    reworked: madeShare(reworked, inspected),
    scrapped: madeShare(scrapped, inspected),
    held: madeShare(held, inspected),
    steps: [
      { step: "leak", passed: madeShare(leakPassed, inspected) },
      { step: "airflow", passed: madeShare(firstGood, leakPassed) },
    ],
    rolledThroughputYield: inspected === 0 || leakPassed === 0 ? null : firstGood / inspected,
    defects: {
      found: inspected - firstGood,
      opportunities: 7 * inspected,
      dpmo: inspected === 0 ? null : (1e6 * (inspected - firstGood)) / (7 * inspected),
    },
    tests: inspected + retested + voids,
    voidTests: voids,
    retested: madeShare(retested, retested),
    reworkPassed: madeShare(0, reworked),
  };
}

/** @param of all that failed, or were void */
function madePareto(counts: Readonly<Record<string, number>>, of: number): ParetoBar[] {
  let sum = 0;
  const total = Object.values(counts).reduce((all, count) => all + count, 0);
  return Object.entries(counts).map(([name, count]) => {
    sum += count;
    return {
      name,
      count,
      rate: of === 0 ? 0 : count / of,
      share: total === 0 ? 0 : count / total,
      cumulative: total === 0 ? 0 : sum / total,
    };
  });
}

function madeBreakdown(by: YieldGrouping, groups: Readonly<Record<string, YieldCounts>>): YieldBreakdown {
  return {
    by,
    groups: Object.entries(groups).map(([name, counts]) => ({ name, from: null, to: null, counts })),
  };
}

/** Inspected and good at first; a break at ten. */
const HOURS: readonly (readonly [inspected: number, firstGood: number])[] = [
  [20, 19],
  [21, 19],
  [18, 18],
  [24, 21],
  [0, 0],
  [23, 21],
  [22, 21],
  [23, 20],
];

/** A busy early shift of an invented station: 151 units, 139 good at first, 2 of them held, 1 scrapped. */
export function madeYieldReport(changes: Partial<YieldReport> = {}): YieldReport {
  const total = madeCounts({
    inspected: 151,
    firstGood: 139,
    good: 140,
    held: 2,
    scrapped: 1,
    reworked: 1,
    voids: 3,
  });
  return {
    asked: {
      from: "2026-01-05",
      to: "2026-01-05",
      timeZone: "Europe/Berlin",
      shifts: ["06:00", "14:00", "22:00"],
      by: ["hour", "model", "cavity"],
      model: null,
      station: null,
    },
    source: {
      folder: "records",
      made_at: "2026-01-06T05:00:00.000Z",
      firstTest_at: "2026-01-05T05:02:11.000Z",
      lastTest_at: "2026-01-05T12:58:40.000Z",
      stations: ["Demo station 1"],
      models: ["POD-4", "TUB-12"],
      simulated: true,
      travellersCompared: 155,
      broken: [],
      drafts: 4,
      references: 6,
    },
    total,
    breakdowns: [
      madeBreakdown(
        "hour",
        Object.fromEntries(
          HOURS.map(([inspected, firstGood], k) => [
            `2026-01-05 ${String(6 + k).padStart(2, "0")}:00`,
            madeCounts({ inspected, firstGood }),
          ]),
        ),
      ),
      madeBreakdown("model", {
        "POD-4": madeCounts({ inspected: 71, firstGood: 68, held: 1, good: 67 }),
        "TUB-12": madeCounts({ inspected: 80, firstGood: 71, good: 73, held: 1, scrapped: 1, reworked: 1 }),
      }),
      madeBreakdown("cavity", {
        "tub_cavity T1": madeCounts({ inspected: 50, firstGood: 48 }),
        "tub_cavity T2": madeCounts({ inspected: 51, firstGood: 42 }),
        "tub_cavity T3": madeCounts({ inspected: 50, firstGood: 49 }),
        "lid_cavity L1": madeCounts({ inspected: 76, firstGood: 70 }),
        "lid_cavity L2": madeCounts({ inspected: 75, firstGood: 69 }),
      }),
    ],
    failingCharacteristics: madePareto(
      { "leak rate": 8, "largest suction power": 3, "motor did not start": 1 },
      12,
    ),
    confirmedCauses: madePareto({ "gasket pinched": 1 }, 1),
    suspectedCauses: madePareto({ "gasket pinched": 6, "tub cracked": 3, "motor or its supply dead": 1 }, 12),
    voidsByCause: madePareto({ GAUGE_SILENT: 2, PROGRAM_STOPPED: 1 }, 3),
    cycleTime: { tests: 152, median_s: 21.4, p95_s: 33.9 },
    referenceChecks: [
      {
        serial: "REF-LEAK-POD-4",
        model: "POD-4",
        passed: 2,
        failed: 0,
        voids: 1,
        last: {
          at: "2026-01-05T09:01:00.000Z",
          verdict: "pass",
          measured: 12.61,
          certified: 12.5,
          tolerance: 2.5,
          unit: "mL/min @ 20 degC",
        },
      },
      { serial: "REF-TIGHT-POD-4", model: "POD-4", passed: 0, failed: 0, voids: 0, last: null },
    ],
    limitRevisions: [
      {
        model: "POD-4",
        revision: 4,
        sha256: "a".repeat(64),
        first_at: "2026-01-05T05:02:11.000Z",
        last_at: "2026-01-05T12:58:40.000Z",
        tests: 73,
      },
    ],
    downTime: [
      {
        code: "GAUGE_SILENT",
        sentence: "leak_gauge does not answer; check its supply and the cable.",
        count: 2,
        down_s: 754,
        last_at: "2026-01-05T10:10:00.000Z",
      },
    ],
    down_s: 754,
    heldUnits: [
      {
        serial: "TUB000121",
        model: "TUB-12",
        since: "2026-01-05T11:00:00.000Z",
        by: "J. Brandt",
        reason: "scratch on the seat of the seal",
      },
      {
        serial: "POD000077",
        model: "POD-4",
        since: "2026-01-05T09:01:00.000Z",
        by: null,
        reason: "reference check failed",
      },
    ],
    notes: [],
    ...changes,
  };
}

/** A day on which nothing was made. */
export function madeEmptyReport(): YieldReport {
  const full = madeYieldReport();
  return madeYieldReport({
    source: {
      ...full.source,
      firstTest_at: null,
      lastTest_at: null,
      stations: [],
      models: [],
      simulated: false,
      drafts: 0,
      references: 0,
      travellersCompared: 0,
    },
    total: madeCounts({ inspected: 0, firstGood: 0 }),
    breakdowns: full.breakdowns.map(({ by }) => ({ by, groups: [] })),
    failingCharacteristics: [],
    confirmedCauses: [],
    suspectedCauses: [],
    voidsByCause: [],
    cycleTime: null,
    referenceChecks: [],
    limitRevisions: [],
    downTime: [],
    down_s: 0,
    heldUnits: [],
  });
}
