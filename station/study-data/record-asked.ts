import { localDay, localTime } from "../records/local-time.ts";
import { type ShiftTimes, shiftAt } from "../shift-times.ts";

/** Which values of a records folder a study is about. */
export interface RecordsQuery {
  readonly folder: string;
  readonly model: string;
  /** A characteristic's name in the limit file, or what it measures where only one does: "leak rate", "leak_rate". */
  readonly characteristic: string;
  /** First and last day on which an attempt may have begun, like 2026-01-05, by the local calendar. */
  readonly from?: string | undefined;
  readonly to?: string | undefined;
  /** Begins of shifts as the station file has them, "06:00"; empty where none is given. */
  readonly shifts: readonly string[];
  /** Only attempts begun in the shift with this begin. */
  readonly shift?: string | undefined;
  /** Only tests at the station of this name. */
  readonly at?: string | undefined;
  /** Only units with these tracked parts, named as `PartAsked` takes them. */
  readonly parts: ReadonlyMap<string, string>;
  /** `first`: each unit once, as it was at its first valid test. */
  readonly attempts: "first" | "all";
  /** Attempts on draft limits, too, which count nowhere else. */
  readonly withDrafts: boolean;
  /** Values of units that passed, and no others: a gross leak or two hide every smaller difference. */
  readonly passedOnly?: boolean | undefined;
  /** "station", "shift", "day", "model" or a tracked part. */
  readonly by?: string | undefined;
  /** What makes a point of a chart: each day, or each shift of each day. */
  readonly per?: "day" | "shift" | undefined;
}

/** A characteristic by its names. */
interface Named {
  readonly name: string;
  readonly measurand: string;
}

/** @returns the place of the characteristic that is asked for, -1 where there is none or it isn't plain which */
export function placeIn(characteristics: readonly Named[], asked: string): number {
  const named = characteristics.findIndex(({ name }) => sameName(name, asked));
  if (named >= 0) return named;
  const alike = characteristics.flatMap(({ measurand }, k) => (sameName(measurand, asked) ? [k] : []));
  return alike.length === 1 ? (alike[0] ?? -1) : -1;
}

function sameName(a: string, b: string): boolean {
  return plain(a) === plain(b);
}

function plain(name: string): string {
  return name.trim().toLowerCase().replaceAll(/[_-]/g, " ");
}

/** Days and shifts of attempts that mostly follow each other; the last one is kept, since finding it takes longer than a value. */
export class Calendar {
  readonly #shifts: readonly string[];
  #day = { from_ms: Number.POSITIVE_INFINITY, to_ms: Number.NEGATIVE_INFINITY, name: "" };
  #shift: ShiftTimes & { readonly begin: string; readonly dated: string } = {
    from_ms: Number.POSITIVE_INFINITY,
    to_ms: Number.NEGATIVE_INFINITY,
    begin: "",
    dated: "",
  };

  /** @param shifts begins of shifts, ascending; empty where none is known */
  constructor(shifts: readonly string[]) {
    this.#shifts = shifts;
  }

  /** @returns the day by the local calendar, like "2026-01-05" */
  dayOf(at_ms: number): string {
    if (!(at_ms >= this.#day.from_ms && at_ms < this.#day.to_ms)) {
      const at = new Date(at_ms);
      const [year, month, date] = [at.getFullYear(), at.getMonth(), at.getDate()];
      this.#day = {
        from_ms: new Date(year, month, date).getTime(),
        to_ms: new Date(year, month, date + 1).getTime(),
        name: localDay(at.toISOString()),
      };
    }
    return this.#day.name;
  }

  /** @returns the begin of the shift, like "06:00" */
  shiftOf(at_ms: number): string {
    return this.#shiftAt(at_ms).begin;
  }

  /** @returns the shift with its day, like "2026-01-05 06:00" */
  datedShiftOf(at_ms: number): string {
    return this.#shiftAt(at_ms).dated;
  }

  #shiftAt(at_ms: number) {
    if (!(at_ms >= this.#shift.from_ms && at_ms < this.#shift.to_ms)) {
      const times = shiftAt(this.#shifts, at_ms);
      const dated = localTime(new Date(times.from_ms).toISOString()).slice(0, "2026-01-05 06:00".length);
      this.#shift = { ...times, dated, begin: dated.slice("2026-01-05 ".length) };
    }
    return this.#shift;
  }
}
