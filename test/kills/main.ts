import { parseArgs } from "node:util";
import { type Kill, killLane, type LaneResult } from "./lane.ts";
import type { Moment } from "./moment.ts";

const USE = `Kills running stations with SIGKILL at random moments, and looks after each at what it left.
  npm run kills -- [--times 500] [--seed 1] [--lanes 6] [--json]
Half of the lanes reach their instruments by TCP, half by pseudo-terminals. Exit code 1 when anything was wrong.`;

async function main(args: readonly string[]): Promise<number> {
  const { values } = parseArgs({
    args: [...args],
    options: {
      times: { type: "string", default: "500" },
      seed: { type: "string", default: "1" },
      lanes: { type: "string", default: "6" },
      json: { type: "boolean", default: false },
      help: { type: "boolean", default: false },
    },
  });
  const [times, seed, lanes] = [values.times, values.seed, values.lanes].map(wholeNumber);
  if (values.help || times === undefined || seed === undefined || lanes === undefined || lanes < 1) {
    process.stderr.write(`${USE}\n`);
    return values.help ? 0 : 2;
  }
  const stop = new AbortController();
  // What was done until then is still summed up.
  process.once("SIGINT", () => stop.abort());
  let done = 0;
  const killed = (kill: Kill) => {
    done++;
    for (const sentence of kill.wrong) process.stderr.write(`WRONG, killed ${kill.at}: ${sentence}\n`);
    if (!values.json && done % 25 === 0) process.stderr.write(`${done} of ${times}\n`);
  };
  // A lane that can't go on ends the others, which close their plants first.
  const settled = await Promise.allSettled(
    Array.from({ length: lanes }, (_, lane) =>
      killLane({
        seed,
        lane,
        times: Math.floor(times / lanes) + (lane < times % lanes ? 1 : 0),
        over: lane % 2 === 0 ? "tcp" : "pty",
        killed,
        stop: stop.signal,
      }).catch((error: unknown) => {
        stop.abort();
        throw error;
      }),
    ),
  );
  const results = settled.map((it) => {
    if (it.status === "rejected") throw it.reason;
    return it.value;
  });
  const summary = summaryOf(results, seed);
  process.stdout.write(values.json ? `${JSON.stringify(summary)}\n` : `${text(summary)}\n`);
  return summary.wrong.length === 0 ? 0 : 1;
}

type Summary = ReturnType<typeof summaryOf>;

function summaryOf(results: readonly LaneResult[], seed: number) {
  const kills = results.flatMap((result) => result.kills);
  const sum = (value: (result: LaneResult) => number) => results.reduce((all, it) => all + value(it), 0);
  return {
    seed,
    kills: kills.length,
    by_kind: counted<Moment["kind"]>(kills.map(({ kind }) => kind)),
    after_a_verdict: kills.filter(({ judged }) => judged > 0).length,
    left_on_disk: counted(kills.map(({ left }) => left)),
    travellers: sum((it) => it.travellers),
    interrupted: sum((it) => it.interrupted),
    pass: sum((it) => it.verdicts.pass),
    fail: sum((it) => it.verdicts.fail),
    void: sum((it) => it.verdicts.void),
    outputs_live: kills.filter(({ wasLive }) => wasLive).length,
    longest_to_safe_outputs_s: Math.max(0, ...kills.map(({ safeAfter_s }) => safeAfter_s)),
    wrong: [
      ...kills.flatMap(({ at, wrong }) => wrong.map((sentence) => `killed ${at}: ${sentence}`)),
      ...results.flatMap((it) => it.wrong),
    ],
  };
}

function counted<K extends string>(names: readonly K[]): Partial<Record<K, number>> {
  const counts: Partial<Record<K, number>> = {};
  for (const name of names) counts[name] = (counts[name] ?? 0) + 1;
  return counts;
}

function text(summary: Summary): string {
  const rows = (counts: Readonly<Record<string, number>>) =>
    Object.entries(counts).map(([name, count]) => `  ${name.padEnd(48)}${String(count).padStart(6)}`);
  return [
    `${summary.kills} kills, seed ${summary.seed}`,
    ...rows(summary.by_kind),
    `${summary.after_a_verdict} of them after a verdict, pass or fail, of the same run`,
    "Left on disk",
    ...rows(summary.left_on_disk),
    `${summary.travellers} travellers: ${summary.pass} pass, ${summary.fail} fail, ${summary.void} void, ${summary.interrupted} of these interrupted`,
    `Outputs live at ${summary.outputs_live} of the kills, safe after ${summary.longest_to_safe_outputs_s.toFixed(2)} s at most`,
    summary.wrong.length === 0 ? "Nothing was wrong." : `${summary.wrong.length} times something was WRONG:`,
    ...summary.wrong.map((sentence) => `  ${sentence}`),
  ].join("\n");
}

function wholeNumber(written: string): number | undefined {
  return /^\d{1,9}$/.test(written) ? Number(written) : undefined;
}

process.exitCode = await main(process.argv.slice(2));
