import { readFileSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it, test } from "vitest";
import type { RecordStore } from "../../station/records/store.ts";
import { stoppedClock } from "./example-attempt.ts";
import { decision, test as tested } from "./held-units.ts";
import { close, open } from "./running-store.ts";
import { scratchFolder } from "./scratch-folder.ts";

const FAULT = {
  event: "fault",
  reasons: [{ code: "INSTRUMENT_FAULT", sentence: "The leak gauge is silent.", instrument: "leak_gauge" }],
} as const;

/** A folder with two holds and two events, closed. */
async function withLogs() {
  const folder = scratchFolder();
  const { store } = await open(folder);
  const [a, b] = [await tested(store, "A1"), await tested(store, "B2")];
  await store.dispose(decision("doubt", a));
  await store.dispose(decision("doubt", b));
  await store.note({ event: "opened" });
  await store.note(FAULT);
  await close(store);
  return folder;
}

function edit(folder: string, name: string): void {
  const path = join(folder, name);
  writeFileSync(path, readFileSync(path, "utf8").replace("06:00:00", "07:00:00"));
}

describe("a station does not start", () => {
  test.each(["dispositions/00000001.json", "dispositions/00000002.json", "events/00000002.json"])(
    "when %s was changed, or is gone",
    async (name) => {
      const changed = await withLogs();
      edit(changed, name);
      await expect(open(changed)).rejects.toMatchObject({
        code: "CORRUPT",
        message: expect.stringMatching(/is not as it was recorded.*Keep the folder as evidence/),
      });
      const shortened = await withLogs();
      rmSync(join(shortened, name));
      await expect(open(shortened)).rejects.toMatchObject({ code: "CORRUPT" });
    },
  );

  it("when an event before the last was changed, as soon as it is read", async () => {
    const folder = await withLogs();
    edit(folder, "events/00000001.json");
    await expect(open(folder)).rejects.toMatchObject({ code: "CORRUPT" });
  });
});

it("starts with its dispositions and events where only the index was lost", async () => {
  const folder = await withLogs();
  rmSync(join(folder, ".index.db"));
  const { store } = await open(folder);
  expect((await store.inDoubt()).inDoubt.size).toBe(2);
  expect(await store.eventsSince(0)).toMatchObject([{ event: "opened" }, FAULT]);
});

describe("what happened to the station", () => {
  it("is read back from a time on, as it was noted", async () => {
    const folder = scratchFolder();
    const clock = stoppedClock();
    const { store } = await open(folder, clock);
    const at = async (time: string, event: Parameters<RecordStore["note"]>[0]) => {
      clock.wall = `2026-01-05T${time}:00.000Z`;
      await store.note(event);
    };
    const who = { name: "A. Marsh", sign_in: "pin", role: "inspector" } as const;
    await at("06:00", { event: "opened" });
    await at("06:01", { event: "signed_in", who });
    await at("07:30", FAULT);
    await at("07:31", { event: "acknowledged", who });
    expect(await store.eventsSince(Date.UTC(2026, 0, 5, 6, 1))).toMatchObject([
      { event: "signed_in", who, at: "2026-01-05T06:01:00.000Z" },
      FAULT,
      { event: "acknowledged", who },
    ]);
    expect(await store.eventsSince(Date.UTC(2026, 0, 5, 8))).toEqual([]);
    await close(store);
    expect(await (await open(folder)).store.eventsSince(0)).toHaveLength(4);
  });

  it("is read back also from before the clock was put back, however much was noted since", async () => {
    const clock = stoppedClock("2026-01-05T10:00:00.000Z");
    const { store } = await open(scratchFolder(), clock);
    await tested(store, "A1", "pass", { started_at: clock.wall });
    await store.note(FAULT);
    clock.wall = "2026-01-05T04:00:00.000Z";
    for (let i = 0; i < 140; i++) await store.note({ event: "opened" });
    // The example's test ended at 06:00.
    expect(await store.eventsSince(Date.UTC(2026, 0, 5, 6))).toMatchObject([FAULT]);
  });

  it("can be noted while a traveller is being written, and both are there", async () => {
    const folder = scratchFolder();
    const { store } = await open(folder);
    await Promise.all([tested(store, "A1"), ...Array.from({ length: 5 }, () => store.note(FAULT))]);
    expect(await store.eventsSince(0)).toHaveLength(5);
    expect(await store.history("A1")).toHaveLength(1);
  });

  it("is not noted in a folder that was closed", async () => {
    const { store } = await open(scratchFolder());
    await close(store);
    await expect(store.note(FAULT)).rejects.toMatchObject({ code: "NOT_OPEN" });
  });
});
