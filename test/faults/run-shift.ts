import type { CampaignStations } from "./campaign-station.ts";
import type { Stress } from "./fault-plan.ts";
import { finalChecks } from "./final-checks.ts";
import { Inspector } from "./inspector.ts";
import { RecordUnreadable } from "./kept-records.ts";
import { isWellWithin } from "./risk.ts";
import { RightlyRefused, Shift, type ShiftResult } from "./shift.ts";

const UNITS_LEAST = 4;
const UNITS_MOST = 10;
/** By chance alone a sound piece may come out wrong once; two in a row are the station's. */
const PROVEN_WITHIN = 2;
/** What is wrong while the station waits is noticed within so long. */
const NOTICED_s = 8;

/** The whole shift of a seed: work with faults, then everything put right, proven and looked through. */
export async function runShift(
  seed: number,
  stations: CampaignStations,
  stress: Stress | null = null,
): Promise<ShiftResult> {
  const shift = new Shift(seed, stations, stress);
  try {
    await shift.world.runUntil(inOrder(shift));
    if (shift.violations.length === 0) await finalChecks(shift);
  } catch (error) {
    if (error instanceof RightlyRefused) return shift.end();
    // The shift can't go on; whatever it was, it is this seed's.
    const isRecord = error instanceof RecordUnreadable;
    const text = isRecord || !(error instanceof Error) ? String(error) : (error.stack ?? error.message);
    shift.violated({ invariant: isRecord ? "chain broken" : "program fault", text });
  }
  return shift.end();
}

async function inOrder(shift: Shift): Promise<void> {
  const inspector = new Inspector(shift);
  await inspector.work(Math.floor(shift.random.between(UNITS_LEAST, UNITS_MOST + 1)));
  if (shift.violations.length > 0) return;
  shift.troubles.heal();
  // Whatever was wrong a moment ago may still be found out.
  await shift.pause(NOTICED_s);
  // Calibrations are read at the start: one that began before the clock was put right took them for the future's.
  await shift.stop();
  if (shift.troubles.isGaugeCreeping) {
    await mustRecover(shift, inspector);
    // While it still reads wrong: what it let pass must be put on hold now.
    await inspector.checkAll();
    shift.troubles.mendGauge();
  }
  await mustRecover(shift, inspector);
  for (let tries = 0; tries < PROVEN_WITHIN && shift.station?.dueReferences().length; tries++) {
    await inspector.prove();
  }
  await testOneMore(shift, inspector);
  await shift.stop();
  if (shift.station)
    shift.violated({ invariant: "station hangs", text: "it did not end when it was told to" });
}

async function mustRecover(shift: Shift, inspector: Inspector): Promise<void> {
  if (await inspector.recover()) return;
  shift.violated({
    invariant: "station hangs",
    text: `everything is put right, and it stays ${shift.state}`,
  });
}

/** Nothing is wrong any more: a sound unit must pass. */
async function testOneMore(shift: Shift, inspector: Inspector): Promise<void> {
  const unit = [...shift.population.units(300)].findLast((one) => isWellWithin(one, shift.limits));
  if (!unit || shift.units.some(({ serial }) => serial === unit.serial)) return;
  await inspector.testSound(unit);
  const told = shift.witness.told.at(-1)?.traveller;
  if (told?.serial === unit.serial && told.verdict === "pass") return;
  const why =
    told?.serial === unit.serial ? told.reasons.map(({ code }) => code).join(" ") : shift.story.at(-1);
  shift.violated({
    invariant: "station hangs",
    text: `everything is put right, and a sound unit does not pass: ${why}`,
  });
}
