import { describe, expect, it, test } from "vitest";
import { DIMENSION_OF } from "../../limits/measurand.ts";
import { toUnit } from "../../limits/quantity.ts";
import { truthOf } from "../../sim/truth.ts";
import type { Traveller } from "../../station/records/traveller.ts";
import { stationWithFlowFrom, WAYS_OF_FLOW, type WayOfFlow } from "./flow-station.ts";
import { SimulatedShift } from "./simulated-shift.ts";

/**
 * A good body tested at the demo station whose flow comes from there, with the truth of what it is judged by.
 * @param also what else is changed in the station file
 */
async function tested(way: WayOfFlow, also = (text: string) => text) {
  const stationPath = stationWithFlowFrom(way, also);
  const shift = await SimulatedShift.proven({ stationPath });
  const unit = shift.unitWith();
  const { traveller } = await shift.tryBody(unit.serial);
  const limits = shift.simulated.models[0]?.limits;
  if (!traveller || !limits) throw new Error("Nothing was tested.");
  const truths = truthOf(unit, limits).characteristics.map(({ name, value }, i) => {
    const { measurand = "leak_rate", unit: symbol = "" } = limits.characteristics[i] ?? {};
    return { name, truth: toUnit(value, DIMENSION_OF[measurand], symbol) };
  });
  return { traveller, truths };
}

const uncertaintyOf = ({ characteristics }: Traveller, name: string) =>
  characteristics.find((it) => it.name === name)?.expanded_uncertainty ?? Number.NaN;

describe.each(WAYS_OF_FLOW)("a good body whose flow comes from %s", (way) => {
  it("passes, with every value as near the truth as its uncertainty says", async () => {
    const { traveller, truths } = await tested(way);
    expect(traveller).toMatchObject({ verdict: "pass", reasons: [] });
    expect(truths.length).toBeGreaterThan(4);
    for (const { name, truth } of truths) {
      const { value, expanded_uncertainty } = traveller.characteristics.find((it) => it.name === name) ?? {};
      // Three standard uncertainties: one gauge in 370 is further off.
      expect(Math.abs((value ?? Number.NaN) - truth), name).toBeLessThan(1.5 * (expanded_uncertainty ?? 0));
    }
  });
});

test("an orifice that somebody has calibrated knows the suction power better than one that nobody has", async () => {
  const [calibrated, house] = [
    await tested("calibrated orifices"),
    await tested("orifices nobody has calibrated"),
  ];
  const name = "working suction power";
  expect(uncertaintyOf(calibrated.traveller, name)).toBeLessThan(uncertaintyOf(house.traveller, name) / 2);
  expect(calibrated.traveller.airflow?.[0]?.flow_from).toMatchObject({
    kind: "plenum_orifices",
    orifices: expect.arrayContaining([
      { orifice: "closed", opening: null },
      {
        orifice: "working",
        opening: expect.objectContaining({ coefficient: 0.621, calibrated: "2025-12-10" }),
      },
    ]),
  });
  expect(house.traveller.airflow?.[0]?.flow_from).toMatchObject({
    orifices: expect.arrayContaining([
      {
        orifice: "working",
        opening: expect.objectContaining({
          coefficient: 0.6,
          coefficient_uncertainty: 0.012,
          calibrated: null,
        }),
      },
    ]),
  });
});

test("a good body at a station whose file has a wider working orifice than is there has the station suspected first", async () => {
  const { traveller } = await tested("calibrated orifices", (text) =>
    text.replace("bore: 16.5 mm", "bore: 19 mm"),
  );
  expect(traveller.verdict).toBe("fail");
  expect(
    traveller.characteristics.filter(({ verdict }) => verdict === "fail").map(({ name }) => name),
  ).toEqual(["working efficiency"]);
  expect(traveller.suspects?.[0]).toMatchObject({
    cause: "orifice or gauge of the station wrong",
    evidence: [expect.stringContaining("working efficiency")],
  });
});
