import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import fc from "fast-check";
import { afterEach, beforeEach, describe, expect, it, test } from "vitest";
import { type EnteredRoom, type RoomEntry, roomEntryAt, saveRoomEntry } from "../station/room-entry.ts";

const HOUR_ms = 3_600_000;
const AT = "2026-01-05T06:00:00.000Z";
const AT_ms = Date.parse(AT);
const ENTRY: RoomEntry = {
  temperature_K: 294.55,
  pressure_Pa: 100_900,
  relativeHumidity: 0.45,
  by: "A. Marsh",
  at: AT,
};

let folder = "";
beforeEach(() => {
  folder = mkdtempSync(join(tmpdir(), "drumtight-ambient-"));
});
afterEach(() => rmSync(folder, { recursive: true }));

const room = (changes: Partial<EnteredRoom["source"]> = {}, station = "Line 2"): EnteredRoom => ({
  station,
  source: {
    kind: "entered",
    validFor_s: 4 * 3600,
    path: join(folder, "line-2.ambient.json"),
    stationPath: join(folder, "line-2.yaml"),
    ...changes,
  },
});

describe("the room's air as entered", () => {
  it.each([
    ["at the very moment it was entered", 0, "holds"],
    ["at the last moment of its time", 4 * HOUR_ms, "holds"],
    ["a millisecond later", 4 * HOUR_ms + 1, "overdue"],
    ["a day later", 24 * HOUR_ms, "overdue"],
    ["by a clock that has gone back since", -1, "unusable"],
  ])("%s: %s ms, %s", async (_, after_ms, kind) => {
    await saveRoomEntry(room(), ENTRY);
    expect(roomEntryAt(room(), AT_ms + after_ms).kind).toBe(kind);
  });

  test("is not there before anybody has entered it", () => {
    expect(roomEntryAt(room(), AT_ms)).toEqual({ kind: "none" });
  });

  test("reads back as it was entered, whatever the room", async () => {
    const aRoom = fc.record({
      temperature_K: fc.double({ min: 263.15, max: 323.15, noNaN: true }),
      pressure_Pa: fc.double({ min: 60_000, max: 110_000, noNaN: true }),
      relativeHumidity: fc.double({ min: 0, max: 1, noNaN: true }),
      by: fc.string({ minLength: 1, maxLength: 100, unit: "grapheme-ascii" }),
    });
    await fc.assert(
      fc.asyncProperty(aRoom, async (given) => {
        await saveRoomEntry(room(), { ...given, at: AT });
        const read = roomEntryAt(room(), AT_ms);
        expect(read).toMatchObject({ kind: "holds", entry: { by: given.by, at: AT } });
        if (read.kind !== "holds") return;
        expect(read.entry.temperature_K).toBeCloseTo(given.temperature_K, 6);
        expect(read.entry.pressure_Pa).toBeCloseTo(given.pressure_Pa, 3);
        expect(read.entry.relativeHumidity).toBeCloseTo(given.relativeHumidity, 9);
      }),
      { numRuns: 30 },
    );
  });

  test("is replaced by the next entry, and nothing else is left in the folder", async () => {
    await saveRoomEntry(room(), ENTRY);
    await saveRoomEntry(room(), { ...ENTRY, temperature_K: 299 });
    expect(roomEntryAt(room(), AT_ms)).toMatchObject({ entry: { temperature_K: 299 } });
    expect(readdirSync(folder)).toEqual(["line-2.ambient.json"]);
  });

  test("stays as it was when the next entry can't be written", async () => {
    await saveRoomEntry(room(), ENTRY);
    // The next entry's temporary file can't be made where a folder of its name lies.
    mkdirSync(join(folder, `.line-2.ambient.json.${process.pid}`));
    await expect(saveRoomEntry(room(), { ...ENTRY, temperature_K: 299 })).rejects.toThrow(
      /could not be written/,
    );
    expect(roomEntryAt(room(), AT_ms)).toMatchObject({ kind: "holds", entry: { temperature_K: 294.55 } });
  });

  test("holds no longer than the station file now says, nor than it said when it was entered", async () => {
    await saveRoomEntry(room(), ENTRY);
    expect(roomEntryAt(room({ validFor_s: 3600 }), AT_ms + 2 * HOUR_ms).kind).toBe("overdue");
    expect(roomEntryAt(room({ validFor_s: 12 * 3600 }), AT_ms + 5 * HOUR_ms).kind).toBe("overdue");
  });

  test("of another station is not used", async () => {
    await saveRoomEntry(room({}, "Line 3"), ENTRY);
    const state = roomEntryAt(room(), AT_ms);
    expect(state).toMatchObject({ kind: "unusable", why: expect.stringContaining("Line 3") });
  });

  test("broken off anywhere in its file is not used, and nothing crashes", async () => {
    await saveRoomEntry(room(), ENTRY);
    const { path } = room().source;
    const whole = readFileSync(path, "utf8");
    for (let length = 0; length < whole.trimEnd().length; length++) {
      writeFileSync(path, whole.slice(0, length));
      expect(roomEntryAt(room(), AT_ms)).toMatchObject({
        kind: "unusable",
        why: expect.stringContaining("broken"),
      });
    }
  });

  it.each([
    ["no such temperature", '"temperature_K": 294.55', '"temperature_K": 21.4'],
    ["a temperature in quotes", '"temperature_K": 294.55', '"temperature_K": "294.55"'],
    ["a pressure that no room has", '"pressure_Pa": 100900', '"pressure_Pa": 50000'],
    ["a pressure in hPa", '"pressure_Pa": 100900', '"pressure_Pa": 1009'],
    ["a humidity in percent", '"relative_humidity": 0.45', '"relative_humidity": 45'],
    ["no name", '"by": "A. Marsh"', '"by": ""'],
    ["no date", AT, "yesterday"],
    ["a key that is unknown", '"by"', '"altitude": 3, "by"'],
  ])("with %s in its file is not used", async (_, from, to) => {
    await saveRoomEntry(room(), ENTRY);
    const { path } = room().source;
    const whole = readFileSync(path, "utf8");
    expect(whole).toContain(from);
    writeFileSync(path, whole.replace(from, to));
    expect(roomEntryAt(room(), AT_ms).kind).toBe("unusable");
  });

  test("is not used where its file is a folder", () => {
    mkdirSync(room().source.path);
    expect(roomEntryAt(room(), AT_ms)).toEqual({ kind: "unusable", why: "can't be read (EISDIR)" });
  });
});
