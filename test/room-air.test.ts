import { copyFileSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join, resolve } from "node:path";
import { describe, expect, it } from "vitest";
import { SimulatedShift } from "./journeys/simulated-shift.ts";
import { scratchFolder } from "./records/scratch-folder.ts";

/** A shift whose ambient gauge is read by a profile of its own, beside the station file. */
async function shiftReading(change: (profile: string) => string): Promise<SimulatedShift> {
  const stationPath = join(scratchFolder(), "demo-station.yaml");
  const demo = readFileSync("sim/demo-station.yaml", "utf8").replace(
    "../limits/models",
    resolve("limits/models"),
  );
  writeFileSync(stationPath, demo);
  for (const name of readdirSync("sim").filter((file) => file.endsWith(".json"))) {
    copyFileSync(join("sim", name), join(stationPath, "..", name));
  }
  const profile = readFileSync("drivers/profiles/scpi-ambient.yaml", "utf8");
  const changed = change(profile);
  expect(changed).not.toBe(profile);
  writeFileSync(join(stationPath, "..", "scpi-ambient.yaml"), changed);
  return SimulatedShift.begin({ stationPath });
}

describe("the room's air as an instrument shows it", () => {
  it.each([
    [
      "a barometer",
      (text: string) => text.replace("unit: Pa", "unit: hPa"),
      /ambient shows 10\d+ hPa, expected .* 600 hPa to 1100 hPa/,
    ],
    [
      "a barometer",
      (text: string) => text.replace("unit: Pa", "unit: mmH2O"),
      /ambient shows 99\d\d(\.\d)? hPa, expected/,
    ],
    [
      "a thermometer",
      (text: string) => text.replace("unit: degC", "unit: K"),
      /ambient shows -2\d\d(\.\d+)? degC, expected/,
    ],
    [
      "a hygrometer",
      (text: string) => text.replace('unit: "%"', "unit: fraction"),
      /ambient shows \d{4}(\.\d)? %, expected .* 0 % to 100 %/,
    ],
  ])("is not used from %s that shows what no room has, and the station stops", async (_, change, words) => {
    const shift = await shiftReading(change);
    const [piece] = shift.simulated.station.dueReferences();
    const { traveller, faults } = await shift.tryBody(piece?.serial ?? "");
    expect(traveller?.verdict).toBe("void");
    expect(traveller?.reasons[0]?.sentence).toMatch(words);
    expect(faults.map(({ code }) => code)).toEqual(["INSTRUMENT_FAULT"]);
  });
});
