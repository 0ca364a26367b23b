import { localDay } from "../records/local-time.ts";

/** One record that a study took something from. */
interface TakenRecord {
  readonly started_ms: number;
  readonly station: string;
  readonly revision: number;
}

/** Days, stations and limit files of the records that a study took something from. */
export class Provenance {
  readonly #revisions = new Set<number>();
  readonly #stations = new Set<string>();
  #first_ms = Number.POSITIVE_INFINITY;
  #last_ms = Number.NEGATIVE_INFINITY;

  take({ started_ms, station, revision }: TakenRecord): void {
    this.#revisions.add(revision);
    this.#stations.add(station);
    if (started_ms < this.#first_ms) this.#first_ms = started_ms;
    if (started_ms > this.#last_ms) this.#last_ms = started_ms;
  }

  get stations(): readonly string[] {
    return [...this.#stations].sort();
  }

  /** @returns parts of a sentence: "tests of 2026-01-05 to 2026-01-09", "station Line 1", "limit file revisions 3, 4" */
  words(): readonly string[] {
    if (this.#stations.size === 0) return [];
    const days = [this.#first_ms, this.#last_ms].map((at_ms) => localDay(new Date(at_ms).toISOString()));
    const revisions = [...this.#revisions].sort((a, b) => a - b).map(String);
    return [
      `tests of ${[...new Set(days)].join(" to ")}`,
      listed("station", this.stations),
      listed("limit file revision", revisions),
    ];
  }
}

function listed(what: string, names: readonly string[]): string {
  const shown = names.slice(0, MOST_NAMED);
  const more = names.length > shown.length ? ` and ${names.length - shown.length} more` : "";
  return `${what}${names.length > 1 ? "s" : ""} ${shown.join(", ")}${more}`;
}

const MOST_NAMED = 6;
