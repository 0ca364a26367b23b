import type { EarlyWarning } from "../quality/early-warning/early-warning.ts";
import type { UnitState } from "../records/unit-state.ts";

/** What units can be told apart by. */
export const YIELD_GROUPINGS = [
  "day",
  "shift",
  "hour",
  "model",
  "station",
  "cavity",
  "lot",
  "revision",
] as const;
export type YieldGrouping = (typeof YIELD_GROUPINGS)[number];

/**
 * What some days came to: everything that a table, a spreadsheet, a page or a program is made of. Times are ISO 8601 instants;
 * nothing in it is NaN or infinite.
 */
export interface YieldReport {
  readonly asked: YieldAsked;
  readonly source: YieldSource;
  /** All units of these days. */
  readonly total: YieldCounts;
  /** One for each grouping that was asked for, in that order. */
  readonly breakdowns: readonly YieldBreakdown[];
  /** What first inspections failed by, the most frequent first; a unit counts once for each. */
  readonly failingCharacteristics: readonly ParetoBar[];
  /** What repair found to be wrong with units of these days, from what was recorded of reworks. */
  readonly confirmedCauses: readonly ParetoBar[];
  /** What failed units were first suspected of. */
  readonly suspectedCauses: readonly ParetoBar[];
  /** Tests of these days without a valid measurement, by the code of their first reason. */
  readonly voidsByCause: readonly ParetoBar[];
  /** Of valid tests of units: from start to end. Null where there was none. */
  readonly cycleTime: { readonly tests: number; readonly median_s: number; readonly p95_s: number } | null;
  readonly referenceChecks: readonly ReferenceCheckCount[];
  readonly limitRevisions: readonly RevisionInForce[];
  /** By fault, the longest down time first. */
  readonly downTime: readonly DownTime[];
  /** All of it, with faults that overlapped counted once; null where the events can't be trusted. */
  readonly down_s: number | null;
  readonly heldUnits: readonly HeldUnitLine[];
  /** Every unit of these days, by its first inspection; absent where nobody asked for them. */
  readonly units?: readonly UnitLine[];
  /** Given in these days, standing or not, the newest first; absent where nobody looked for any. */
  readonly warnings?: readonly EarlyWarning[];
  /** What a reader must know of the figures: what was left out, what is not in yet. */
  readonly notes: readonly string[];
}

export interface YieldAsked {
  /** First and last local day, "2026-01-05"; null: from the first record, up to the last. */
  readonly from: string | null;
  readonly to: string | null;
  /** IANA name of the zone whose days and shifts these are. */
  readonly timeZone: string;
  /** When shifts begin, local time; empty where nobody said. */
  readonly shifts: readonly string[];
  readonly by: readonly YieldGrouping[];
  /** Only this one, where one was asked for. */
  readonly model: string | null;
  readonly station: string | null;
}

export interface YieldSource {
  readonly folder: string;
  readonly made_at: string;
  /** Of tests that count, in these days; null for none. */
  readonly firstTest_at: string | null;
  readonly lastTest_at: string | null;
  readonly stations: readonly string[];
  readonly models: readonly string[];
  /** Whether simulated tests are among them. */
  readonly simulated: boolean;
  /** Travellers of these days that were read and are as the index has them; null: the index was taken at its word. */
  readonly travellersCompared: number | null;
  /** Travellers that are not as they were recorded: named, counted, and no part of any figure. */
  readonly broken: readonly { readonly path: string; readonly problem: string }[];
  /** Tests left out because they count for nothing. */
  readonly drafts: number;
  readonly references: number;
}

/** A part of a whole with its interval; `value` and the ends are null where the whole is nothing. */
export interface Share {
  readonly count: number;
  readonly of: number;
  readonly value: number | null;
  /** 95 %, Clopper-Pearson. */
  readonly lower: number | null;
  readonly upper: number | null;
}

/**
 * Of units whose first inspection lies in the time or group; each counts once, however often it was tested. As things stand when the
 * report is made: what became of a unit later counts with its first inspection. inspected = good + failed + held + scrapped.
 */
export interface YieldCounts {
  readonly inspected: number;
  /** ISO 22400-2 first pass yield: good at first inspection by inspected. */
  readonly firstPass: Share;
  /** ISO 22400-2 quality ratio: good now by inspected; passed at last, neither held nor scrapped. */
  readonly good: Share;
  /** Failed at last and neither held nor scrapped: waiting for a retest, for rework or for somebody's decision. */
  readonly failed: Share;
  /** ISO 22400-2 rework ratio: units that were reworked, whatever came of it. */
  readonly reworked: Share;
  /** ISO 22400-2 scrap ratio. */
  readonly scrapped: Share;
  /** Held now: neither good nor failed, and never to be shipped. */
  readonly held: Share;
  /** By step, in the order in which units go through them: units that got to it at first inspection, and passed it. */
  readonly steps: readonly { readonly step: string; readonly passed: Share }[];
  /** Product of the steps' first pass yields; null where a step was never got to. */
  readonly rolledThroughputYield: number | null;
  /** What was found wrong at first inspections, by what was looked at; null where nothing was. */
  readonly defects: { readonly found: number; readonly opportunities: number; readonly dpmo: number | null };
  /** Tests in this time, retests and voids and those after rework among them. */
  readonly tests: number;
  readonly voidTests: number;
  /** Units tested again without a rework after a valid fail, and those of them that then passed. */
  readonly retested: Share;
  /** Of units reworked: those whose newest test passed. */
  readonly reworkPassed: Share;
}

export interface YieldBreakdown {
  readonly by: YieldGrouping;
  /** Days, shifts and hours in their order; others by name. */
  readonly groups: readonly YieldGroup[];
}

export interface YieldGroup {
  /** To be read: "2026-01-05", "2026-01-05 06:00 to 14:00", "2026-10-25 02:00 +01:00", "tub_cavity P1", "POD-4 revision 4". */
  readonly name: string;
  /** The time it stands for; null for other groups. */
  readonly from: string | null;
  readonly to: string | null;
  readonly counts: YieldCounts;
}

export interface ParetoBar {
  readonly name: string;
  readonly count: number;
  /** Of all that failed (were void, were reworked), 0 to 1; where one may have several, the bars' rates add up to more than 1. */
  readonly rate: number;
  /** Of everything that was found, 0 to 1: all bars together are 1. */
  readonly share: number;
  /** Shares of this bar and of all more frequent ones together; the last one's is 1. */
  readonly cumulative: number;
}

export interface ReferenceCheckCount {
  readonly serial: string;
  readonly model: string;
  readonly passed: number;
  readonly failed: number;
  /** Without a valid measurement: they prove nothing. */
  readonly voids: number;
  /** The newest that passed or failed. */
  readonly last: {
    readonly at: string;
    readonly verdict: "pass" | "fail";
    readonly measured: number | null;
    readonly certified: number;
    readonly tolerance: number;
    readonly unit: string;
  } | null;
}

export interface RevisionInForce {
  readonly model: string;
  readonly revision: number;
  readonly sha256: string;
  readonly first_at: string;
  readonly last_at: string;
  readonly tests: number;
}

export interface DownTime {
  readonly code: string;
  /** The newest one's words. */
  readonly sentence: string;
  readonly count: number;
  /** From the fault until it was acknowledged or the station closed, inside the days asked for. */
  readonly down_s: number;
  readonly last_at: string;
}

export interface UnitLine {
  readonly serial: string;
  readonly model: string;
  readonly station: string;
  /** End of its first inspection; of its first test where none can be trusted. */
  readonly first_at: string;
  /** Of its first inspection; null where no test can be trusted. */
  readonly first: "pass" | "fail" | null;
  /** What its first inspection failed by. */
  readonly failedBy: readonly string[];
  readonly state: UnitState["state"];
  /** Why it is held, in doubt, scrapped or reworked; null otherwise. */
  readonly reason: string | null;
  /** All that count, voids among them. */
  readonly tests: number;
  /** Numbers of the tracked parts of its first inspection, by their names. */
  readonly parts: Readonly<Record<string, string>>;
}

export interface HeldUnitLine {
  readonly serial: string;
  readonly model: string;
  readonly since: string;
  readonly by: string | null;
  readonly reason: string;
}
