import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { performance } from "node:perf_hooks";
import { scansOfSeed } from "../../station/simulated-scans.ts";
import { OneByOne } from "../../station/test-one.ts";
import { openSimulatedStation } from "../../station/wiring.ts";
import type { Figure } from "./figure.ts";

const UNITS = 200;

/**
 * A simulated shift against real time: 200 units and the reference checks, every reading through profile and framing,
 * every traveller synced to the disk of the temporary folder. Plant seconds by wall seconds, one run.
 */
export async function shiftBench(): Promise<Figure[]> {
  const folder = mkdtempSync(join(tmpdir(), "drumtight-bench-"));
  const simulated = await openSimulatedStation({
    seed: 7,
    pace: "virtual",
    allowDrafts: false,
    recordsFolder: folder,
  });
  try {
    simulated.station.signIn(null);
    const one = new OneByOne(simulated.station);
    const plantStart_s = simulated.clock.now_s();
    const start_ms = performance.now();
    const shift = async () => {
      for (const scan of scansOfSeed(simulated, UNITS)) await one.test(scan);
    };
    await simulated.runUntil(shift());
    const wall_s = (performance.now() - start_ms) / 1000;
    const ratio = (simulated.clock.now_s() - plantStart_s) / wall_s;
    return [
      {
        bench: "shift",
        figure: `${UNITS} units in virtual time`,
        value: UNITS / wall_s,
        unit: "units/s",
        against: "real time",
        ratio,
        reach: ">= 2000",
        met: ratio >= 2000,
      },
    ];
  } finally {
    await simulated.close();
    rmSync(folder, { recursive: true, force: true });
  }
}
