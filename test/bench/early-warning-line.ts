import { DIMENSION_OF } from "../../limits/measurand.ts";
import type { ModelLimits } from "../../limits/model.ts";
import { toUnit } from "../../limits/quantity.ts";
import { Population } from "../../sim/population.ts";
import { type RandomStream, randomStream } from "../../sim/random.ts";
import { truthOf } from "../../sim/truth.ts";
import type { WatchedUnit } from "../../station/quality/early-warning/watched-unit.ts";

/** Units of the simulated population, to be drawn from again and again: to make one takes longer than to watch a hundred. */
const POOL = 2000;
/**
 * Standard uncertainties that the demo's travellers state: of an early leak verdict by the model's limit, of a whole measuring
 * time, and of airflow values as a part of them (the gauges' own errors move all units of a day alike, and are left out).
 */
const EARLY_PART_OF_LIMIT = 0.17;
const WHOLE_PART_OF_LIMIT = 0.05;
const AIRFLOW_PART = 0.002;

type Drawn = Pick<WatchedUnit, "parts" | "values"> & { readonly isSound: boolean };

/** An endless line of one model: each unit as the simulated plant makes it and a station would measure it. */
export class SimulatedLine {
  readonly #limits: ModelLimits;
  readonly #pool: readonly Drawn[];
  readonly #random: RandomStream;
  #made = 0;

  /** @param defectRate part of the units with a named defect */
  constructor(limits: ModelLimits, defectRate: number, seed: number) {
    this.#limits = limits;
    this.#random = randomStream(seed, "early warning");
    const population = new Population({ seed, models: [limits], defectRate });
    this.#pool = [...population.units(POOL)].map((unit) => {
      const { characteristics } = truthOf(unit, limits);
      const values = limits.characteristics.flatMap(({ name, measurand, unit: of }, k) => {
        const value = characteristics[k]?.value ?? Number.NaN;
        // A body that can't be filled has no leak rate, a motor that stands still no airflow.
        if (!Number.isFinite(value) || (measurand !== "leak_rate" && unit.defects.includes("motor_dead")))
          return [];
        return [
          {
            name,
            unit: of,
            value: toUnit(value, DIMENSION_OF[measurand], of),
            hasLongTail: measurand === "leak_rate",
          },
        ];
      });
      const { tub_cavity = "", lid_cavity = "", gasket_lot = "" } = unit.parts;
      return { parts: { tub_cavity, lid_cavity, gasket_lot }, values, isSound: unit.defects.length === 0 };
    });
  }

  /**
   * @param only of one characteristic: no characteristic knows of another, and to make one value takes a tenth of the time
   * @param added to each value, by the unit's parts
   */
  next({
    only,
    added = () => 0,
  }: {
    readonly only?: string;
    readonly added?: (parts: WatchedUnit["parts"]) => number;
  } = {}): WatchedUnit {
    const { parts, values } = this.#random.pick(this.#pool);
    const extra = added(parts);
    this.#made++;
    return {
      sequence: this.#made,
      serial: `U${this.#made}`,
      at: new Date(Date.UTC(2026, 0, 5, 6) + this.#made * 30_000).toISOString(),
      parts,
      station: "Line 1",
      revision: this.#limits.revision,
      values: values
        .filter(({ name }) => only === undefined || name === only)
        .map((it) => ({ ...it, value: this.#measured(it.name, it.value + extra) })),
    };
  }

  /** @returns the standard deviation of a characteristic's measured values, of units without a named defect */
  deviationOf(name: string): number {
    const values = this.#pool.flatMap(({ isSound, values: all }) => {
      const it = all.find((value) => value.name === name);
      return isSound && it ? [this.#measured(name, it.value)] : [];
    });
    const mean = values.reduce((sum, it) => sum + it, 0) / values.length;
    return Math.sqrt(values.reduce((sum, it) => sum + (it - mean) ** 2, 0) / (values.length - 1));
  }

  #measured(name: string, value: number): number {
    const it = this.#limits.characteristics.find((one) => one.name === name);
    if (it?.measurand !== "leak_rate") return value * (1 + AIRFLOW_PART * this.#random.normal());
    const limit = toUnit(it.upper ?? 0, DIMENSION_OF.leak_rate, it.unit);
    const isNear = value > 0.45 * limit && value < 1.6 * limit;
    return value + (isNear ? WHOLE_PART_OF_LIMIT : EARLY_PART_OF_LIMIT) * limit * this.#random.normal();
  }
}
