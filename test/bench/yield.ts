import { spawnSync } from "node:child_process";
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import Database from "libsql";
import { packageRoot } from "../../station/package-root.ts";
import { connectToRead } from "../../station/records/index-file.ts";
import type { YieldReport } from "../../station/yield/yield-report.ts";
import { collectYield } from "../../station/yield-data/collect-yield.ts";
import { PROGRAM } from "../program.ts";
import { aside, atMost, type Bench, type Figure } from "./figure.ts";
import { type PlantRecords, plantRecords, poolOf } from "./plant-records.ts";
import { costOf, leastCosts } from "./process-cost.ts";
import { requireSame, yieldByHand } from "./yield-by-hand.ts";

const UNITS = Number(process.env.BENCH_UNITS ?? 1_000_000);
/** Of fewer, the travellers are read, and most of these records have none. */
const FEWEST = 35_000;
const RUNS = 5;
/** Of units that fail twice, how many somebody sends to rework: every decision is a file that a yield has to read. */
const DECIDED_PART = Number(process.env.BENCH_DECIDED ?? 0.5);

/**
 * What a supervisor waits for at a plant with a million tested units, see `plantRecords`. Whole processes of the built program
 * against whole processes of others, in turns, the best of each:
 *
 * - `yield --by day` over all days against the same yield as somebody types it into the sqlite3 shell (`yieldByHand`), which has to
 *   come to the same figures, by day and in all; beside it, against the shell that is given every question the program asks,
 *   word for word as the program's own database was asked (they are listened to once, in this process). The comparison is of
 *   processor time, since other work on the machine counts into the clock's; the clock's is told beside it. Memory is the most
 *   the process had, against a tenth of the units, 35,000 at least.
 * - the newest day's page, its travellers on disk and read: processor time, against two seconds.
 * - `find` of one unit against a Node script that does nothing but open the index and select the unit's rows.
 *
 * BENCH_UNITS sets another number, BENCH_DECIDED the part of twice failed units that is sent to rework.
 */
export const yieldBench: Bench = async () => {
  const root = mkdtempSync(join(tmpdir(), "drumtight-yield-bench-"));
  try {
    const pool = await poolOf();
    const tenth = Math.max(FEWEST, Math.round(UNITS / 10));
    const few = await plantRecords(folderIn(root, "few"), tenth, DECIDED_PART, pool);
    const all = await plantRecords(folderIn(root, "all"), Math.max(FEWEST, UNITS), DECIDED_PART, pool);
    return [...(await byDay(root, few, all)), dayPage(root, all), found(all)];
  } finally {
    rmSync(root, { recursive: true, force: true });
  }
};

function folderIn(root: string, name: string): string {
  const folder = join(root, name);
  mkdirSync(folder);
  return folder;
}

const drumtight = (...args: readonly string[]) => costOf([process.execPath, PROGRAM, ...args]);

async function byDay(root: string, few: PlantRecords, all: PlantRecords): Promise<Figure[]> {
  const days = ({ folder, from, to }: PlantRecords) =>
    drumtight("yield", "--from", from, "--to", to, "--by", "day", "--records", folder);
  const { questions, report } = await questionsOf(all);
  const index = join(all.folder, ".index.db");
  const byHand = yieldByHand(all.from, all.to);
  requireSame(
    spawnSync("sqlite3", ["-readonly", "-json", index], { input: byHand, encoding: "utf8" }).stdout,
    report,
  );
  const units = questions.filter((it) => it.includes("SELECT s.key, u.first_form"));
  const shell = (asked: string) => costOf(["sqlite3", "-readonly", index], asked);
  const asked = `${questions.join(";\n")};\n`;
  writeFileSync(join(root, "asked.sql"), asked);
  const costs = leastCosts(RUNS, {
    ours: () => days(all),
    byHand: () => shell(byHand),
    shell: () => shell(asked),
    units: () => shell(`${units.join(";\n")};\n`),
    few: () => days(few),
  });
  const { ours, few: tenth } = costs;
  const seconds = (it: { readonly cpu_s: number; readonly wall_s: number }) =>
    `${it.cpu_s.toFixed(2)} s, ${it.wall_s.toFixed(2)} s by the clock`;
  return [
    atMost(1.3, {
      figure: `yield by day of ${all.units} units, ${all.decided} decisions, processor (${ours.wall_s.toFixed(2)} s by the clock)`,
      value: ours.cpu_s,
      unit: "s",
      against: `the same typed into the sqlite3 shell: ${seconds(costs.byHand)}`,
      ratio: ours.cpu_s / costs.byHand.cpu_s,
    }),
    atMost(1.3, {
      figure: "the same, against the program's own questions",
      value: ours.cpu_s,
      unit: "s",
      against: `sqlite3 shell: ${seconds(costs.shell)}`,
      ratio: ours.cpu_s / costs.shell.cpu_s,
    }),
    aside({
      figure: "the same, against the questions for the units alone",
      value: ours.cpu_s,
      unit: "s",
      against: `sqlite3 shell: ${seconds(costs.units)}`,
      ratio: ours.cpu_s / costs.units.cpu_s,
    }),
    atMost(1.2, {
      figure: "memory at its most",
      value: Math.round(ours.peak_MB),
      unit: "MB",
      against: `${Math.round(tenth.peak_MB)} MB for ${few.units} units`,
      ratio: ours.peak_MB / tenth.peak_MB,
    }),
  ];
}

/** @returns a yield by day, and every question that it asks of the index, with its values written in */
async function questionsOf({
  folder,
  from,
  to,
}: PlantRecords): Promise<{ readonly questions: readonly string[]; readonly report: YieldReport }> {
  const asked: string[] = [];
  const prototype = Database.prototype as { prepare(sql: string): object };
  const { prepare } = prototype;
  prototype.prepare = function (sql: string) {
    const statement = prepare.call(this, sql) as Record<string, (...values: unknown[]) => unknown>;
    let isInside = false;
    for (const name of ["get", "all", "iterate"]) {
      const own = statement[name];
      statement[name] = function (...values: unknown[]) {
        // One may be made of another: that is no second question.
        if (!isInside) asked.push(written(sql, values));
        isInside = true;
        try {
          return own?.apply(this, values);
        } finally {
          isInside = false;
        }
      };
    }
    return statement;
  };
  try {
    const report = await collectYield({ folder, from, to, by: ["day"], shifts: [] });
    return { questions: asked.filter((it) => !it.startsWith("PRAGMA")), report };
  } finally {
    prototype.prepare = prepare;
  }
}

function written(sql: string, values: readonly unknown[]): string {
  let at = 0;
  return sql.replace(/\?/g, () => {
    const value = values[at++];
    return typeof value === "number" ? String(value) : `'${String(value).replaceAll("'", "''")}'`;
  });
}

function dayPage(root: string, { folder, to, units }: PlantRecords): Figure {
  const page = join(root, "day.html");
  const options = ["--day", to, "--records", folder, "--format", "html", "--out", page, "--force"];
  const { cost } = leastCosts(3, { cost: () => drumtight("yield", ...options) });
  return atMost(2, {
    figure: `a day's page beside ${units} units, processor`,
    value: cost.cpu_s,
    unit: "s",
    against: `1 s; ${cost.wall_s.toFixed(2)} s by the clock`,
    ratio: cost.cpu_s,
  });
}

function found({ folder, serial, units }: PlantRecords): Figure {
  const database = connectToRead(folder);
  if (!database) throw new Error("The bench's own index can't be read.");
  database.close();
  const script = join(packageRoot(), "dist", `bare-find-${process.pid}.mjs`);
  writeFileSync(
    script,
    `import Database from "libsql";
const [file, serial] = process.argv.slice(2);
const database = new Database(\`file://\${file}?mode=ro&immutable=1\`);
const rows = database.prepare("SELECT * FROM attempts WHERE serial = ? ORDER BY attempt").all(serial);
if (rows.length === 0) process.exitCode = 1;
process.stdout.write(JSON.stringify(rows));
`,
  );
  try {
    const index = join(folder, ".index.db");
    const { ours, bare, node } = leastCosts(15, {
      ours: () => drumtight("find", serial, "--records", folder),
      bare: () => costOf([process.execPath, script, index, serial]),
      node: () => costOf([process.execPath, "-e", "0"]),
    });
    return atMost(1.5, {
      figure: `find among ${units} units, processor (${ours.wall_s.toFixed(2)} s by the clock)`,
      value: ours.cpu_s,
      unit: "s",
      against: `bare Node with that query: ${bare.cpu_s.toFixed(2)} s, ${bare.wall_s.toFixed(2)} s by the clock; node -e 0: ${node.cpu_s.toFixed(2)} s`,
      ratio: ours.cpu_s / bare.cpu_s,
    });
  } finally {
    rmSync(script, { force: true });
  }
}
