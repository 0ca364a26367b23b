import { onTestFinished } from "vitest";
import { recordedSheet } from "../../station/print/recorded-sheet.ts";
import type { UnitSheet } from "../../station/print/unit-sheet.ts";
import { RecordStore } from "../../station/records/store.ts";
import type { AttemptFacts } from "../../station/records/traveller.ts";
import { stoppedClock } from "../records/example-attempt.ts";
import { scratchFolder } from "../records/scratch-folder.ts";

/** A station at work, that tests real units. */
export const REAL: Pick<AttemptFacts, "station"> = {
  station: { name: "line 1", software: "drumtight 0.1.0", simulated: false },
};

export const PRINTED_AT = "2026-01-05T07:00:00.000Z";

export async function openStore() {
  const folder = scratchFolder();
  const { store } = await RecordStore.open({ folder, clock: stoppedClock(), station: "line 1" });
  onTestFinished(() => store.close());
  return { folder, store };
}

/** What would be printed of a serial. */
export async function sheetOf(folder: string, serial: string, attempt?: number): Promise<UnitSheet> {
  const found = await recordedSheet({ folder, serial, attempt, printed_at: PRINTED_AT });
  if (found.kind !== "sheet") throw new Error(found.why.join("\n"));
  return found.sheet;
}
