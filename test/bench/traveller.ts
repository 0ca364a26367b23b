import { closeSync, fsyncSync, mkdirSync, openSync, readFileSync, renameSync, writeSync } from "node:fs";
import { join } from "node:path";
import { LineUp } from "../../sim/line-up.ts";
import { Population } from "../../sim/population.ts";
import { StationPlant } from "../../sim/station-plant.ts";
import { VirtualClock } from "../../sim/virtual-clock.ts";
import { NOBODY } from "../../station/people/person.ts";
import { scansOfSeed } from "../../station/simulated-scans.ts";
import { OneByOne } from "../../station/test-one.ts";
import { demoStationPath, loadStation, openStation } from "../../station/wiring.ts";
import { aside, atMost, type Bench, median, quantile } from "./figure.ts";
import { onScratchDisk } from "./scratch-disk.ts";

const SEED = 7;
const UNITS = 150;

/**
 * From the last bytes of an attempt's last sample on the cable to its verdict being told: judging, the traveller
 * (temporary file, fsync, link, fsync of the folder, read back), the intent's removal, the index. Against what the
 * disk itself takes for temporary file, fsync, rename, fsync of the folder with the same bytes, by the blocking calls
 * and nothing else. After each attempt, in the same process and on the same disk, comes the disk's turn.
 */
export const traveller: Bench = () =>
  onScratchDisk(async (folder) => {
    const { ours_ms, disks_ms } = await takeTurns(folder);
    const [ours, disks] = [median(ours_ms), median(disks_ms)];
    return [
      atMost(2, {
        figure: `last sample to verdict told, median of ${ours_ms.length}`,
        value: ours,
        unit: "ms",
        against: `the disk's fsync + rename, ${disks.toFixed(2)} ms`,
        ratio: ours / disks,
      }),
      aside({
        figure: "the same, 95 % below",
        value: quantile(ours_ms, 0.95),
        unit: "ms",
        against: `the disk's, ${quantile(disks_ms, 0.95).toFixed(2)} ms`,
        ratio: quantile(ours_ms, 0.95) / quantile(disks_ms, 0.95),
      }),
    ];
  });

async function takeTurns(folder: string) {
  const clock = new VirtualClock();
  const loaded = loadStation(demoStationPath(), undefined, "simulated");
  const models = loaded.models.map(({ limits }) => limits);
  const plant = new StationPlant({ clock, seed: SEED, models });
  let lastSample_ms = 0;
  const running = await clock.runUntil(
    openStation({
      ...loaded,
      clock,
      recordsFolder: join(folder, "records"),
      allowDrafts: false,
      attach: (name) => {
        const instrument = plant.instruments.get(name);
        if (!instrument) return undefined;
        return (far) => {
          const send = (bytes: string) => {
            lastSample_ms = performance.now();
            far.send(bytes);
          };
          instrument.attach({ ...far, send });
        };
      },
      hold: () => clock.hold(),
    }),
  );
  const { station } = running;
  const lineUp = new LineUp({ seed: SEED, models, count: Number.POSITIVE_INFINITY });
  const operator = {
    station,
    plant,
    population: new Population({ seed: SEED, models }),
    unitOf: (serial: string) => lineUp.find(serial),
  };
  const ours_ms: number[] = [];
  const disks_ms: number[] = [];
  const disksFolder = join(folder, "disk");
  mkdirSync(disksFolder);
  station.listen({ finished: () => ours_ms.push(performance.now() - lastSample_ms) });
  station.signIn(NOBODY);
  const one = new OneByOne(station);
  const work = async () => {
    for (const scan of scansOfSeed(operator, UNITS)) {
      const tested = await one.test(scan);
      if (tested.kind !== "finished") throw new Error(`${scan.serial} was not tested: ${tested.kind}.`);
      disks_ms.push(disksOwn_ms(disksFolder, String(disks_ms.length), readFileSync(tested.finished.path)));
    }
  };
  await clock.runUntil(work());
  await clock.runUntil(running.close());
  return { ours_ms, disks_ms };
}

function disksOwn_ms(folder: string, name: string, bytes: Uint8Array): number {
  const temp = join(folder, "temp");
  const start_ms = performance.now();
  const file = openSync(temp, "w");
  writeSync(file, bytes);
  fsyncSync(file);
  closeSync(file);
  renameSync(temp, join(folder, name));
  const directory = openSync(folder, "r");
  fsyncSync(directory);
  closeSync(directory);
  return performance.now() - start_ms;
}
