import { mkdtempSync, readFileSync, rmSync } from "node:fs";
import { open, rename } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { performance } from "node:perf_hooks";
import { scansOfSeed } from "../../station/simulated-scans.ts";
import { OneByOne } from "../../station/test-one.ts";
import { openSimulatedStation } from "../../station/wiring.ts";
import { type Figure, median } from "./figure.ts";

const UNITS = 60;

/**
 * From the last sample (the machine enters recording: judging and everything after is in it) to the verdict told,
 * against the same bytes written bare to the same disk: temporary file, fsync, rename, fsync of the folder. The two
 * take turns, one of each per unit; medians.
 */
export async function travellerBench(): Promise<Figure[]> {
  const folder = mkdtempSync(join(tmpdir(), "drumtight-bench-"));
  const simulated = await openSimulatedStation({
    seed: 7,
    pace: "virtual",
    allowDrafts: false,
    recordsFolder: join(folder, "records"),
  });
  try {
    simulated.station.signIn(null);
    const ours_ms: number[] = [];
    const bare_ms: number[] = [];
    let entered_ms = 0;
    let path = "";
    simulated.station.listen({
      phase: (_, phase) => {
        if (phase === "recording") entered_ms = performance.now();
      },
      finished: (finished) => {
        ours_ms.push(performance.now() - entered_ms);
        path = finished.path;
      },
    });
    const one = new OneByOne(simulated.station);
    const shift = async () => {
      for (const scan of scansOfSeed(simulated, UNITS)) {
        await one.test(scan);
        const bytes = readFileSync(path);
        await simulated.outsideTime(async () => {
          bare_ms.push(await writeBare(folder, `bare-${bare_ms.length}`, bytes));
        });
      }
    };
    await simulated.runUntil(shift());
    const value = median(ours_ms);
    const ratio = value / median(bare_ms);
    return [
      {
        bench: "traveller",
        figure: "last sample to durable traveller and verdict, median",
        value,
        unit: "ms",
        against: "temp + fsync + rename + fsync folder, same bytes",
        ratio,
        reach: "<= 2",
        met: ratio <= 2,
      },
    ];
  } finally {
    await simulated.close();
    rmSync(folder, { recursive: true, force: true });
  }
}

async function writeBare(folder: string, name: string, bytes: Buffer): Promise<number> {
  const start_ms = performance.now();
  const file = await open(join(folder, `${name}.part`), "w");
  await file.writeFile(bytes);
  await file.sync();
  await file.close();
  await rename(join(folder, `${name}.part`), join(folder, name));
  const directory = await open(folder, "r");
  await directory.sync();
  await directory.close();
  return performance.now() - start_ms;
}
