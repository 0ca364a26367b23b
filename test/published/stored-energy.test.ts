import { expect, it } from "vitest";
import { storedEnergies } from "../../station/measure/gas/stored-energy.ts";

// Brode and Baker as explosion-safety texts give them, p0 = 101325 Pa, gamma = 1.4: the isentropic and isothermal
// formulas read in public safety pages, the others from memory; the numbers computed apart from this code.
it.each([
  ["E01", 0.012, 10_000, [300, 88.61446272, 125.7358147, 5.735814666, 120]],
  ["E02", 0.012, -10_000, [300, 82.55759589, 113.8734346, 6.126565443, 120]],
  ["E03", 0.012, -22_000, [660, 172.3907987, 233.005925, 30.99407502, 264]],
  ["E04", 0.012, 3000, [90, 25.98280017, 36.52775538, 0.5277553766, 36]],
  ["E11", 0.005, 30_000, [375, 117.2388256, 170.290437, 20.29043702, 150]],
  ["E12", 0.0075, -15_000, [281.25, 75.81375485, 103.7285058, 8.771494189, 112.5]],
])(
  "%s: %d m3 at %d Pa gauge stores by Brode, Baker, isothermal, net isothermal, pV %j J",
  (_, volume_m3, gauge_Pa, expected) => {
    const energies = storedEnergies({ volume_m3, pressure_Pa: 101_325 + gauge_Pa, ambient_Pa: 101_325 });
    expect(energies.map(({ name }) => name)).toEqual([
      "Brode",
      "isentropic (Baker)",
      "isothermal",
      "net isothermal",
      "pV bound",
    ]);
    for (const [i, { energy_J }] of energies.entries()) {
      expect(Math.abs(energy_J / (expected[i] ?? Number.NaN) - 1)).toBeLessThan(1e-8);
    }
  },
);

// A widely copied example (400 US gal at 404.7 psia, k = 1.41) states 27.574e6 ft lbf; its own formula, isentropic,
// gives 4.699e6. With air's k = 1.4 it gives 4.769e6 (computed apart from this code).
it("does not give the widely copied 27.6 million foot-pounds for 400 gallons at 404.7 psia", () => {
  const [, isentropic] = storedEnergies({
    volume_m3: 400 * 3.785411784e-3,
    pressure_Pa: 404.7 * 6894.757293168,
    ambient_Pa: 14.7 * 6894.757293168,
  });
  expect((isentropic?.energy_J ?? Number.NaN) / 1.3558179483).toBeCloseTo(4.769216e6, -1);
});
