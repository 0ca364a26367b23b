import { DIMENSION_OF } from "../../limits/measurand.ts";
import { convert } from "../../limits/quantity.ts";
import type { WatchedUnit, WatchedValue } from "../quality/early-warning/watched-unit.ts";
import type { FirstTest } from "../records/first-tests.ts";
import { PER_CHARACTERISTIC } from "../records/stored-values.ts";

/** Makes of first tests what early warning watches: every value, each characteristic in the unit of the first one met. */
export class WatchedUnits {
  readonly #units = new Map<string, string>();

  of({ sequence, serial, started_at, form, parts, numbers }: FirstTest): WatchedUnit {
    const values: WatchedValue[] = [];
    form.characteristics.forEach(({ name, unit, measurand }, k) => {
      const value = numbers[PER_CHARACTERISTIC * k];
      if (value === undefined || !Number.isFinite(value)) return;
      let wanted = this.#units.get(name);
      if (wanted === undefined) {
        wanted = unit;
        this.#units.set(name, unit);
      }
      const converted = wanted === unit ? value : convert(value, unit, wanted, DIMENSION_OF[measurand]);
      values.push({ name, unit: wanted, value: converted, hasLongTail: measurand === "leak_rate" });
    });
    return {
      sequence,
      serial,
      at: started_at,
      parts: JSON.parse(parts) as Record<string, string>,
      station: form.station,
      revision: form.limitFile.revision,
      values,
    };
  }
}
