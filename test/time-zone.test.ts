import { writeFileSync } from "node:fs";
import { join } from "node:path";
import { afterEach, beforeEach, describe, expect, it } from "vitest";
import { readStationFileAlone } from "../station/load-station.ts";
import { localTime } from "../station/records/local-time.ts";
import { readStationFile } from "../station/station-file.ts";
import { takeTimeZone, timeZoneInForce, timeZoneProblem } from "../station/time-zone.ts";
import { demo, scratchFolder } from "./made-station-file.ts";

const zone = process.env.TZ;
beforeEach(() => {
  process.env.TZ = "UTC";
});
afterEach(() => {
  if (zone === undefined) delete process.env.TZ;
  else process.env.TZ = zone;
});

const inZone = (name: string) => demo.replace("\nshifts:", `\ntime_zone: ${name}\nshifts:`);

describe("the time zone of a plant", () => {
  it.each([
    ["Europe/Berlin", "2026-07-01 08:00:00"],
    ["America/New_York", "2026-07-01 02:00:00"],
    ["Asia/Kolkata", "2026-07-01 11:30:00"],
    ["Australia/Lord_Howe", "2026-07-01 16:30:00"],
    ["UTC", "2026-07-01 06:00:00"],
  ])("%s tells the local time", (name, local) => {
    takeTimeZone(name);
    expect(localTime("2026-07-01T06:00:00.000Z")).toBe(local);
    expect(timeZoneInForce()).toBe(name);
  });

  it.each([
    "",
    "Berlin",
    "+01:00",
    "Europe/Atlantis",
    "europe/berlin",
    "asia/kolkata",
    "Europe/Berlin ",
    "GMT+25",
  ])("is not %j, and the program's own stays as it was", (name) => {
    expect(timeZoneProblem(name)).not.toBeNull();
    expect(() => takeTimeZone(name)).toThrow("time zone");
    expect(process.env.TZ).toBe("UTC");
  });

  it("is told how it is spelt where only its capitals are wrong", () => {
    expect(timeZoneProblem("europe/berlin")).toBe('is written "Europe/Berlin"');
  });

  it("is that of a station file for whoever reads the file", () => {
    const path = join(scratchFolder(), "station.yaml");
    writeFileSync(path, inZone("Asia/Kolkata"));
    expect(readStationFileAlone(path).timeZone).toBe("Asia/Kolkata");
    expect(localTime("2026-01-05T23:00:00.000Z")).toBe("2026-01-06 04:30:00");
  });

  it("is the computer's where the station file names none", () => {
    const path = join(scratchFolder(), "station.yaml");
    writeFileSync(path, demo);
    expect(readStationFileAlone(path).timeZone).toBeNull();
    expect(process.env.TZ).toBe("UTC");
  });

  it("is refused with its place where a station file names one that there is not", () => {
    expect(() => readStationFile("/hall/station.yaml", inZone("Europe/Atlantis"))).toThrow(
      /station\.yaml:\d+:\d+.*time_zone.*Europe\/Atlantis.*IANA/s,
    );
  });
});
