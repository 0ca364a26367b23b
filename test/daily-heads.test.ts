import { mkdirSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { expect, it, onTestFinished } from "vitest";
import type { Clock } from "../drivers/ports.ts";
import { VirtualClock } from "../sim/virtual-clock.ts";
import { DailyHeads } from "../station/daily-heads.ts";
import type { DailyHead } from "../station/records/daily-head.ts";
import { newStationKey } from "../station/records/daily-head-key.ts";
import { RecordStore } from "../station/records/store.ts";
import { scratchFolder } from "./records/scratch-folder.ts";

it("a station signs after an hour in which something was noted and at the end of the plant's day, and not for nothing", async () => {
  const { clock, store, heads, folder, warnings } = await signing(new Date(2026, 0, 5, 20, 30));
  await heads.open(store, (sentence) => warnings.push(sentence));
  await clock.advance_s(20 * 60);
  await store.note({ event: "signed_in", who: { name: "Ines", sign_in: "stated" } });
  await clock.advance_s(6 * 3600);
  await heads.close();
  expect(written(folder)).toEqual([
    ["opened", 20],
    ["hour", 21],
    ["day_ended", 0],
    ["closed", 2],
  ]);
  expect(warnings).toEqual([]);
});

it("a head is signed at a clock that was put back, too", async () => {
  const { clock, wall, store, heads, folder } = await signing(new Date(2026, 0, 5, 20, 30));
  await heads.open(store, () => undefined);
  wall.putBack_ms = 2 * 3600_000;
  await store.note({ event: "signed_in", who: { name: "Ines", sign_in: "stated" } });
  await clock.advance_s(120);
  expect(written(folder).map(([moment]) => moment)).toEqual(["opened", "hour"]);
  heads.stop();
});

it("copies that can't be written are told once, and no head waits for them", async () => {
  const { store, heads, folder, warnings } = await signing(new Date(2026, 0, 5, 20, 30), "away/share");
  await heads.open(store, (sentence) => warnings.push(sentence));
  expect(written(folder)).toHaveLength(1);
  expect(warnings).toEqual([
    expect.stringMatching(/The copies of the daily heads in .*share could not be written \(ENOENT/),
  ]);
  heads.stop();
});

async function signing(startsAt: Date, copies?: string) {
  const parent = scratchFolder();
  const folder = join(parent, "records");
  const keyFile = join(parent, "key.pem");
  const { privatePem, publicKey } = newStationKey();
  writeFileSync(keyFile, privatePem, { mode: 0o600 });
  mkdirSync(join(parent, "copies"));
  const clock = new VirtualClock(startsAt.getTime());
  const wall = { putBack_ms: 0 };
  const stationClock: Clock = {
    now_s: () => clock.now_s(),
    wall_ms: () => clock.wall_ms() - wall.putBack_ms,
    setTimeout: (fn, delay_ms) => clock.setTimeout(fn, delay_ms),
    clearTimeout: (handle) => clock.clearTimeout(handle),
    afterArrivals: (fn) => clock.afterArrivals(fn),
  };
  const { store } = await RecordStore.open({ folder, clock: stationClock, station: "line 1" });
  onTestFinished(() => store.close());
  const warnings: string[] = [];
  const heads = new DailyHeads({
    settings: { keyFile, publicKey, formerPublicKeys: [], copiesFolder: join(parent, copies ?? "copies") },
    recordsFolder: folder,
    station: "line 1",
    clock: stationClock,
    held: async (work) => {
      const release = clock.hold();
      try {
        return await work();
      } finally {
        release();
      }
    },
  });
  return { clock, wall, store, heads, folder, warnings };
}

function written(folder: string): [moment: string, hour: number][] {
  return readdirSync(join(folder, "heads"))
    .sort()
    .map((name) => JSON.parse(readFileSync(join(folder, "heads", name), "utf8")) as DailyHead)
    .map(({ moment, at }) => [moment, new Date(at).getHours()]);
}
