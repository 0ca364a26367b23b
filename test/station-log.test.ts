import { expect, it } from "vitest";
import type { StationEvent, StationEventDraft } from "../station/records/station-event.ts";
import { StationLog } from "../station/station-log.ts";

/** A disk that is full until it is freed. */
function disk() {
  const written: string[] = [];
  const told: unknown[] = [];
  const full = { is: false };
  const note = async (event: StationEventDraft): Promise<StationEvent> => {
    if (full.is) throw new Error("The disk is full.");
    written.push(event.event);
    const chain = { sequence: 1, previous: null };
    return { ...event, format: "drumtight/station-event/1", at: "", after_traveller: 0, chain };
  };
  return { written, told, full, log: new StationLog(note, (error) => told.push(error)) };
}

it("what could not be noted is told, kept, and written first once that is possible again", async () => {
  const { written, told, full, log } = disk();
  log.note({ event: "opened" });
  await log.written();
  full.is = true;
  log.note({ event: "fault" });
  await expect(log.written()).rejects.toThrow("The disk is full.");
  expect(told).toHaveLength(1);
  full.is = false;
  log.note({ event: "acknowledged" });
  await log.written();
  expect(written).toEqual(["opened", "fault", "acknowledged"]);
  expect(told).toHaveLength(1);
});

it("each event is written once, in order, however fast they come", async () => {
  const { written, log } = disk();
  for (const event of ["opened", "signed_in", "fault", "signed_out", "closed"] as const) log.note({ event });
  await log.written();
  expect(written).toEqual(["opened", "signed_in", "fault", "signed_out", "closed"]);
});
