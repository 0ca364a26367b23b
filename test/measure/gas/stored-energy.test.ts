import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { storedEnergies } from "../../../station/measure/gas/stored-energy.ts";

const ambient_Pa = 101_325;
const energies = (volume_m3: number, pressure_Pa: number) =>
  new Map(
    storedEnergies({ volume_m3, pressure_Pa, ambient_Pa }).map(({ name, energy_J }) => [name, energy_J]),
  );
const pressure = fc.double({ min: 100, max: 5e6, noNaN: true });

describe("stored energy", () => {
  it("is never negative; what is left after the work against the room is less than the isothermal work", () => {
    fc.assert(
      fc.property(pressure, (pressure_Pa) => {
        const all = energies(0.012, pressure_Pa);
        for (const energy of all.values()) expect(energy).toBeGreaterThanOrEqual(0);
        // Of a vacuum the room's air does the work: never more than the bound.
        const most = all.get(pressure_Pa > ambient_Pa ? "isothermal" : "pV bound");
        expect(all.get("net isothermal")).toBeLessThanOrEqual(most ?? Number.NaN);
      }),
    );
  });

  it("grows with the distance from the room's pressure, by every formula, up to a vacuum of a third", () => {
    const step = fc.double({ min: 1.001, max: 2, noNaN: true });
    const overpressure = fc.double({ min: 10, max: 1e6, noNaN: true });
    const underpressure = fc.double({ min: 10, max: 0.33 * ambient_Pa, noNaN: true });
    const grows = (sign: number, most_Pa: number) => (gauge_Pa: number, factor: number) => {
      fc.pre(gauge_Pa * factor < most_Pa);
      const near = energies(1, ambient_Pa + sign * gauge_Pa);
      const far = energies(1, ambient_Pa + sign * gauge_Pa * factor);
      for (const [name, energy] of near) expect(far.get(name)).toBeGreaterThan(energy);
    };
    fc.assert(fc.property(overpressure, step, grows(1, 2e6)));
    fc.assert(fc.property(underpressure, step, grows(-1, 0.33 * ambient_Pa)));
  });

  it("is nothing at the room's pressure, and doubles with the volume", () => {
    expect([...energies(1, ambient_Pa).values()]).toEqual([0, 0, 0, 0, 0]);
    for (const [name, energy] of energies(2, 2e5)) expect(energy).toBe(2 * (energies(1, 2e5).get(name) ?? 0));
  });

  it("keeps the net work's digits near the room's pressure: half of V dp^2 / p", () => {
    const net = energies(1, ambient_Pa + 1).get("net isothermal") ?? Number.NaN;
    expect(net * 2 * ambient_Pa).toBeCloseTo(1, 4);
    const p1_Pa = ambient_Pa + 100;
    const direct = p1_Pa * (Math.log(p1_Pa / ambient_Pa) - 1 + ambient_Pa / p1_Pa);
    expect((energies(1, p1_Pa).get("net isothermal") ?? Number.NaN) / direct).toBeCloseTo(1, 7);
  });

  it.each([
    { volume_m3: 0, pressure_Pa: 2e5 },
    { volume_m3: 1, pressure_Pa: 0 },
    { volume_m3: 1, pressure_Pa: -1e4 },
  ])("is refused for %o", (wrong) => {
    expect(() => storedEnergies({ ...wrong, ambient_Pa })).toThrow(RangeError);
  });
});
