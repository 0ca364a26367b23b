import { describe, expect, it } from "vitest";
import { SimulatedShift } from "./simulated-shift.ts";

describe.each(["POD-4", "TUB-12"])(
  "a leak gauge that freezes while it measures a leaking %s",
  (onlyModel) => {
    it.each([1, 2.5, 4, 6, 7.5])(
      "%s s into the measurement, and is back by the vent, passes nothing",
      async (after_s) => {
        const shift = await SimulatedShift.proven({ onlyModel });
        const { serial } = shift.unitWith("pinched_gasket");
        const { plant, clock, station } = shift.simulated;
        const gauge = plant.instruments.get("leak_gauge");
        let struck = false;
        station.listen({
          phase: (_, entered) => {
            if (entered === "measure" && !struck) {
              struck = true;
              clock.setTimeout(() => gauge?.misbehave("stuck"), after_s * 1000);
            }
            if (entered === "vent" || entered === "safing")
              clock.setTimeout(() => gauge?.misbehave(null), 100);
          },
        });
        const { traveller } = await shift.tryBody(serial);
        const leak = traveller?.characteristics.find(({ measurand }) => measurand === "leak_rate");
        expect(traveller?.verdict).not.toBe("pass");
        expect(leak?.verdict).not.toBe("pass");
      },
    );
  },
);
