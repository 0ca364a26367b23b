import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { travellersIn } from "../records/scratch-folder.ts";
import { FaultBench } from "./fault-bench.ts";
import { FAULT_TABLE } from "./fault-table.ts";
import { changedStation, plain } from "./plain-station.ts";

const folder = mkdtempSync(join(tmpdir(), "drumtight-faults-"));
afterAll(() => rmSync(folder, { recursive: true, force: true }));

describe("every fault", () => {
  let bench: FaultBench;
  let tested = 0;
  beforeAll(async () => {
    const stationPath = changedStation(plain, folder);
    bench = await FaultBench.open({ recordsFolder: join(folder, "records"), stationPath });
  });
  afterAll(() => bench.close());

  it.each(FAULT_TABLE)(
    "$fault ($instrument, $phase) is noticed within $within_s s, leaves no false verdict and live outputs, and is over when mended",
    async (row) => {
      const { instrument, verdict, code, words, within_s, recovers } = row;
      const struck = await bench.strike(row);
      expect(struck.reasons.map((it) => it.code)).toContain(code);
      expect(struck.reasons.map(({ sentence }) => sentence).join(" ")).toMatch(words);
      expect(struck.noticed_s).toBeLessThanOrEqual(within_s);
      expect(struck.traveller?.verdict ?? "none").toBe(verdict);
      expect(struck.isStopped).toBe(recovers === "acknowledge");
      expect(struck.isSafe).toBe(true);

      bench.misbehave(instrument, null);
      const connected = bench.connects(instrument);
      const after = await bench.test(bench.unit());
      expect(after).toMatchObject({ kind: "finished", finished: { traveller: { verdict: "pass" } } });
      expect(bench.connects(instrument) - connected).toBe(recovers === "acknowledge" ? 1 : 0);
      tested += verdict === "none" ? 1 : 2;
    },
  );

  it("has left one traveller for each attempt and none besides", async () => {
    const kept = await travellersIn(bench.simulated.recordsFolder);
    expect(kept.length).toBe(tested);
    expect(new Set(kept.map(({ serial }) => serial)).size).toBe(tested);
  });
});
