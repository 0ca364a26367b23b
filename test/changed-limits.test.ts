import { mkdirSync } from "node:fs";
import { expect, it } from "vitest";
import { approvalPath } from "../limits/approval.ts";
import { limitsLook } from "../station/changed-limits.ts";
import { readStation } from "../station/load-station.ts";
import { modelsOn } from "../station/models-in-force.ts";
import { RecordError } from "../station/records/record-error.ts";
import { OwnLimits } from "./journeys/own-limits.ts";

const RAISED = ["revision: 4", "revision: 5"] as const;
const NOON = new Date(2026, 0, 5, 12).getTime();

function looking(own: OwnLimits, parts: Partial<Parameters<typeof limitsLook>[0]> = {}) {
  const loaded = readStation(own.stationPath, "simulated");
  const today = "2026-01-05";
  const now = { models: modelsOn(loaded.models, today, false).models, calibrations: new Map() };
  const look = () =>
    limitsLook({
      loaded,
      atStart: { today, told: [] },
      allowDrafts: false,
      refuseOlder: async (models) => models,
      keep: async () => [],
      wall_ms: () => NOON,
      ...parts,
    });
  return { now, look };
}

const revised = (taken: Awaited<ReturnType<ReturnType<typeof limitsLook>>>) =>
  taken?.models.map(({ limits }) => limits.revision) ?? null;

it("limits that were laid in place while the station was being opened are taken up by the first look", async () => {
  const own = new OwnLimits();
  const { now, look } = looking(own);
  own.write(own.text(RAISED));
  own.approve();
  expect(revised(await look()(now))).toEqual([5]);
});

it("limits whose day began while the station was being opened are taken up by the first look", async () => {
  const own = new OwnLimits();
  own.lay("next.yaml", own.text(RAISED, ["effective_date: 2026-01-05", "effective_date: 2026-01-06"]));
  const { now, look } = looking(own, { wall_ms: () => NOON + 24 * 3600 * 1000 });
  expect(revised(await look()(now))).toEqual([5]);
});

it("a look that broke off is made again: what it saw has not been taken up", async () => {
  const own = new OwnLimits();
  let isGone = true;
  const { now, look } = looking(own, {
    refuseOlder: async (models) => {
      if (isGone) throw new RecordError("FOLDER_MISSING", own.folder, "The records are not there.");
      return models;
    },
  });
  const again = look();
  own.write(own.text(RAISED));
  own.approve();
  await expect(again(now)).rejects.toThrow("not there");
  isGone = false;
  expect(revised(await again(now))).toEqual([5]);
  expect(await again(now)).toBeNull();
});

it("without its approval a file is a draft, and with one that can't be read it is none", () => {
  const own = new OwnLimits();
  const states = () => readStation(own.stationPath, "simulated").models.map(({ isDraft }) => isDraft);
  own.withdrawApproval();
  expect(states()).toEqual([true]);
  mkdirSync(approvalPath(own.path));
  expect(states()).toEqual([false]);
});
