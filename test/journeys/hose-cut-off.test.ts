import { mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, it } from "vitest";
import { parseDocument } from "yaml";
import type { SimulatedSetup } from "../../station/wiring.ts";
import { demoStationPath } from "../../station/wiring.ts";
import { changedStation, provenByLeakPieces } from "./plain-station.ts";
import { SimulatedShift } from "./simulated-shift.ts";

const scratch = mkdtempSync(join(tmpdir(), "drumtight-hose-"));
afterAll(() => rmSync(scratch, { recursive: true, force: true }));

/** The demo's station whose limit files measure with a fixed timer; drafts, like any file nobody has approved. */
function timedStation(): string {
  const station = parseDocument(readFileSync(demoStationPath(), "utf8"));
  station.set("limits", "models");
  station.set("records", "records");
  station.setIn(["reference_check", "after_fault"], false);
  mkdirSync(join(scratch, "models"), { recursive: true });
  for (const name of ["pod-4.yaml", "tub-12.yaml"]) {
    const timed = readFileSync(join("limits/models", name), "utf8")
      .replace(/settle: .*/, "settle: 25 s")
      .replace(/method: .*/, "method: { kind: slope, subtract_mean_curve: false }")
      .replace(/measure_longest: .*/, "measure_longest: 10 s")
      .replace(/early_verdict: .*/, "early_verdict: off");
    writeFileSync(join(scratch, "models", name), timed);
  }
  const path = join(scratch, "station.yaml");
  writeFileSync(path, station.toString());
  return path;
}

const METHODS: readonly (readonly [string, () => Partial<SimulatedSetup>])[] = [
  ["the demo's fit", () => ({ stationPath: changedStation(provenByLeakPieces) })],
  ["a fixed timer", () => ({ stationPath: timedStation(), allowDrafts: true })],
];
const STATIONS = ["POD-4", "TUB-12"].flatMap((onlyModel) =>
  METHODS.map(([method, setup]) => [onlyModel, method, () => ({ ...setup(), onlyModel })] as const),
);
const HELD: Readonly<Record<string, RegExp>> = {
  "POD-4": /shut off from the body after the fill.*may still hold pressure/,
  "TUB-12": /shut off from the body after the fill.*may still hold suction/,
};
const BLOCKED = [{ code: "BLOCKED_FIXTURE" }];

describe.each(STATIONS)("a hose cut off from a %s after its fill, measured with %s", (model, _, setup) => {
  it.each([
    ["tight", "settle", []],
    ["tight", "measure", []],
    ["leaking", "settle", ["pinched_gasket"]],
    ["leaking", "measure", ["pinched_gasket"]],
  ] as const)(
    "makes a %s unit void when it happens in %s, and stops the station",
    async (_, phase, defects) => {
      const shift = await SimulatedShift.proven(setup());
      const { serial } = shift.unitWith(...defects);
      const hasStruck = shift.strikeIn(phase, "io_block", "hose_blocked");
      const { traveller, faults } = await shift.tryBody(serial);
      expect(hasStruck()).toBe(true);
      expect(traveller).toMatchObject({ verdict: "void", reasons: BLOCKED });
      expect(traveller?.reasons[0]?.sentence).toMatch(HELD[model] ?? /^$/);
      expect(faults).toMatchObject(BLOCKED);
      expect(traveller?.phases.map(({ phase }) => phase)).not.toContain("run_up");
      const leak = traveller?.characteristics.find(({ measurand }) => measurand === "leak_rate");
      expect(leak).toMatchObject({ verdict: "void", value: null });
      expect(shift.simulated.plant.isSafe).toBe(true);

      shift.heal("io_block");
      await shift.prove();
      const again = await shift.tryBody(serial);
      expect(again.traveller?.verdict).toBe(defects.length > 0 ? "fail" : "pass");
    },
  );

  it.each(["TIGHT", "LEAK"])("makes a check on the %s reference piece void", async (kind) => {
    const shift = await SimulatedShift.begin(setup());
    shift.strikeIn("settle", "io_block", "hose_blocked");
    const { traveller } = await shift.tryBody(`REF-${kind}-${model}`);
    expect(traveller).toMatchObject({ verdict: "void", reasons: BLOCKED });
  });

  it.each([
    ["with the hose cut off", true],
    ["with the hose open", false],
  ])(
    "and the guard opened in mid-measurement: the next pair of hands is warned only %s",
    async (_, isCut) => {
      const shift = await SimulatedShift.proven(setup());
      if (isCut) shift.strikeIn("settle", "io_block", "hose_blocked");
      const { station, plant } = shift.simulated;
      station.listen({ phase: (_unit, phase) => phase === "measure" && plant.guard(false) });
      const { traveller, faults } = await shift.tryBody(shift.unitWith().serial);
      expect(traveller).toMatchObject({
        verdict: "void",
        reasons: [{ code: "GUARD_OPENED" }, ...(isCut ? BLOCKED : [])],
      });
      expect(faults).toMatchObject(isCut ? BLOCKED : []);
    },
  );
});
