import { createHash } from "node:crypto";
import { z } from "zod";
import { wholeNumber } from "../../limits/quantity-schema.ts";
import { fadedTries, lockedUntil_ms, type Tries, triesAt } from "./lockout.ts";
import { type People, personNamed } from "./people-file.ts";
import { nameKey } from "./person-name.ts";
import { SmallFile } from "./small-file.ts";

/**
 * What all badges of a station share, since a wrong badge belongs to nobody. So a right badge clears nothing of it: whoever
 * owns one could else try as many others as they like. Hours clear it, or a supervisor.
 */
export const ALL_BADGES = "badges";

const UNKNOWN_KEYS = 64;

const triesShape = z.strictObject({
  drumtight: z.literal("people-tries/1"),
  tries: z.record(
    z.string(),
    z.strictObject({
      count: wholeNumber({ atLeast: 1, description: "wrong tries in a row" }),
      at: z.iso.datetime("a date and time like 2026-01-05T05:55:00.000Z"),
    }),
  ),
});

type TriesFile = z.output<typeof triesShape>;

export type TryAnswer =
  | { readonly kind: "locked"; readonly count: number; readonly until_ms: number }
  /** It is counted as wrong already; give it to `right` once it has proved right. */
  | CountedTry;

interface CountedTry {
  readonly kind: "counted";
  readonly key: string;
  /** Wrong tries in a row, with this one. */
  readonly count: number;
  readonly at_ms: number;
  /** What was kept before it; null where nothing was. */
  readonly before: Tries | null;
}

/**
 * Wrong tries in a row, kept on disk beside the people file: starting the station again unlocks nothing. A try is counted
 * before it is checked, so that neither many at once nor a process killed in between give one for nothing.
 */
export class WrongTries {
  readonly #file: SmallFile<TriesFile>;

  /** @param peoplePath the people file they belong to: people.json has people.tries.json */
  constructor(peoplePath: string) {
    this.#file = new SmallFile(
      `${peoplePath.replace(/\.json$/, "")}.tries.json`,
      triesShape,
      "Nobody can sign in until it is taken away; wrong tries are then counted from none.",
    );
  }

  /** @throws RecordError where wrong tries could not be kept, so that nobody may try */
  async requireUsable(): Promise<void> {
    await this.#file.requireWritable();
    await this.#file.read();
  }

  /** @throws RecordError when it can't be kept */
  async begin(key: string, now_ms: number): Promise<TryAnswer> {
    let answer: TryAnswer | undefined;
    await this.#file.edit((now) => {
      const file = now ?? NONE;
      const kept = keptTries(file, key, now_ms);
      const before = kept && stillCounting(kept, key, now_ms);
      const until_ms = before && lockedUntil_ms(before, now_ms);
      if (before && until_ms !== null && until_ms !== undefined) {
        answer = { kind: "locked", count: before.count, until_ms };
        return withTries(file, key, before);
      }
      const count = (before?.count ?? 0) + 1;
      answer = { kind: "counted", key, count, at_ms: now_ms, before: kept };
      return withTries(file, key, { count, at_ms: now_ms });
    });
    if (!answer) throw new Error("The tries were not looked at.");
    return answer;
  }

  /**
   * After a try that proved right. Of a name's the wrong ones before it are forgotten; of badges only this one is
   * taken back.
   */
  async right(tried: CountedTry): Promise<void> {
    if (tried.key !== ALL_BADGES) {
      await this.forget(tried.key);
      return;
    }
    await this.#file.edit((now) => {
      const { [tried.key]: kept, ...others } = now?.tries ?? {};
      if (!now || !kept) return now ?? NONE;
      const isNewest = kept.count === tried.count && Date.parse(kept.at) === tried.at_ms;
      const left = isNewest ? tried.before : { count: kept.count - 1, at_ms: Date.parse(kept.at) };
      return left && left.count > 0 ? withTries(now, tried.key, left) : { ...now, tries: others };
    });
  }

  /** When a supervisor unlocks. @returns whether there was any wrong try */
  async forget(key: string): Promise<boolean> {
    let had = false;
    await this.#file.edit((now) => {
      const { [key]: gone, ...others } = now?.tries ?? {};
      had = gone !== undefined;
      return had || now === null ? { ...NONE, tries: others } : now;
    });
    return had;
  }

  /** @returns until when each key is locked, of those that are */
  async locked(now_ms: number): Promise<ReadonlyMap<string, number>> {
    const file = (await this.#file.read()) ?? NONE;
    return new Map(
      Object.keys(file.tries).flatMap((key): [string, number][] => {
        const tries = keptTries(file, key, now_ms);
        const until_ms = tries && lockedUntil_ms(tries, now_ms);
        return until_ms === null || until_ms === undefined ? [] : [[key, until_ms]];
      }),
    );
  }
}

/**
 * Under which key a name's wrong tries are counted. Unknown names are counted like known ones, or a lock would tell who is
 * known; but under one of few keys that don't tell what was typed, which may have been somebody's PIN.
 */
export function triesKey(people: People, name: string): string {
  const known = personNamed(people, name);
  if (known) return `name:${nameKey(known.name)}`;
  const hash = createHash("sha256").update(people.badge.salt).update(nameKey(name)).digest();
  return `unknown:${hash.readUInt32BE(0) % UNKNOWN_KEYS}`;
}

const NONE: TriesFile = { drumtight: "people-tries/1", tries: {} };

function keptTries(file: TriesFile, key: string, now_ms: number): Tries | null {
  const kept = Object.hasOwn(file.tries, key) ? file.tries[key] : undefined;
  return kept ? triesAt({ count: kept.count, at_ms: Date.parse(kept.at) }, now_ms) : null;
}

function stillCounting(tries: Tries, key: string, now_ms: number): Tries | null {
  return key === ALL_BADGES ? fadedTries(tries, now_ms) : tries;
}

/** The same file where nothing changes, so that it is not written. */
function withTries(file: TriesFile, key: string, { count, at_ms }: Tries): TriesFile {
  const at = new Date(at_ms).toISOString();
  const kept = file.tries[key];
  if (kept?.count === count && kept.at === at) return file;
  return { ...file, tries: { ...file.tries, [key]: { count, at } } };
}
