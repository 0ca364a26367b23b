import { expect, it } from "vitest";
import { loadLimitFile } from "../../limits/limit-file.ts";
import { RecordStore } from "../../station/records/store.ts";
import { facts, outcome, stoppedClock } from "../records/example-attempt.ts";
import { scratchFolder } from "../records/scratch-folder.ts";
import { changedStation, plain } from "./plain-station.ts";
import { SimulatedShift } from "./simulated-shift.ts";

it("limits that were put back, approved as they are, judge no unit once a higher revision has judged one", async () => {
  const shift = await shiftAfter(5, false);
  const why = expect.stringMatching(
    /pod-4\.yaml is revision 4 of POD-4, and revision 5 judged units already\. Put that one back, or set this computer's clock right/,
  );
  expect(shift.simulated.unseen).toEqual([why]);
  const { traveller, refused } = await shift.tryUnit(shift.simulated.population.unitAt(0));
  expect(traveller).toBeNull();
  expect(refused).toEqual([{ code: "NOT_APPROVED", sentence: why }]);
});

it.each([
  ["the same revision judged", 4, false, false],
  ["a higher one was tried as a draft", 5, true, false],
  ["an attempt by a higher one was cut off, and judged nothing", 5, false, true],
] as const)("limits judge on where %s", async (_, revision, draft, isCutOff) => {
  const shift = await shiftAfter(revision, draft, isCutOff);
  expect(shift.simulated.unseen).toEqual([]);
  const { traveller } = await shift.tryUnit(shift.simulated.population.unitAt(0));
  expect(traveller?.limit_file.revision).toBe(4);
});

/** A shift on records in which a unit of its model was judged by a revision of the limits, or was to be. */
async function shiftAfter(revision: number, draft: boolean, isCutOff = false): Promise<SimulatedShift> {
  const folder = scratchFolder();
  const { store } = await RecordStore.open({ folder, clock: stoppedClock(), station: "line 1" });
  const { sha256 } = loadLimitFile("limits/models/pod-4.yaml").source;
  const limit_file = { ...facts("").limit_file, path: "pod-4.yaml", sha256, model: "POD-4", revision };
  const begun = await store.begin(facts("POD000001", 1, { model: "POD-4", limit_file, draft }));
  if (!isCutOff) await store.commit(begun, outcome({ curves: [] }));
  await store.close();
  return SimulatedShift.begin({ stationPath: changedStation(plain), recordsFolder: folder });
}
