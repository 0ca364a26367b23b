import { spawn } from "node:child_process";
import { existsSync, mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { createInterface } from "node:readline";
import { text } from "node:stream/consumers";
import { pathToFileURL } from "node:url";
import { z } from "zod";
import { packageRoot } from "../../station/package-root.ts";
import { PROGRAM } from "../program.ts";
import { aside, atMost, type Bench } from "./figure.ts";

/**
 * Several days' worth: what the station keeps of a day, half a kB for each test, it forgets at the day's end.
 * More: SOAK_UNITS=100000 npm run bench -- soak.
 */
const UNITS = Number(process.env.SOAK_UNITS ?? 20_000);
const SAMPLES = 50;
const STEP = Math.max(1, Math.floor(UNITS / SAMPLES));
/** Until code is compiled, pools are filled and the year's first records are there. */
const WARM_UP = 0.3;
/**
 * A station that runs for a year without a restart, a thousand units a day, then grows by less than 40 MB. The memory's own
 * scatter allows no much sharper reach over a few thousand units.
 */
const REACH_bytes = 100;
/** Travellers take some 15 kB each: in memory, where there is such a disk, so that fsync takes no time. */
const MEMORY_DISK = "/dev/shm";

const Sample = z.object({
  units: z.number(),
  heapUsed: z.number(),
  external: z.number(),
  rss: z.number(),
  descriptors: z.number(),
});
type Sample = z.infer<typeof Sample>;

/**
 * What the station holds after more and more units: `drumtight run --simulate --units N --json` as a user runs it, one process on
 * virtual time, reference checks and failing units included. After every fiftieth part garbage is collected, and the heap,
 * the memory outside it, the resident size and the open file descriptors are read. A straight line is fitted to each, by least
 * squares over what comes after the warm-up; the slope must be flat with twice its standard error added.
 */
export const soak: Bench = async () => {
  const samples = await run();
  const settled = samples.slice(Math.floor(WARM_UP * samples.length));
  const first = settled[0];
  const last = settled.at(-1);
  if (!first || !last) throw new Error("The soak was too short to be sampled.");
  const growth = (what: string, value: (sample: Sample) => number, reach: number, unit: string) => {
    const { slope, error } = lineThrough(settled.map((it) => [it.units, value(it)] as const));
    return atMost(1, {
      figure: `growth of ${what}`,
      value: slope,
      unit: `${unit}/unit`,
      against: `+- ${error.toPrecision(2)} over units ${first.units} to ${last.units}; flat below ${reach}`,
      ratio: (slope + 2 * error) / reach,
    });
  };
  return [
    growth("heap and buffers", ({ heapUsed, external }) => heapUsed + external, REACH_bytes, "B"),
    // One more file left open every ten thousand units would be noticed.
    growth("open file descriptors", ({ descriptors }) => descriptors, 1e-4, "files"),
    aside({
      figure: "resident memory at the end",
      value: last.rss / 1e6,
      unit: "MB",
      against: `${(first.rss / 1e6).toFixed(0)} MB after the warm-up`,
      ratio: last.rss / first.rss,
    }),
    aside({
      figure: "open file descriptors",
      value: last.descriptors,
      unit: "",
      against: `${first.descriptors} after the warm-up`,
    }),
  ];
};

async function run(): Promise<Sample[]> {
  const folder = mkdtempSync(join(existsSync(MEMORY_DISK) ? MEMORY_DISK : tmpdir(), "drumtight-soak-"));
  try {
    const meter = pathToFileURL(join(packageRoot(), "dist", "test", "bench", "soak-meter.js"));
    meter.search = new URLSearchParams({
      every: String(STEP),
    }).toString();
    const args = [
      "run",
      "--simulate",
      "--seed",
      "7",
      "--units",
      String(UNITS),
      "--json",
      "--records",
      folder,
    ];
    const child = spawn(process.execPath, ["--expose-gc", "--import", meter.href, PROGRAM, ...args], {
      stdio: ["ignore", "pipe", "pipe", "pipe"],
    });
    const [, told, complaints, metered] = child.stdio;
    if (!told || !complaints || !metered || !("read" in metered))
      throw new Error("The soak's output can't be read.");
    const samples: Sample[] = [];
    createInterface({ input: metered }).on("line", (line) => samples.push(Sample.parse(JSON.parse(line))));
    const ended = new Promise<number | null>((resolve, reject) => {
      child.once("error", reject);
      child.once("close", resolve);
    });
    const [summary, complaint, code] = await Promise.all([text(told), text(complaints), ended]);
    requireWhole({ asked: UNITS, step: STEP, sampled: samples.at(-1)?.units ?? 0, summary, code, complaint });
    return samples;
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

export interface SoakEnd {
  /** Units that were to be tested, and how many lie between two samples. */
  readonly asked: number;
  readonly step: number;
  /** Units tested at the last sample. */
  readonly sampled: number;
  /** What the station said at the end of its shift. */
  readonly summary: string;
  readonly code: number | null;
  /** What it wrote to standard error. */
  readonly complaint: string;
}

/** @throws Error where the station ended before its last unit: what grew until then says nothing */
export function requireWhole({ asked, step, sampled, summary, code, complaint }: SoakEnd): void {
  const isSummed = summary.startsWith('{"event":"summary"') && summary.endsWith("}\n");
  // 1: a unit was refused or a fault acknowledged, which a soak goes on after.
  if (isSummed && (code === 0 || code === 1) && sampled > asked - step) return;
  const how = isSummed ? "with" : "without its summary, with";
  throw new Error(
    `The soak ended at unit ${sampled} or soon after, of ${asked}, ${how} code ${code}: ${complaint.trim()}`,
  );
}

/** @returns least-squares slope and its standard error @see NIST/SEMATECH e-Handbook of Statistical Methods, 4.1.4.1 (from memory) */
function lineThrough(points: readonly (readonly [number, number])[]): { slope: number; error: number } {
  const n = points.length;
  const mean = (at: 0 | 1) => points.reduce((sum, point) => sum + point[at], 0) / n;
  const [x, y] = [mean(0), mean(1)];
  const sxx = points.reduce((sum, point) => sum + (point[0] - x) ** 2, 0);
  const sxy = points.reduce((sum, point) => sum + (point[0] - x) * (point[1] - y), 0);
  const slope = sxy / sxx;
  const rest = points.reduce((sum, point) => sum + (point[1] - y - slope * (point[0] - x)) ** 2, 0);
  return { slope, error: Math.sqrt(rest / (n - 2) / sxx) };
}
