import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { randomStream } from "../../sim/random.ts";
import { RecordStore } from "../../station/records/store.ts";
import { earlyWarnings } from "../../station/study-data/early-warnings.ts";
import { facts, outcome, stoppedClock } from "../records/example-attempt.ts";

const FIRST_MS = Date.parse("2026-01-05T06:00:00.000Z");
const EACH_MS = 60_000;
/** From this unit on another gauge measures, and it reads two standard deviations more. */
const OTHER_GAUGE = 120;
const UNITS = 150;

describe("early warnings of a records folder", () => {
  let folder: string;

  beforeAll(async () => {
    folder = mkdtempSync(join(tmpdir(), "drumtight-warnings-"));
    const random = randomStream(9, "warnings");
    const { store } = await RecordStore.open({ folder, clock: stoppedClock(), station: "line 1" });
    for (let k = 1; k <= UNITS; k++) {
      const at = new Date(FIRST_MS + k * EACH_MS).toISOString();
      const isOther = k >= OTHER_GAUGE;
      const identity = isOther ? "DEMO,2" : "DEMO,1";
      const open = await store.begin(
        facts(`U${k}`, 1, {
          started_at: at,
          gauges: [{ name: "leak gauge", profile: "scpi-gauge", identity, calibration_due: "2026-06-30" }],
        }),
      );
      const usual = outcome();
      await store.commit(
        open,
        outcome({
          ended_at: at,
          characteristics: usual.characteristics.map((it) => ({
            ...it,
            value: 20 + (isOther ? 2 : 0) + random.normal(),
          })),
          curves: [],
        }),
      );
    }
    await store.close();
  });

  afterAll(() => rmSync(folder, { recursive: true, force: true }));

  it("name the drift, its first suspect, and the gauge that was changed then", async () => {
    const { warnings, notes } = await earlyWarnings({ folder, from_ms: null, to_ms: null, shifts: [] });
    expect(notes).toEqual([]);
    expect(warnings).toHaveLength(1);
    const [warning] = warnings;
    expect(warning).toMatchObject({ model: "demo-body", characteristic: "leak rate", direction: "rises" });
    expect(Math.abs(Number(warning?.first.serial.slice(1)) - OTHER_GAUGE)).toBeLessThanOrEqual(5);
    expect(warning?.changed).toContainEqual(
      expect.objectContaining({
        what: "gauge leak gauge",
        from: "DEMO,1, calibration due 2026-06-30",
        to: "DEMO,2, calibration due 2026-06-30",
        serial: `U${OTHER_GAUGE}`,
      }),
    );
  });

  it("are those given in the time that is asked for", async () => {
    const before = { from_ms: null, to_ms: FIRST_MS + OTHER_GAUGE * EACH_MS };
    expect((await earlyWarnings({ folder, ...before, shifts: [] })).warnings).toEqual([]);
    // What was usual before the time is known all the same.
    const after = { from_ms: FIRST_MS + OTHER_GAUGE * EACH_MS, to_ms: null };
    expect((await earlyWarnings({ folder, ...after, shifts: [] })).warnings).toHaveLength(1);
  });

  it("are not looked for, and that is said, where the folder has no index", async () => {
    const empty = mkdtempSync(join(tmpdir(), "drumtight-no-index-"));
    const { warnings, notes } = await earlyWarnings({
      folder: empty,
      from_ms: null,
      to_ms: null,
      shifts: [],
    });
    expect(warnings).toEqual([]);
    expect(notes).toEqual([expect.stringContaining("drumtight index rebuild")]);
    rmSync(empty, { recursive: true });
  });
});
