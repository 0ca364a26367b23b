import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { normalQuantile } from "../../limits/normal.ts";
import { randomStream } from "../../sim/random.ts";
import { RecordIndex } from "../../station/records/index-db.ts";
import { connectToRead } from "../../station/records/index-file.ts";
import { indexedAttempts } from "../../station/records/read-stored-values.ts";
import { decodedNumbers, formNumber } from "../../station/records/stored-values.ts";
import { ValuesReplay } from "../../station/what-if/replay-values.ts";
import { yieldChange } from "../../station/what-if/what-if-summary.ts";
import { pod, podForm, podNumbers, withUpper } from "../what-if/made-stored.ts";
import { aside, atMost, type Bench } from "./figure.ts";

const UNITS = Number(process.env.REPLAY_UNITS ?? 1_000_000);
const FEW = Math.round(UNITS / 10);
const AT_ONCE = 5000;
/** Fails at their first inspection and are tested again, one in so many. */
const RETESTED = 20;
/** From one attempt to the next. */
const EACH_MS = 25_000;

/**
 * How long `drumtight limits replay` takes to judge a million recorded units again, ten characteristics each, against one pass over
 * the same stored values that fetches and decodes them in the same way and judges nothing; and what its memory grows by from a
 * tenth of the units to all. The index is filled by itself with invented units of the compact body, one in twenty tested twice:
 * the travellers, which the replay does not read, are left out. REPLAY_UNITS sets another number.
 */
export const replay: Bench = async () => {
  const folder = mkdtempSync(join(tmpdir(), "drumtight-replay-bench-"));
  try {
    const rows = fillIndex(folder, UNITS);
    const few = timed(() => judgeAgain(folder, Math.round(rows / 10)));
    const fewPeak_MB = peak_MB();
    const all = timed(() => judgeAgain(folder, rows));
    const allPeak_MB = peak_MB();
    const bare = timed(() => passOver(folder, rows));
    const again = timed(() => judgeAgain(folder, rows));
    const bareAgain = timed(() => passOver(folder, rows));
    const [ms, bare_ms] = [Math.min(all.ms, again.ms), Math.min(bare.ms, bareAgain.ms)];
    if (all.result.units !== UNITS || few.result.units < FEW / 2)
      throw new Error(`${all.result.units} units were judged again, not ${UNITS}.`);
    return [
      atMost(2, {
        figure: `${UNITS} units judged again`,
        value: ms / 1000,
        unit: "s",
        against: `the same ${rows} attempts fetched and decoded in ${(bare_ms / 1000).toFixed(1)} s`,
        ratio: ms / bare_ms,
      }),
      aside({
        figure: "units a second",
        value: Math.round((UNITS / ms) * 1000),
        unit: "1/s",
        against: `${all.result.changed} units change`,
      }),
      atMost(1.5, {
        figure: `memory at its most, ${UNITS} units`,
        value: Math.round(allPeak_MB),
        unit: "MB",
        against: `${Math.round(fewPeak_MB)} MB for a tenth of them`,
        ratio: allPeak_MB / fewPeak_MB,
      }),
    ];
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
};

/**
 * Fills a folder's index, and nothing else of it, with invented units of the compact body.
 * @returns the number of attempts
 */
export function fillIndex(folder: string, units: number): number {
  const random = randomStream(1, "replay bench");
  const index = RecordIndex.open(folder);
  const forms = new Map(
    (["pass", "fail"] as const).flatMap((verdict) =>
      (["first", "retest"] as const).map((kind) => {
        const text = JSON.stringify(podForm({ verdict, kind }));
        return [`${verdict} ${kind}`, { form: formNumber(text), formText: text }];
      }),
    ),
  );
  let sequence = 0;
  const attempt = (unit: number, number: number, leak_mLmin: number) => {
    sequence++;
    const kind = number === 1 ? ("first" as const) : ("retest" as const);
    const u = 0.5;
    const verdict = leak_mLmin > 25 - u * normalQuantile(0.95) ? ("fail" as const) : ("pass" as const);
    const at = new Date(Date.UTC(2026, 0, 5, 6) + sequence * EACH_MS).toISOString();
    const serial = `POD${unit}`;
    const form = forms.get(`${verdict} ${kind}`) as { form: number; formText: string };
    return {
      sequence,
      sha256: "a".repeat(64),
      path: `${at.slice(0, 10).replaceAll("-", "/")}/${sequence}-${serial}-${number}.json`,
      id: String(sequence),
      recordKind: "unit" as const,
      serial,
      model: "POD-4",
      attempt: number,
      kind,
      draft: false,
      verdict,
      started_at: at,
      ended_at: at,
      duration_s: EACH_MS / 1000,
      codes: [],
      causes: [],
      suspect: null,
      reference: null,
      stored: {
        ...form,
        parts: `{"tub_cavity":"P${1 + (unit % 2)}","lid_cavity":"Q${1 + (unit % 3)}","motor_serial":"N${unit}"}`,
        numbers: Buffer.from(podNumbers(leak_mLmin, u).buffer),
      },
    };
  };
  for (let from = 1; from <= units; from += AT_ONCE) {
    const batch = [];
    for (let unit = from; unit < from + AT_ONCE && unit <= units; unit++) {
      const isRetested = unit % RETESTED === 0;
      batch.push(attempt(unit, 1, isRetested ? 30 : 12 + 4 * random.normal()));
      if (isRetested) batch.push(attempt(unit, 2, 12 + 4 * random.normal()));
    }
    index.add(batch);
  }
  index.close();
  return sequence;
}

const SHIFTS = ["06:00", "14:00", "22:00"];

function judgeAgain(folder: string, last: number) {
  const replay = new ValuesReplay({ limits: withUpper(22), shifts: SHIFTS, keepAll: false }, new Set());
  const database = connectToRead(folder);
  if (!database) throw new Error("The bench's own index can't be read.");
  for (const attempt of indexedAttempts(database, { model: pod.model }, last)) replay.add(attempt);
  database.close();
  const { tally } = replay.result();
  const { passToFail, failToPass } = yieldChange(tally.first);
  return { units: tally.units, changed: passToFail + failToPass };
}

/** Nothing but the rows of the same attempts, each with its values as numbers. */
function passOver(folder: string, last: number): number {
  const database = connectToRead(folder);
  if (!database) throw new Error("The bench's own index can't be read.");
  const page = database
    .prepare(
      `SELECT v.sequence, v.form, a.serial, a.attempt, a.started_at, v.parts, v.numbers
       FROM stored_values v CROSS JOIN attempts a ON a.sequence = v.sequence
       WHERE v.sequence > ? AND v.sequence <= ? ORDER BY v.sequence LIMIT 2000`,
    )
    .raw();
  let sum = 0;
  for (let after = 0; after < last; ) {
    for (const row of page.all(after, last) as [number, number, string, number, string, string, Buffer][]) {
      after = row[0];
      for (const number of decodedNumbers(row[6])) sum += number;
    }
  }
  database.close();
  return sum;
}

function timed<T>(work: () => T): { readonly result: T; readonly ms: number } {
  const start_ms = performance.now();
  const result = work();
  return { result, ms: performance.now() - start_ms };
}

function peak_MB(): number {
  return process.resourceUsage().maxRSS / 1000;
}
