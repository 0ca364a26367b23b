import fc from "fast-check";
import { describe, expect, it } from "vitest";
import { randomStream } from "../../../sim/random.ts";
import { ModelWatch } from "../../../station/quality/early-warning/model-watch.ts";
import type { WatchedUnit } from "../../../station/quality/early-warning/watched-unit.ts";
import { type Made, MadeLine } from "./made-units.ts";

const SEEDS = [1, 2, 3, 4, 5, 6, 7, 8];

function numberOf(serial: string): number {
  return Number(serial.slice("POD".length));
}

describe("early warning for a model", () => {
  it("says which characteristic rises, since about when, and by how much", () => {
    let ofModel = 0;
    const off = SEEDS.map((seed) => {
      const line = new MadeLine(seed);
      const watch = new ModelWatch("POD-4", line.units(400));
      for (const unit of line.units(40, { leak: 2 })) watch.add(unit);
      const warning = watch.standing().find(({ characteristic }) => characteristic === "leak rate");
      expect(warning).toMatchObject({ model: "POD-4", direction: "rises", unit: "mL/min" });
      if (warning?.cavity === null) ofModel++;
      expect(warning?.shift_sd).toBeGreaterThan(1.3);
      expect((warning?.since ?? 0) - (warning?.before ?? 0)).toBeGreaterThan(1.3);
      return numberOf(warning?.first.serial ?? "") - 401;
    });
    expect(Math.max(...off.map(Math.abs))).toBeLessThanOrEqual(8);
    expect(ofModel).toBeGreaterThanOrEqual(SEEDS.length - 1);
  });

  it("says that a characteristic falls", () => {
    const line = new MadeLine(1);
    const watch = new ModelWatch("POD-4", line.units(400));
    for (const unit of line.units(30, { suction: -2 })) watch.add(unit);
    const [warning] = watch.standing();
    expect(warning).toMatchObject({ characteristic: "suction", direction: "falls" });
    expect(warning?.shift_sd).toBeLessThan(-1);
    expect(warning?.sentence).toMatch(
      /^Suction of POD-4 falls since POD(39|40)\d, [23]\d units: tell the quality engineer\.$/,
    );
  });

  it("tells one cavity that drifts from the whole model, nearly always", () => {
    const cavities = SEEDS.map((seed) => {
      const line = new MadeLine(seed);
      const watch = new ModelWatch("POD-4", line.units(400));
      for (let k = 0; k < 40; k++) {
        watch.add(line.next({ parts: { tub_cavity: "P1" } }));
        watch.add(line.next({ leak: 2, parts: { tub_cavity: "P2" } }));
      }
      const [warning] = watch.standing();
      if (warning?.cavity)
        expect(warning.sentence).toContain("Leak rate of POD-4, tub cavity P2, rises since");
      return warning?.cavity?.value;
    });
    expect(cavities.filter((it) => it === "P2").length).toBeGreaterThanOrEqual(SEEDS.length - 1);
    expect(cavities).not.toContain("P1");
  });

  it("takes neither a difference between cavities nor a day of one cavity alone for a drift", () => {
    for (const seed of SEEDS) {
      const warningsWith = (difference: number) => {
        const line = new MadeLine(seed);
        const of = (cavity: string) =>
          line.next({ leak: cavity === "P1" ? 0 : difference, parts: { tub_cavity: cavity } });
        const watch = new ModelWatch("POD-4");
        for (let k = 0; k < 200; k++) watch.add(of(k % 2 === 0 ? "P1" : "P2"));
        for (let k = 0; k < 100; k++) watch.add(of("P2"));
        return watch.warnings().map(({ sentence }) => sentence);
      };
      // Chance warns of some unit or other: of the same ones whether cavities differ by four standard deviations or not.
      expect(warningsWith(4)).toEqual(warningsWith(0));
    }
  });

  it("is not moved by one unit that leaks a thousand times as much, nor by two", () => {
    const line = new MadeLine(2);
    const watch = new ModelWatch("POD-4", line.units(400));
    const wasSignalled = watch.signals;
    watch.add(line.next({ leak: 10_000 }));
    watch.add(line.next({ leak: 10_000 }));
    expect(watch.signals).toBe(wasSignalled);
  });

  it("gives a false alarm for each chart in far more than 500 units", () => {
    let units = 0;
    let signals = 0;
    for (let seed = 1; seed <= 12; seed++) {
      const watch = new ModelWatch("POD-4", new MadeLine(seed).units(1000));
      units += watch.units.length;
      signals += watch.signals;
    }
    // Two characteristics with a chart of all units, and two of cavities that see half of them each.
    expect((units * 4) / Math.max(1, signals)).toBeGreaterThan(1000);
  });

  it("ends when the values are back", () => {
    const line = new MadeLine(3);
    const watch = new ModelWatch("POD-4", line.units(400));
    for (const unit of line.units(25, { leak: 3 })) watch.add(unit);
    expect(watch.isQuiet).toBe(false);
    for (const unit of line.units(40)) watch.add(unit);
    expect(watch.standing()).toEqual([]);
    expect(watch.warnings().at(-1)?.ended?.why).toBe("returned");
  });

  it("takes what has lasted for a hundred units for usual, and warns of the next change", () => {
    const line = new MadeLine(4);
    const watch = new ModelWatch("POD-4", line.units(400));
    for (const unit of line.units(130, { leak: 3 })) watch.add(unit);
    expect(watch.standing()).toEqual([]);
    expect(watch.warnings().at(-1)?.ended?.why).toBe("new level");
    for (const unit of line.units(30, { leak: 6 })) watch.add(unit);
    expect(watch.standing()[0]).toMatchObject({ characteristic: "leak rate", direction: "rises" });
  });

  it("ends when other limits come into force", () => {
    const line = new MadeLine(5);
    const watch = new ModelWatch("POD-4", line.units(400));
    for (const unit of line.units(30, { leak: 3 })) watch.add(unit);
    expect(watch.isQuiet).toBe(false);
    watch.add(line.next({ leak: 3, revision: 2 }));
    expect(watch.isQuiet).toBe(true);
    expect(watch.warnings().at(-1)?.ended).toMatchObject({ why: "limits changed", serial: "POD431" });
  });

  it("names the lot that changed at the first suspect, and not the motor that every unit has of its own", () => {
    const line = new MadeLine(6);
    const watch = new ModelWatch("POD-4", line.units(400, { parts: { gasket_lot: "G2411" } }));
    for (const unit of line.units(30, { leak: 3, parts: { gasket_lot: "G2412" } })) watch.add(unit);
    expect(watch.standing()[0]?.changed).toMatchObject([
      { what: "gasket_lot", from: "G2411", to: "G2412", serial: "POD401" },
    ]);
  });

  it("names a lot from the third unit on that has it, and the newest unit's own motor at no time", () => {
    const line = new MadeLine(2);
    const watch = new ModelWatch("POD-4", line.units(400, { parts: { gasket_lot: "G2411" } }));
    let [told, named] = [0, 0];
    for (const unit of line.units(40, (k) => ({
      leak: 3,
      parts: { gasket_lot: k < 3 ? "G2411" : "G2412" },
    }))) {
      watch.add(unit);
      const later = numberOf(unit.serial) - 403;
      for (const { changed } of watch.standing()) {
        told++;
        expect(changed.map(({ what }) => what)).toEqual(later >= 3 ? ["gasket_lot"] : []);
        named += changed.length;
      }
    }
    expect(told).toBeGreaterThan(named);
    expect(named).toBeGreaterThan(20);
  });

  it("says nothing changed where nothing that is recorded did", () => {
    const line = new MadeLine(6);
    const watch = new ModelWatch("POD-4", line.units(400, { parts: { gasket_lot: "G2411" } }));
    for (const unit of line.units(30, { leak: 3, parts: { gasket_lot: "G2411" } })) watch.add(unit);
    expect(watch.standing()[0]?.changed).toEqual([]);
  });

  it("comes to the same warnings whatever unit and zero the values have", () => {
    fc.assert(
      fc.property(
        fc.integer({ min: 1, max: 1000 }),
        fc.double({ min: 0.1, max: 3, noNaN: true }),
        fc.constantFrom(0.25, 8, 1024),
        fc.integer({ min: -8, max: 8 }),
        (seed, step, factor, zero) => {
          const line = new MadeLine(seed);
          const units = [...line.units(150), ...line.units(40, { leak: step })];
          const inOther = units.map((unit) => ({
            ...unit,
            values: unit.values.map((it) => ({ ...it, value: (it.value + zero) * factor })),
          }));
          expect(toldOf(inOther)).toEqual(toldOf(units));
        },
      ),
      { numRuns: 30 },
    );
  });

  it("gives no more false alarms for skewed values than for normal ones", () => {
    const signals = (of: (value: number) => number) => {
      let count = 0;
      for (let seed = 1; seed <= 12; seed++) {
        const units = new MadeLine(seed).units(1000).map((unit) => ({
          ...unit,
          values: unit.values.map((it) => ({ ...it, value: of(it.value) })),
        }));
        count += new ModelWatch("POD-4", units).signals;
      }
      return count;
    };
    expect(signals((value) => Math.exp(value / 2))).toBeLessThanOrEqual(signals((value) => value) + 3);
  });

  it("takes a single value far out for a defect, and one after the other for a change", () => {
    for (const seed of SEEDS) {
      const signalsWith = (made: (k: number) => Made) => {
        const line = new MadeLine(seed);
        const watch = new ModelWatch("POD-4", line.units(400));
        const before = watch.signals;
        for (const unit of line.units(30, made)) watch.add(unit);
        return watch.signals - before;
      };
      const undisturbed = signalsWith(() => ({}));
      // One in five is defective, never two in a row: what is left of them is a drift of nothing.
      expect(signalsWith((k) => (k % 5 === 0 ? { leak: 100 } : {}))).toBeLessThanOrEqual(undisturbed);
      expect(signalsWith(() => ({ leak: 100 }))).toBeGreaterThan(0);
    }
  });

  it("is not moved by readings that are far less certain than their fellows", () => {
    const signalsWith = (scatter: number) => {
      let signals = 0;
      for (let seed = 1; seed <= 24; seed++) {
        const line = new MadeLine(seed);
        const watch = new ModelWatch("POD-4", line.units(300));
        const before = watch.signals;
        const random = randomStream(seed, "uncertain");
        // Every tenth reading scatters by ten times as much as the others, to either side.
        for (const unit of line.units(100, (k) => ({ leak: k % 10 === 0 ? scatter * random.normal() : 0 })))
          watch.add(unit);
        signals += watch.signals - before;
      }
      return signals;
    };
    // A few of 2400 units either way: chance gives so many.
    expect(signalsWith(10) - signalsWith(0)).toBeLessThanOrEqual(2);
  });
});

function toldOf(units: readonly WatchedUnit[]) {
  return new ModelWatch("POD-4", units)
    .warnings()
    .map(({ characteristic, cavity, first, signalled, units: count }) => ({
      ...{ characteristic, cavity, first, signalled, count },
    }));
}
