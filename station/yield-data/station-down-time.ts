import { existsSync } from "node:fs";
import { join } from "node:path";
import { type DownTimes, downTimes, ENDING, type TimeSpan } from "../yield/down-time.ts";

/** What a records folder tells of a station's down time. */
export interface FoundDownTime extends DownTimes {
  /** Why nothing is told: the events are not as they were recorded. */
  readonly problem: string | null;
}

const NOTHING: FoundDownTime = { downTime: [], down_s: 0, notes: [], problem: null };
const DAY_MS = 86_400_000;
/** How far back it is looked for what the station was doing before, one after the other. */
const BEFORE_MS = [DAY_MS, 30 * DAY_MS, Number.POSITIVE_INFINITY];

/**
 * The station's down time, from the events beside its travellers. They are read back from their end as far as needed, without
 * a lock: a station may be writing meanwhile.
 * @throws RecordError why they can't be read
 */
export async function stationDownTime(
  folder: string,
  span: TimeSpan,
  now_ms: number,
): Promise<FoundDownTime> {
  if (!existsSync(join(folder, "events"))) return NOTHING;
  const { ChainedLog } = await import("../records/chained-log.ts");
  const { StationEvent } = await import("../records/station-event.ts");
  const { EVENTS } = await import("../records/station-logs.ts");
  const { RecordError } = await import("../records/record-error.ts");
  const log = new ChainedLog({ folder, name: EVENTS, what: "station event", schema: StationEvent });
  try {
    for (const before_ms of BEFORE_MS) {
      const since_ms = span.from_ms - before_ms;
      const events = (await log.newest(({ at }) => Date.parse(at) >= since_ms)).map(({ content }) => content);
      const isFromGoing = events.some(({ event, at }) => ENDING.has(event) && Date.parse(at) < span.from_ms);
      if (isFromGoing || before_ms === Number.POSITIVE_INFINITY) {
        return { ...downTimes(events, span, now_ms), problem: null };
      }
    }
    return NOTHING;
  } catch (error) {
    if (!(error instanceof RecordError && error.code === "CORRUPT")) throw error;
    return { ...NOTHING, problem: error.message };
  }
}
