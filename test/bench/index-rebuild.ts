import { execFileSync } from "node:child_process";
import { mkdirSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { sha256Hex } from "../../station/records/chain.ts";
import { rebuildIndex } from "../../station/records/index-rebuild.ts";
import { listRecords } from "../../station/records/record-name.ts";
import { PROGRAM } from "../program.ts";
import { simulatedTravellers, writeCopies } from "./copied-units.ts";
import { aside, atLeast, atMost, type Bench } from "./figure.ts";

const MANY = Number(process.env.INDEX_TRAVELLERS ?? 20_000);
const FEW = Math.round(MANY / 5);
const REACH_1_s = 5000;

/**
 * How many travellers a second `drumtight index rebuild` takes, of real ones: simulated units of the demo plant with their curves
 * and budgets, copied under other serials into one chain; against reading, hashing and parsing the same files in one thread and
 * nothing else. Then the command's `index check` must find no difference. What memory grows by from a fifth of them to all.
 * INDEX_TRAVELLERS sets another number.
 */
export const indexRebuild: Bench = async () => {
  const parent = mkdtempSync(join(tmpdir(), "drumtight-index-bench-"));
  try {
    const originals = await simulatedTravellers();
    const [few, many] = ["few", "many"].map((name) => join(parent, name)) as [string, string];
    mkdirSync(few);
    mkdirSync(many);
    writeCopies(few, originals, FEW);
    writeCopies(many, originals, MANY);
    await rebuildIndex({ folder: few, at_ms: Date.now() });
    const fewPeak_MB = process.resourceUsage().maxRSS / 1000;
    const made = await timed(() => rebuildIndex({ folder: many, at_ms: Date.now() }));
    const manyPeak_MB = process.resourceUsage().maxRSS / 1000;
    const bare = await timed(() => readAll(many));
    execFileSync(process.execPath, [PROGRAM, "index", "check", "--records", many], { stdio: "ignore" });
    const speed_1_s = MANY / (made.ms / 1000);
    return [
      atLeast(REACH_1_s / REACH_1_s, {
        figure: "travellers a second",
        value: Math.round(speed_1_s),
        unit: "1/s",
        against: `${REACH_1_s} a second`,
        ratio: speed_1_s / REACH_1_s,
      }),
      aside({
        figure: `index of ${MANY} travellers made anew`,
        value: made.ms / 1000,
        unit: "s",
        against: `the same files read, hashed and parsed in one thread in ${(bare.ms / 1000).toFixed(1)} s`,
        ratio: made.ms / bare.ms,
      }),
      aside({
        figure: "processor time for each",
        value: (made.cpu_ms / MANY) * 1000,
        unit: "us",
        against: `${((bare.cpu_ms / MANY) * 1000).toFixed(0)} us to read, hash and parse it`,
        ratio: made.cpu_ms / bare.cpu_ms,
      }),
      atMost(1.3, {
        figure: `memory at its most, ${MANY} travellers`,
        value: Math.round(manyPeak_MB),
        unit: "MB",
        against: `${Math.round(fewPeak_MB)} MB for ${FEW}`,
        ratio: manyPeak_MB / fewPeak_MB,
      }),
    ];
  } finally {
    rmSync(parent, { recursive: true, force: true });
  }
};

async function readAll(folder: string): Promise<void> {
  for (const { path } of await listRecords(folder)) {
    const bytes = readFileSync(join(folder, path));
    if (sha256Hex(bytes).length !== 64 || JSON.parse(bytes.toString("utf8")) === null) throw new Error(path);
  }
}

async function timed(
  work: () => Promise<unknown>,
): Promise<{ readonly ms: number; readonly cpu_ms: number }> {
  const [start_ms, cpu] = [performance.now(), process.cpuUsage()];
  await work();
  const { user, system } = process.cpuUsage(cpu);
  return { ms: performance.now() - start_ms, cpu_ms: (user + system) / 1000 };
}
