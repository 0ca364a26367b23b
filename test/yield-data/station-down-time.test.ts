import { readdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { collectYield } from "../../station/yield-data/collect-yield.ts";
import { stationDownTime } from "../../station/yield-data/station-down-time.ts";
import { stoppedClock } from "../records/example-attempt.ts";
import { open } from "../records/running-store.ts";
import { scratchFolder } from "../records/scratch-folder.ts";

const FAULT = {
  event: "fault",
  reasons: [{ code: "VALVE_STUCK", sentence: "The vent valve does not shut." }],
} as const;
const DAY_MS = 86_400_000;
const span = (day: string) => ({ from_ms: Date.parse(day), until_ms: Date.parse(day) + DAY_MS });
const NOW = Date.parse("2026-02-01");

/** A station's folder in which these were noted, each at its time. */
async function noted(
  ...events: readonly (readonly [
    at: string,
    event: Parameters<Awaited<ReturnType<typeof open>>["store"]["note"]>[0],
  ])[]
) {
  const folder = scratchFolder();
  const clock = stoppedClock();
  const { store } = await open(folder, clock);
  for (const [at, event] of events) {
    clock.wall = at;
    await store.note(event);
  }
  return folder;
}

describe("a station's down time, from its events", () => {
  it("is nothing where no event was recorded", async () => {
    expect(await stationDownTime(scratchFolder(), span("2026-01-05"), NOW)).toEqual({
      downTime: [],
      down_s: 0,
      notes: [],
      problem: null,
    });
  });

  it("has a fault that began weeks before the day asked for, behind any number of other events", async () => {
    const visits = Array.from({ length: 150 }, (_, k) => {
      const at = new Date(Date.parse("2026-01-05T00:00:00.000Z") + k * 60_000).toISOString();
      return [at, { event: "signed_in", who: { name: "I. Marsh", sign_in: "stated" } }] as const;
    });
    const folder = await noted(
      ["2025-12-01T06:00:00.000Z", { event: "opened" }],
      ["2025-12-02T06:00:00.000Z", FAULT],
      ...visits,
      ["2026-01-05T06:00:00.000Z", { event: "acknowledged", reasons: FAULT.reasons }],
    );
    const { downTime, problem } = await stationDownTime(folder, span("2026-01-05"), NOW);
    expect(problem).toBeNull();
    expect(downTime).toMatchObject([{ code: "VALVE_STUCK", count: 1, down_s: 6 * 3600 }]);
  });

  it("is told to be of everything where a yield is asked for one model", async () => {
    const folder = await noted(
      ["2026-01-03T06:00:00.000Z", FAULT],
      ["2026-01-03T06:10:00.000Z", { event: "acknowledged" }],
    );
    const asked = { folder, from: "2026-01-03", to: "2026-01-03", by: [], shifts: [], now_ms: NOW };
    const told = /^Down time is of all that this folder's station did/;
    const one = await collectYield({ ...asked, model: "POD-4" });
    expect(one.down_s).toBe(600);
    expect(one.notes).toContainEqual(expect.stringMatching(told));
    expect((await collectYield(asked)).notes).not.toContainEqual(expect.stringMatching(told));
  });

  it("has none of a fault that somebody acknowledged before", async () => {
    const folder = await noted(
      ["2026-01-03T06:00:00.000Z", FAULT],
      ["2026-01-03T06:10:00.000Z", { event: "acknowledged" }],
      ["2026-01-05T06:00:00.000Z", { event: "closed" }],
    );
    expect((await stationDownTime(folder, span("2026-01-05"), NOW)).downTime).toEqual([]);
    expect((await stationDownTime(folder, span("2026-01-03"), NOW)).downTime).toMatchObject([
      { down_s: 600 },
    ]);
  });

  it("is not told, and why, where an event is not as it was recorded", async () => {
    const folder = await noted(["2026-01-05T06:00:00.000Z", FAULT]);
    const [name = ""] = readdirSync(join(folder, "events")).filter((it) => it.endsWith(".json"));
    writeFileSync(join(folder, "events", name), "{}");
    const found = await stationDownTime(folder, span("2026-01-05"), NOW);
    expect(found.downTime).toEqual([]);
    expect(found.problem).toContain("is not as it was recorded");
  });
});
