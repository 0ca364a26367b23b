import type { Characteristic, LeakStep, ModelLimits } from "../../../limits/model.ts";
import { nearest } from "../../../limits/nearest.ts";
import { quoted } from "../../../limits/quantity.ts";
import type { ModelCalibration } from "../../cycle/attempt.ts";
import { UsageError } from "../../explain.ts";
import type { StationFile } from "../../station-file.ts";

export interface ModelOfStation {
  readonly limits: ModelLimits;
  readonly station: StationFile;
  readonly stationPath: string;
  /** What has been learned of the model by now, and what keeps something from being used. */
  readonly today: ModelCalibration;
  readonly problems: readonly string[];
}

/**
 * A model's limits at a station: those of the station's limit folder, or of a file.
 * @throws UsageError where there is no such model; FileProblems for mistakes in the files
 */
export async function modelOfStation(options: {
  readonly model: string;
  readonly station?: string | undefined;
  readonly limits?: string | undefined;
  /** Of several revisions a draft may be the one. */
  readonly draft?: true | undefined;
}): Promise<ModelOfStation> {
  const { relative } = await import("node:path");
  const { loadLimitFile, loadLimitFolder } = await import("../../../limits/limit-file.ts");
  const { readStationFileAlone } = await import("../../load-station.ts");
  const { limitRevisions, modelsOn } = await import("../../models-in-force.ts");
  const { calendarDate } = await import("../../calendar-date.ts");
  const { calibrationsInForce } = await import("../../calibrations-in-force.ts");
  const { NOT_CALIBRATED } = await import("../../cycle/attempt.ts");
  const { demoStationPath } = await import("../../wiring.ts");
  const stationPath = options.station ?? relative("", demoStationPath());
  const station = readStationFileAlone(stationPath);
  const all =
    options.limits === undefined
      ? modelsOn(
          limitRevisions(loadLimitFolder(station.limitsFolder), station.approvers),
          calendarDate(Date.now()),
          options.draft === true,
        ).models.map((one) => one.limits)
      : [loadLimitFile(options.limits)];
  const limits = all.find(({ model }) => model === options.model);
  if (!limits) {
    const names = all.map(({ model }) => model);
    const meant = nearest(options.model, names);
    throw new UsageError(
      `--model: found ${quoted(options.model)}, but ${options.limits ?? station.limitsFolder} has ${names.join(", ")}${meant === undefined ? "" : `; did you mean ${meant}?`}.`.replace(
        /\?\.$/,
        "?",
      ),
    );
  }
  const found = calibrationsInForce(stationPath, station, [limits], Date.now()).get(limits.model);
  return {
    ...{ limits, station, stationPath },
    today: found ?? NOT_CALIBRATED,
    problems: found?.problems.map(({ sentence }) => sentence) ?? [],
  };
}

/**
 * The one leak rate that limits judge by an upper limit.
 * @throws UsageError where there is none, or more
 */
export function oneLeakRate(limits: ModelLimits): {
  readonly step: LeakStep;
  readonly rate: Characteristic & { readonly upper: number };
} {
  const [rate, other] = limits.characteristics.filter(({ measurand }) => measurand === "leak_rate");
  const step = limits.steps.find(({ name }) => name === rate?.step);
  if (rate?.upper === undefined || step?.kind !== "leak") {
    throw new UsageError(`${limits.model} has no leak rate with an upper limit.`);
  }
  if (other) {
    throw new UsageError(
      `${limits.model} judges more than one leak rate: give a copy of its limit file with one of them by --limits.`,
    );
  }
  return { step, rate: { ...rate, upper: rate.upper } };
}
