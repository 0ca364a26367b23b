import { readdirSync, readFileSync } from "node:fs";
import { join } from "node:path";

/** As the files have it; read without any of the program's own readers. */
interface RawTraveller {
  readonly sha256: string;
  readonly kind: string;
  readonly serial: string;
  readonly draft: boolean;
  readonly verdict: string;
  readonly attempt: { readonly number: number; readonly kind: string };
  readonly parts: Readonly<Record<string, string>>;
  readonly started_at: string;
  readonly ended_at: string | null;
  readonly chain: { readonly sequence: number; readonly previous: string | null };
}

interface RawDisposition {
  readonly kind: string;
  readonly reference?: string;
  readonly units: readonly {
    readonly serial: string;
    readonly attempt: number;
    readonly traveller: string;
  }[];
  readonly chain: { readonly sequence: number };
}

export interface NaiveUnit {
  readonly serial: string;
  /** Local day of its first inspection. */
  readonly day: string;
  readonly parts: Readonly<Record<string, string>>;
  readonly goodAtFirst: boolean;
  readonly now: "good" | "failed" | "held" | "scrapped";
  readonly reworked: boolean;
  readonly reworkPassed: boolean;
  readonly retested: boolean;
  readonly retestPassed: boolean;
}

export interface NaiveCount {
  readonly units: readonly NaiveUnit[];
  /** Local days of all tests of units on approved limits. */
  readonly testDays: readonly string[];
  readonly voids: number;
  readonly drafts: number;
  readonly references: number;
}

/** Counts a records folder the slow way, written without a look at the program's own counting. */
export function naiveCount(folder: string, timeZone: string, hash: (bytes: Buffer) => string): NaiveCount {
  const read = <T>(path: string): T => {
    const bytes = readFileSync(path);
    return { ...(JSON.parse(bytes.toString()) as T), sha256: hash(bytes) };
  };
  const inFolder = (part: RegExp) =>
    (readdirSync(folder, { recursive: true }) as string[])
      .filter((name) => part.test(name))
      .map((name) => join(folder, name));
  const inOrder = <T extends { chain: { sequence: number } }>(all: T[]) =>
    all.sort((a, b) => a.chain.sequence - b.chain.sequence);
  const travellers = inOrder(
    inFolder(/^\d{4}\/\d\d\/\d\d\/[^/.]+\.json$/).map((path) => read<RawTraveller>(path)),
  );
  const dispositions = inOrder(
    inFolder(/^dispositions\/\d+\.json$/).map((path) => read<RawDisposition>(path)),
  );
  const dayOf = (it: RawTraveller) =>
    new Intl.DateTimeFormat("sv-SE", { timeZone, dateStyle: "short" }).format(
      new Date(it.ended_at ?? it.started_at),
    );
  const counted = travellers.filter((it) => it.kind === "unit" && !it.draft);
  const units: NaiveUnit[] = [];
  for (const serial of new Set(counted.map((it) => it.serial))) {
    const tests = counted
      .filter((it) => it.serial === serial)
      .sort((a, b) => a.attempt.number - b.attempt.number);
    const doubted = new Set<string>();
    const held = new Set<string>();
    let [scrapped, reworkedAfter, firstRework] = [false, 0, Number.POSITIVE_INFINITY];
    for (const { kind, reference, units: named } of dispositions) {
      for (const { traveller, attempt } of named.filter((it) => it.serial === serial)) {
        if (kind === "hold") (reference === undefined ? held : doubted).add(traveller);
        if (kind === "accept") [held, doubted].map((set) => set.delete(traveller));
        if (kind === "scrap") scrapped = true;
        if (kind === "rework") reworkedAfter = attempt;
        if (kind === "rework") firstRework = Math.min(firstRework, attempt);
      }
    }
    const valid = tests.filter((it) => it.verdict !== "void");
    const trusted = valid.filter((it) => !doubted.has(it.sha256));
    const [first, newest] = [trusted[0], trusted.at(-1)];
    if (!first || !newest) continue;
    const isDoubted = valid.at(-1) !== newest;
    const passedSince = newest.verdict === "pass" && newest.attempt.number > reworkedAfter;
    const retests = trusted
      .slice(1)
      .filter((it) => it.attempt.kind === "retest" && it.attempt.number <= firstRework);
    const retested = first.verdict === "fail" && retests.length > 0;
    units.push({
      serial,
      day: dayOf(first),
      parts: first.parts,
      goodAtFirst: first.verdict === "pass" && first.attempt.number <= firstRework,
      now: scrapped ? "scrapped" : held.size > 0 || isDoubted ? "held" : passedSince ? "good" : "failed",
      reworked: reworkedAfter > 0,
      reworkPassed: reworkedAfter > 0 && passedSince,
      retested,
      retestPassed: retested && retests.at(-1)?.verdict === "pass",
    });
  }
  return {
    units,
    testDays: counted.map(dayOf),
    voids: counted.filter((it) => it.verdict === "void").length,
    drafts: travellers.filter((it) => it.draft).length,
    references: travellers.filter((it) => it.kind === "reference" && !it.draft).length,
  };
}
