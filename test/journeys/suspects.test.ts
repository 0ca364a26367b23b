import { describe, expect, it } from "vitest";
import type { DefectName } from "../../sim/defects.ts";
import { Population } from "../../sim/population.ts";
import type { Traveller } from "../../station/records/traveller.ts";
import { changedStation, plain } from "./plain-station.ts";
import { SimulatedShift } from "./simulated-shift.ts";

/** What the demo's limit files call each defect of the plant. */
const CAUSE_OF: Readonly<Record<DefectName, string>> = {
  missing_gasket: "gasket missing",
  pinched_gasket: "gasket pinched",
  crooked_lid: "lid not seated",
  cracked_tub: "tub cracked",
  porous_moulding: "porous tub",
  loose_hose_seal: "hose seal loose",
  blocked_inlet: "blocked path",
  missing_filter: "filter missing",
  weak_motor: "weak motor or its seal",
  wrong_motor: "wrong motor",
  motor_dead: "motor or its supply dead",
  tight_bearing: "motor bearing tight or fan rubbing",
  shorted_winding: "shorted winding",
};

/** The rules' sizes were set on seeds 101 to 103 and 201 to 204. */
const HELD_OUT_SEEDS = [4001, 9101, 9202, 9303];
const DEFECTIVE_UNITS = 70;
const SOUND_UNITS = 10;
/** Sound units have serials, and so a seed, of their own. */
const SOUND_SEEDS_FROM = 50_000;
const MODELS = ["POD-4", "TUB-12"] as const;

interface Failure {
  readonly defect: DefectName;
  readonly traveller: Traveller;
}

const suspectsOf = ({ traveller }: Failure) => traveller.suspects ?? [];

/** Tests the first so many units of a seed, each with a verdict. */
async function tested(shift: SimulatedShift, seed: number, defectRate: number, count: number) {
  const models = shift.simulated.models.map(({ limits }) => limits);
  const verdicts: { readonly defects: readonly DefectName[]; readonly traveller: Traveller }[] = [];
  for (const unit of new Population({ seed, models, defectRate }).units(count)) {
    if (unit.defects.length > 1) continue;
    const { traveller } = await shift.tryUnit(unit);
    if (!traveller) throw new Error(`${unit.serial} was left without a verdict`);
    verdicts.push({ defects: unit.defects, traveller });
  }
  return verdicts;
}

/** Part of the failures whose defect is among the first so many suspects. */
function rightAmong(first: number, failures: readonly Failure[]): number {
  const right = failures.filter((failure) =>
    suspectsOf(failure)
      .slice(0, first)
      .some(({ cause }) => cause === CAUSE_OF[failure.defect]),
  );
  return right.length / failures.length;
}

/*
 * What the shares hold for: units with one defect, of seeds that the rules were not written on, at the plant that they were
 * written for. The rules know its defects' sizes and its worn moulds (the cavity that cracks, the one that is porous), as a
 * quality engineer knows them from the rework bench's records, and the parts are scanned. Where no part is scanned, a crack,
 * a pore and a pinched gasket of one size look alike: on these same units the right suspect is then first in 69 of 100
 * failures and among the first two in 77.
 */
describe("the suspects of units with one defect, of seeds that the rules were not written on", {
  timeout: 900_000,
}, () => {
  const failures: Failure[] = [];

  it.each(HELD_OUT_SEEDS.flatMap((seed) => MODELS.map((onlyModel) => ({ seed, onlyModel }))))(
    "are told for every $onlyModel of seed $seed that fails, and for no other",
    async ({ seed, onlyModel }) => {
      const shift = await SimulatedShift.proven({ onlyModel, seed, stationPath: changedStation(plain) });
      const defective = await tested(shift, seed, 1, DEFECTIVE_UNITS);
      expect(defective.length).toBeGreaterThan(0.85 * DEFECTIVE_UNITS);
      // A unit without a valid measurement would drop out of the count below.
      expect(defective.filter(({ traveller }) => traveller.verdict === "void")).toEqual([]);
      const missed = defective.filter(({ traveller }) => traveller.verdict === "pass");
      expect(missed.length).toBeLessThanOrEqual(0.03 * DEFECTIVE_UNITS);
      for (const { traveller } of missed) expect(traveller.suspects ?? []).toEqual([]);
      for (const { defects, traveller } of defective) {
        const [defect] = defects;
        if (defect === undefined || traveller.verdict !== "fail") continue;
        const failure = { defect, traveller };
        failures.push(failure);
        const [first] = suspectsOf(failure);
        expect(first?.evidence.length, traveller.serial).toBeGreaterThan(0);
        expect(first?.look_at, traveller.serial).toMatch(/^Unplug the unit from the mains/);
      }

      const sound = await tested(shift, seed + SOUND_SEEDS_FROM, 0, SOUND_UNITS);
      expect(sound).toHaveLength(SOUND_UNITS);
      for (const { traveller } of sound) {
        const { serial, verdict, characteristics, suspects } = traveller;
        // Some sound bodies are made close to the leak limit; the air says nothing against any.
        const against = characteristics.filter((it) => it.verdict === "fail").map((it) => it.measurand);
        expect(verdict, serial).toBe(against.length > 0 ? "fail" : "pass");
        expect(
          against.filter((measurand) => measurand !== "leak_rate"),
          serial,
        ).toEqual([]);
        if (verdict === "pass") expect(suspects ?? [], serial).toEqual([]);
      }
    },
  );

  it("have the right one first in 80 of 100 failures of all those seeds, and among the first two in 95", () => {
    const units = DEFECTIVE_UNITS * MODELS.length * HELD_OUT_SEEDS.length;
    expect(failures.length).toBeGreaterThan(0.85 * units);
    expect(rightAmong(1, failures)).toBeGreaterThanOrEqual(0.8);
    expect(rightAmong(2, failures)).toBeGreaterThanOrEqual(0.95);
  });

  it("have every motor, filter and inlet defect of a body that is tight first nearly always", () => {
    const tight = failures.filter(
      ({ defect, traveller }) =>
        /motor|filter|inlet|bearing|winding/.test(defect) &&
        traveller.characteristics.some((it) => it.measurand === "leak_rate" && it.verdict === "pass"),
    );
    expect(new Set(tight.map(({ defect }) => defect)).size).toBe(7);
    expect(rightAmong(1, tight)).toBeGreaterThan(0.97);
  });
});
