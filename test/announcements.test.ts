import { expect, it } from "vitest";
import { Announcements } from "../station/announcements.ts";
import { open } from "./records/running-store.ts";
import { scratchFolder } from "./records/scratch-folder.ts";

const SILENT = { code: "INSTRUMENT_FAULT", sentence: "The leak gauge is silent." } as const;
const UNSEEN = { code: "OUTPUT_FAULT", sentence: "The I/O block did not confirm its outputs." } as const;

it("a fault is noted once while it stands, and again where it comes back after somebody has acknowledged it", async () => {
  const { store } = await open(scratchFolder());
  let proofsLost = 0;
  const announcements = new Announcements({
    store,
    takeSettled: () => null,
    faulted: () => proofsLost++,
  });
  const faulted = (...reasons: (typeof SILENT | typeof UNSEEN)[]) =>
    announcements.hear({ type: "faulted", reasons });
  const noted = async () => {
    await announcements.written();
    return (await store.eventsSince(0)).map(({ reasons }) => reasons?.map(({ code }) => code).join());
  };
  faulted(SILENT);
  faulted(SILENT, UNSEEN);
  expect(await noted()).toEqual(["INSTRUMENT_FAULT", "OUTPUT_FAULT"]);
  announcements.recovering();
  faulted(SILENT);
  faulted(SILENT);
  expect(await noted()).toEqual(["INSTRUMENT_FAULT", "OUTPUT_FAULT", "INSTRUMENT_FAULT"]);
  expect(proofsLost).toBe(3);
});

it("a stop found in the records is not noted anew at the start, and is when it comes after an acknowledgement", async () => {
  const { store } = await open(scratchFolder());
  const announcements = new Announcements({ store, takeSettled: () => null, faulted: () => {} });
  announcements.faultedBefore(SILENT);
  announcements.hear({ type: "faulted", reasons: [SILENT] });
  await announcements.written();
  expect(await store.eventsSince(0)).toEqual([]);
  announcements.recovering();
  announcements.hear({ type: "faulted", reasons: [SILENT] });
  await announcements.written();
  expect(await store.eventsSince(0)).toMatchObject([{ event: "fault", reasons: [SILENT] }]);
});
