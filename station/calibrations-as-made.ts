import { readFileSync } from "node:fs";
import { basename, dirname, join, resolve } from "node:path";
import { FileProblems } from "../limits/checked-yaml.ts";
import type { LeakStep } from "../limits/model.ts";
import { type CalibrationKind, readCalibrationFile } from "./calibration-file.ts";
import type { InForce, ModelCalibration } from "./cycle/attempt.ts";
import type { SettleCalibration, VolumeCalibration } from "./measure/leak/settle-calibration.ts";
import { sha256Hex } from "./records/chain.ts";
import { errnoOf } from "./records/record-error.ts";
import type { Traveller } from "./records/traveller.ts";
import { needsSettleCalibration } from "./replay-curves.ts";

/** Where a calibration used in a replay came from. */
export type CalibrationOrigin = "as made" | "today's" | "none";

export interface ReplayCalibration {
  readonly calibration: ModelCalibration;
  readonly origin: Readonly<Record<CalibrationKind, CalibrationOrigin>>;
}

/**
 * Finds what had been learned when travellers were made. A traveller that names a calibration gets that one, or today's
 * where its file is gone or changed. One that names none was measured without: it gets none, except a settle
 * calibration, today's, for a method that can't do without.
 */
export class CalibrationsAsMade {
  readonly #folder: string;
  readonly #today: ModelCalibration;
  readonly #settle = new Map<string, InForce<SettleCalibration> | null>();
  readonly #volume = new Map<string, InForce<VolumeCalibration> | null>();

  /** @param stationPath path of the station file; its calibrations lie beside it */
  constructor(stationPath: string, today: ModelCalibration) {
    this.#folder = dirname(resolve(stationPath));
    this.#today = today;
  }

  for(traveller: Traveller, steps: readonly LeakStep[]): ReplayCalibration {
    const named = (kind: CalibrationKind) => traveller.calibrations?.find((it) => it.kind === kind);
    const needsSettle = steps.some(needsSettleCalibration);
    const settle = choose(named("settle"), (it) => this.#settleOf(it), this.#today.settle, needsSettle);
    const volume = choose(named("volume"), (it) => this.#volumeOf(it), this.#today.volume, false);
    return {
      calibration: { settle: settle.inForce, volume: volume.inForce },
      origin: { settle: settle.origin, volume: volume.origin },
    };
  }

  #settleOf(named: NamedCalibration): InForce<SettleCalibration> | null {
    return remembered(this.#settle, named, () => {
      const read = this.#read(named);
      return read?.kind === "settle" ? { ...named, calibration: read.values } : null;
    });
  }

  #volumeOf(named: NamedCalibration): InForce<VolumeCalibration> | null {
    return remembered(this.#volume, named, () => {
      const read = this.#read(named);
      return read?.kind === "volume" ? { ...named, calibration: read.values } : null;
    });
  }

  /** @returns null where the file is not there any more, or not what it was */
  #read({ file, sha256 }: NamedCalibration): ReturnType<typeof readCalibrationFile> | null {
    if (basename(file) !== file) return null;
    try {
      const bytes = readFileSync(join(this.#folder, file));
      return sha256Hex(bytes) === sha256 ? readCalibrationFile(file, bytes.toString("utf8")) : null;
    } catch (error) {
      if (error instanceof FileProblems || errnoOf(error) !== "") return null;
      throw error;
    }
  }
}

type NamedCalibration = NonNullable<Traveller["calibrations"]>[number];

function remembered<T>(known: Map<string, T>, { file, sha256 }: NamedCalibration, read: () => T): T {
  const key = `${file} ${sha256}`;
  const before = known.get(key);
  if (before !== undefined) return before;
  const found = read();
  known.set(key, found);
  return found;
}

function choose<T>(
  named: NamedCalibration | undefined,
  asMade: (named: NamedCalibration) => InForce<T> | null,
  today: InForce<T> | null,
  isNeeded: boolean,
): { readonly inForce: InForce<T> | null; readonly origin: CalibrationOrigin } {
  const made = named ? asMade(named) : null;
  if (made) return { inForce: made, origin: "as made" };
  if (today && (named || isNeeded)) return { inForce: today, origin: "today's" };
  return { inForce: null, origin: "none" };
}
