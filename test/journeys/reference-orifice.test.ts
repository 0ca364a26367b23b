import { describe, expect, it } from "vitest";
import { SimulatedShift } from "./simulated-shift.ts";

const MODELS = ["POD-4", "TUB-12"] as const;

describe.each(MODELS)("the reference orifice of %s", (onlyModel) => {
  const serial = `REF-ORIFICE-${onlyModel}`;

  it.each([1, 2, 3, 7, 11])("passes on the sound station of seed %d", async (seed) => {
    const shift = await SimulatedShift.begin({ seed, onlyModel });
    const { traveller } = await shift.tryBody(serial);
    expect(traveller).toMatchObject({ kind: "reference", verdict: "pass", reasons: [] });
    const { measured, certified_value, tolerance, unit } = traveller?.reference ?? {};
    expect(unit).toBe("L/s");
    // Far from its tolerance: a drift has room to show before it fails.
    expect(Math.abs((measured ?? 0) - (certified_value ?? 0))).toBeLessThan(0.5 * (tolerance ?? 0));
    expect(traveller?.characteristics.map(({ name }) => name)).toEqual(["reference flow"]);
    expect(traveller?.phases.map(({ phase }) => phase)).toEqual(["run_up", "hold", "coast"]);
    expect(shift.simulated.plant.isSafe).toBe(true);
  });

  it.each(["flow_gauge_off", "shutter_2_half"])("fails on a day of %s", async (day) => {
    const shift = await SimulatedShift.begin({ onlyModel });
    shift.simulated.plant.instruments.get("io_block")?.misbehave(day);
    const { traveller } = await shift.tryBody(serial);
    expect(traveller?.verdict).toBe("fail");
    expect(traveller?.reference?.conforms).toBe(false);
    expect(traveller?.suspects).toBeUndefined();
    shift.heal("io_block");
    expect((await shift.tryBody(serial)).traveller?.verdict).toBe("pass");
  });

  it("is void when the hose to the plenum is off: nothing was proven, and nothing is against the station's units", async () => {
    const shift = await SimulatedShift.begin({ onlyModel });
    shift.simulated.plant.instruments.get("io_block")?.misbehave("plenum_hose_off");
    expect((await shift.tryBody(serial)).traveller?.verdict).toBe("void");
  });
});
