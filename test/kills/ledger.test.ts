import { readFileSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { Population, type SimulatedUnit } from "../../sim/population.ts";
import { canonicalText } from "../../station/records/chain.ts";
import { listRecords } from "../../station/records/record-name.ts";
import { SimulatedShift } from "../journeys/simulated-shift.ts";
import { Ledger } from "./ledger.ts";

const SEED = 7;

describe("the ledger of the kills", () => {
  it("finds nothing wrong with a pass of a sound unit that has all its evidence", async () => {
    const { tested, told } = await passedUnit();
    expect((await new Ledger(tested).look(told)).wrong).toEqual([]);
  });

  it("finds nothing wrong where a station was killed before it had made its records folder, and misses one that was there", async () => {
    const { tested, told } = await passedUnit();
    const nowhere = { ...tested, records: join(tested.records, "not made yet") };
    expect(await new Ledger(nowhere).look([])).toEqual({ left: "nothing open", wrong: [] });
    const ledger = new Ledger(tested);
    await ledger.look(told);
    rmSync(tested.records, { recursive: true });
    expect((await ledger.look([])).wrong).toContainEqual(
      expect.stringMatching(/was there before and is gone/),
    );
  });

  it("finds a pass wrong whose unit is truly beyond its limit", async () => {
    const { tested, told, defective, unit } = await passedUnit();
    const { wrong } = await new Ledger({ ...tested, population: defective }).look(told);
    expect(wrong).toHaveLength(1);
    expect(wrong[0]).toMatch(new RegExp(`^${unit.serial} passed; its leak rate is .* % beyond the limit`));
  });

  it("finds a pass wrong of a unit that the plant never made", async () => {
    const { tested, told, unit } = await passedUnit();
    const population = new Population({ seed: SEED + 1, models: tested.models });
    const { wrong } = await new Ledger({ ...tested, population }).look(told);
    expect(wrong).toEqual([`${unit.serial} passed, and there is no such unit.`]);
  });

  it.each<[string, RegExp, (traveller: Record<string, unknown>) => void]>([
    ["whose body was not filled", /no fill in leak/, (it) => drop(it, "phases", { phase: "fill" })],
    ["whose curve is gone", /no curve of leak/, (it) => drop(it, "curves", { step: "leak" })],
    [
      "that lacks a figure",
      /open flow is not there/,
      (it) => drop(it, "characteristics", { name: "open flow" }),
    ],
  ])("finds a pass wrong %s", async (_, says, spoil) => {
    const { tested, told, unit } = await passedUnit();
    const newest = (await listRecords(tested.records)).at(-1);
    const path = join(tested.records, newest?.path ?? "");
    const traveller = JSON.parse(readFileSync(path, "utf8"));
    spoil(traveller);
    writeFileSync(path, canonicalText(traveller));
    const { wrong } = await new Ledger(tested).look(told);
    expect(wrong).toEqual([expect.stringMatching(says)]);
    expect(wrong[0]).toContain(`${unit.serial} passed without evidence`);
  });
});

/** A records folder with a pass of a sound unit, what was told of it, and a line whose unit of the same serial has a cracked tub. */
async function passedUnit() {
  const shift = await SimulatedShift.begin({ seed: SEED });
  const references = shift.simulated.station.dueReferences().map(({ serial }) => serial);
  await shift.prove();
  const { population, recordsFolder, models } = shift.simulated;
  const limits = models.map((model) => model.limits);
  const defective = new Population({ seed: SEED, models: limits, defectRate: 1 });
  const unit = soundHere(population, defective);
  expect((await shift.tryUnit(unit)).traveller?.verdict).toBe("pass");
  await shift.close();
  const told = [...references, unit.serial].flatMap((serial) =>
    ["opening", "ambient"].map((phase) => ({ event: "phase", serial, phase })),
  );
  return { unit, told, defective, tested: { records: recordsFolder, models: limits, population } };
}

function soundHere(here: Population, there: Population): SimulatedUnit {
  for (let k = 0; k < 500; k++) {
    if (here.unitAt(k).defects.length > 0 || there.unitAt(k).defects.join() !== "cracked_tub") continue;
    return here.unitAt(k);
  }
  throw new Error("No unit is sound on one line and has a cracked tub on the other.");
}

function drop(traveller: Record<string, unknown>, list: string, like: Record<string, unknown>): void {
  const all = traveller[list] as Record<string, unknown>[];
  traveller[list] = all.filter((one) => Object.entries(like).some(([key, value]) => one[key] !== value));
}
