import { describe, expect, it } from "vitest";
import type { FirstTest } from "../../station/records/first-tests.ts";
import type { StoredCharacteristic } from "../../station/records/stored-values.ts";
import { WatchedUnits } from "../../station/study-data/watched-units.ts";

function characteristic(
  name: string,
  measurand: StoredCharacteristic["measurand"],
  unit: string,
): StoredCharacteristic {
  return { name, step: "one", measurand, unit, rule: { kind: "simple" }, verdict: "pass" };
}

/** @param numbers value and uncertainty of each characteristic */
function firstTest(characteristics: readonly StoredCharacteristic[], numbers: readonly number[]): FirstTest {
  return {
    ...{ sequence: 7, serial: "TUB1", sha256: "", path: "", started_at: "2026-01-05T06:00:00.000Z" },
    form: {
      ...{ model: "TUB-12", recordKind: "unit", kind: "first", draft: false, station: "L1", simulated: true },
      ...{ verdict: "pass", codes: [], limitFile: { revision: 3, sha256: "" }, airflow: [], characteristics },
    },
    parts: '{"tub_cavity":"P4"}',
    numbers: Float64Array.from(numbers),
  };
}

describe("a unit as early warning watches it", () => {
  it("has each value in the unit it was first given in, so that limits stated in another are no drift", () => {
    const units = new WatchedUnits();
    const values = (unit: string, value: number) =>
      units.of(firstTest([characteristic("leak", "leak_rate", unit)], [value, 0.1])).values;
    expect(values("mL/min", 12)).toMatchObject([{ unit: "mL/min", value: 12 }]);
    const [later] = values("L/min", 0.012);
    expect(later?.unit).toBe("mL/min");
    expect(later?.value).toBeCloseTo(12, 9);
  });

  it("has no value where none was measured, says which have a long tail, and has its parts and limits", () => {
    const of = [
      characteristic("suction", "suction", "kPa"),
      characteristic("leak", "leak_rate", "mL/min"),
      characteristic("power", "suction_power", "W"),
    ];
    expect(new WatchedUnits().of(firstTest(of, [Number.NaN, Number.NaN, 12, 0.1, 250, 2]))).toEqual({
      ...{ sequence: 7, serial: "TUB1", at: "2026-01-05T06:00:00.000Z", station: "L1", revision: 3 },
      parts: { tub_cavity: "P4" },
      values: [
        { name: "leak", unit: "mL/min", value: 12, hasLongTail: true },
        { name: "power", unit: "W", value: 250, hasLongTail: false },
      ],
    });
  });
});
