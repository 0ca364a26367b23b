import { askedAtOneMoment } from "../records/index-moment.ts";
import type { YieldReport } from "../yield/yield-report.ts";
import { yieldAt } from "../yield-data/collect-yield.ts";
import { askedTime, type YieldQuery } from "../yield-data/yield-query.ts";
import type { YieldDetail } from "./yield-detail.ts";

/** What is told besides the counts. */
export interface ToldBesides {
  /** Early warnings: it takes longer to look for them than to count. */
  readonly warnings: boolean;
  /** Values and failures, for a page. */
  readonly detail: boolean;
}

export interface YieldAnswer {
  readonly report: YieldReport;
  /** Null where it was not asked for. */
  readonly detail: YieldDetail | null;
}

/**
 * A yield with what is told besides it, all of one moment of the folder: a test that is recorded meanwhile is in every part or in none.
 * @throws as `collectYield`
 */
export function collectAnswer(query: YieldQuery, told: ToldBesides): Promise<YieldAnswer> {
  const { folder, shifts, model = null, station = null } = query;
  return askedAtOneMoment(folder, async (moment) => {
    const { report, newest, decisions } = await yieldAt(query, moment);
    const time = askedTime(query);
    const found = told.warnings
      ? await (await import("../study-data/early-warnings.ts")).earlyWarnings(
          { folder, shifts, model, ...time },
          { ...moment, decisions },
        )
      : null;
    const { broken } = report.source;
    const detail = told.detail
      ? await (await import("./collect-yield-detail.ts")).collectYieldDetail(
          { folder, ...time, model, station, broken, newest, decisions },
          moment.database,
        )
      : null;
    if (found === null) return { report, detail };
    const { warnings, notes } = found;
    return { report: { ...report, warnings, notes: [...report.notes, ...notes] }, detail };
  });
}
