import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, resolve } from "node:path";
import { describe, expect, it, onTestFinished } from "vitest";
import { parseDocument } from "yaml";
import { demoStationPath } from "../../station/wiring.ts";
import { SimulatedShift } from "./simulated-shift.ts";

/** The demo's station, its calibrations changed by this. */
function stationWith(change: (settle: Record<string, number>) => void): string {
  const folder = mkdtempSync(join(tmpdir(), "drumtight-stale-"));
  onTestFinished(() => rmSync(folder, { recursive: true, force: true }));
  const station = parseDocument(readFileSync(demoStationPath(), "utf8"));
  station.set("limits", resolve("limits/models"));
  station.set("records", "records");
  const path = join(folder, "demo-station.yaml");
  writeFileSync(path, station.toString());
  for (const model of ["POD-4", "TUB-12"]) {
    const name = `demo-station.${model}.settle.2026-01-05T0550Z.json`;
    const calibration = JSON.parse(readFileSync(join("sim", name), "utf8"));
    change(calibration.settle);
    writeFileSync(join(folder, name), JSON.stringify(calibration));
  }
  return path;
}

const scaledHeat = (factor: number) => (settle: Record<string, number>) => {
  settle.heat_Pa = (settle.heat_Pa as number) * factor;
  settle.heat_spread_Pa = (settle.heat_spread_Pa as number) * factor;
};

describe.each(["POD-4", "TUB-12"])("what was learned of %s", (onlyModel) => {
  it.each([0.6, 1.5])("keeps production refused once the gas heats otherwise: %s times", async (factor) => {
    const shift = await SimulatedShift.begin({ onlyModel, stationPath: stationWith(scaledHeat(factor)) });
    const pieces = [`REF-TIGHT-${onlyModel}`, `REF-LEAK-${onlyModel}`];
    const tried = [];
    for (const serial of pieces) tried.push((await shift.tryBody(serial)).traveller);
    const doubted = tried.filter((traveller) => traveller?.verdict !== "pass");
    expect(doubted.length).toBeGreaterThan(0);
    const { refused } = await shift.tryBody(shift.unitWith().serial);
    expect(refused).toMatchObject([{ code: "REFERENCE_CHECK_DUE" }]);
  });

  it("proves the station while it is true, again and again", async () => {
    const shift = await SimulatedShift.begin({ onlyModel });
    for (let time = 0; time < 8; time++) {
      for (const kind of ["TIGHT", "LEAK"]) {
        const { traveller } = await shift.tryBody(`REF-${kind}-${onlyModel}`);
        expect(traveller?.verdict).toBe("pass");
      }
    }
  });

  it("is not used at another test pressure", async () => {
    const other = (settle: Record<string, number>) => Object.assign(settle, {});
    const path = stationWith(other);
    const name = path.replace("demo-station.yaml", `demo-station.${onlyModel}.settle.2026-01-05T0550Z.json`);
    const calibration = JSON.parse(readFileSync(name, "utf8"));
    writeFileSync(
      name,
      JSON.stringify({ ...calibration, test_pressure_Pa: calibration.test_pressure_Pa / 2 }),
    );
    const shift = await SimulatedShift.begin({ onlyModel, stationPath: path });
    const { refused } = await shift.tryBody(`REF-TIGHT-${onlyModel}`);
    expect(refused.map(({ code }) => code)).toContain("CALIBRATION_UNUSABLE");
  });
});
