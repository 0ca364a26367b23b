import type { LeakStep } from "../../../limits/model.ts";
import { formatMeasured, formatNumber } from "../../../limits/print-quantity.ts";
import type { VolumeEvidence } from "../../calibration-file.ts";
import type { ReferencePiece } from "../../cycle/attempt.ts";
import type { LeakKind } from "../../measure/study/leak-flow-law.ts";
import type { VolumeRun, VolumeStudyOptions } from "../../measure/study/volume-slopes.ts";
import { type FoundVolume, volumeByAddedVolume, volumeByLeak } from "../../measure/study/volume-study.ts";
import { watchRuns } from "../../study-runs.ts";
import type { DecayRun } from "../../watch-decay.ts";
import type { CommonArguments } from "./common-options.ts";
import { type StudyReport, saved, sayStopped } from "./report.ts";
import { type Mounting, openStage, pieceOf, type Stage } from "./stage.ts";

/** What is known beforehand. Leak rates at the house reference and the test pressure. */
export type Known =
  /** The station's own tight and leak reference pieces. */
  | { readonly by: "pieces"; readonly uncertainty: Uncertainty }
  /** A calibrated leak connected to the tight reference piece. */
  | { readonly by: "leak"; readonly leak_m3_s: number; readonly uncertainty: Uncertainty }
  /** A vessel connected to the leak reference piece. */
  | { readonly by: "volume"; readonly volume_m3: number; readonly uncertainty: Uncertainty };

/** Standard uncertainty, of the value or as a part of it. */
export type Uncertainty = { readonly absolute: number } | { readonly relative: number };

export interface VolumeArguments extends CommonArguments {
  readonly known: Known;
  readonly leakKind: LeakKind;
}

const SETS = 3;
const PIECES: Readonly<Record<Known["by"], readonly ReferencePiece["kind"][]>> = {
  pieces: ["tight", "leak"],
  leak: ["tight"],
  volume: ["leak"],
};

/** @returns the exit code: 0 found and saved, 1 the runs give no volume, 2 stopped */
export async function studyVolume(args: VolumeArguments, report: StudyReport): Promise<0 | 1 | 2> {
  const stage = await openStage({
    ...args,
    pieces: PIECES[args.known.by],
    longest_s: SETS * args.runs * (args.watch_s + args.rest_s + 60),
  });
  try {
    return await volumeOn(stage, args, report);
  } finally {
    await stage.close();
  }
}

async function volumeOn(stage: Stage, args: VolumeArguments, report: StudyReport): Promise<0 | 1 | 2> {
  const plan = planOf(stage, args.known);
  report.cautions(stage, SETS * args.runs);
  const sets: DecayRun[][] = [];
  const stopped = await stage.perform(async () => {
    for (const mounting of plan.mountings) {
      if (!(await stage.mount(mounting))) return [];
      const order = {
        limits: stage.model.limits,
        step: stepFor(stage, mounting),
        piece: mounting.piece,
        ...args,
      };
      const watched = await watchRuns(stage.bench, order, (run, number) =>
        report.run(mounting.said, run, number, args.runs),
      );
      if (watched.kind === "stopped") return watched.reasons;
      sets.push([...watched.runs]);
    }
    return null;
  });
  if (stopped) return sayStopped(stage, stopped);
  const [before = [], between = [], after = []] = sets.map((runs) => runs.map(volumeRun));
  const found = plan.find({ before, between, after }, studyOptions(stage, args));
  if (found.kind === "not found") {
    report.no(`Nothing was saved. ${found.sentence}`);
    return 1;
  }
  const { volume_m3, uncertainty_m3 } = found;
  const evidence: VolumeEvidence = {
    ...plan.evidence,
    runs: SETS * args.runs,
    watched_s: args.watch_s,
    budget: found.budget.map(({ component, estimate, uncertainty, unit, sensitivity, contribution }) => ({
      component,
      estimate,
      uncertainty,
      unit,
      sensitivity,
      contribution_m3: contribution,
    })),
  };
  const pieces = [...new Set(plan.mountings.map(({ piece }) => piece))];
  const values = { volume_m3, uncertainty_m3 };
  const path = await saved(stage, args, pieces, { kind: "volume", values, evidence });
  report.found(volumeFields(found, evidence), volumeLines(stage, found, evidence), stage, path);
  return 0;
}

/** More volume takes longer to fill. */
function stepFor({ step, volume_m3 }: Stage, { prepared }: Mounting): LeakStep {
  if (!prepared || !("addedVolume_m3" in prepared)) return step;
  return { ...step, fillLongest_s: step.fillLongest_s * (1 + prepared.addedVolume_m3 / volume_m3) };
}

interface Plan {
  readonly mountings: readonly (Mounting & { readonly said: string })[];
  readonly evidence: Pick<VolumeEvidence, "method" | "known">;
  find(
    runs: Parameters<typeof volumeByLeak>[0],
    options: VolumeStudyOptions,
  ): ReturnType<typeof volumeByLeak>;
}

function planOf({ file, model }: Stage, known: Known): Plan {
  const piece = (kind: "tight" | "leak") => pieceOf(file, model.limits.model, kind);
  if (known.by === "volume") {
    const { serial } = piece("leak");
    const uncertainty_m3 = absolute(known.uncertainty, known.volume_m3);
    return {
      mountings: bracket(
        {
          piece: serial,
          said: serial,
          words: `Put the leak reference piece ${serial} on, without the added volume.`,
        },
        {
          piece: serial,
          said: `${serial} with added volume`,
          words: `Connect the added volume to ${serial}, the way between them open.`,
          prepared: { addedVolume_m3: known.volume_m3 },
        },
        `Take the added volume off ${serial} again.`,
      ),
      evidence: {
        method: "added volume",
        known: { value: known.volume_m3, uncertainty: uncertainty_m3, unit: "m3" },
      },
      find: (runs, options) =>
        volumeByAddedVolume(runs, { volume_m3: known.volume_m3, uncertainty_m3 }, options),
    };
  }
  const tight = piece("tight");
  const leak_m3_s =
    known.by === "leak" ? known.leak_m3_s : piece("leak").certified_m3_s - tight.certified_m3_s;
  const uncertainty_m3_s = absolute(known.uncertainty, leak_m3_s);
  const without = { piece: tight.serial, said: tight.serial };
  return {
    mountings:
      known.by === "leak"
        ? bracket(
            {
              ...without,
              words: `Put the tight reference piece ${tight.serial} on, the calibrated leak shut off or not connected.`,
            },
            {
              piece: tight.serial,
              said: `${tight.serial} with leak`,
              words: `Connect the calibrated leak to ${tight.serial} and open it.`,
              prepared: { addedLeak_m3_s: leak_m3_s },
            },
            `Shut the calibrated leak of ${tight.serial} off again.`,
          )
        : bracket(
            { ...without, words: `Put the tight reference piece ${tight.serial} on the fixture.` },
            {
              piece: piece("leak").serial,
              said: piece("leak").serial,
              words: `Put the leak reference piece ${piece("leak").serial} on the fixture.`,
            },
            `Put the tight reference piece ${tight.serial} on the fixture again.`,
          ),
    evidence: {
      method: "calibrated leak",
      known: { value: leak_m3_s, uncertainty: uncertainty_m3_s, unit: "m3/s" },
    },
    find: (runs, options) => volumeByLeak(runs, { leak_m3_s, uncertainty_m3_s }, options),
  };
}

function bracket(
  without: Plan["mountings"][number],
  added: Plan["mountings"][number],
  again: string,
): Plan["mountings"] {
  return [without, added, { ...without, words: again }];
}

function absolute(uncertainty: Uncertainty, value: number): number {
  return "absolute" in uncertainty ? uncertainty.absolute : uncertainty.relative * value;
}

function studyOptions({ file, step }: Stage, { watch_s, leakKind }: VolumeArguments): VolumeStudyOptions {
  const gauge = file.knowledge.channels.get("leak_pressure");
  const thermometer = file.knowledge.channels.get("ambient_temperature");
  if (!gauge || !thermometer) throw new Error("The station states no uncertainty for its leak gauge.");
  return {
    testPressure_Pa: step.testPressure_Pa,
    from_s: watch_s / 2,
    gaugeSlopeUncertainty: gauge.relative,
    ambientTemperatureUncertainty_K: thermometer.absolute,
    leakKind,
  };
}

function volumeRun({ started_s, t_s, pressure_Pa, ambient }: DecayRun): VolumeRun {
  return {
    started_s,
    t_s,
    pressure_Pa,
    ambientPressure_Pa: ambient.pressure_Pa,
    ambientTemperature_K: ambient.temperature_K,
  };
}

const L_PER_M3 = 1000;

function volumeFields(found: FoundVolume, evidence: VolumeEvidence): Readonly<Record<string, unknown>> {
  return {
    kind: "volume",
    value: found.volume_m3 * L_PER_M3,
    unit: "L",
    uncertainty: found.uncertainty_m3 * L_PER_M3,
    expanded_uncertainty: 2 * found.uncertainty_m3 * L_PER_M3,
    method: evidence.method,
    runs: evidence.runs,
    loss_without_Pa_s: found.lossWithout_Pa_s,
    loss_with_Pa_s: found.lossWith_Pa_s,
    budget: found.budget.map(({ component, estimate, uncertainty, unit, contribution, share }) => ({
      component,
      estimate,
      uncertainty,
      unit,
      contribution_L: contribution * L_PER_M3,
      share,
    })),
  };
}

/** Lines for people; the number after +- is the expanded uncertainty (k = 2). */
function volumeLines({ model }: Stage, found: FoundVolume, evidence: VolumeEvidence): string[] {
  const { value, uncertainty } = formatMeasured({
    value: found.volume_m3 * L_PER_M3,
    uncertainty: 2 * found.uncertainty_m3 * L_PER_M3,
  });
  const slope = (loss_Pa_s: number) => formatNumber(loss_Pa_s, { significant: 3 });
  const what = evidence.method === "added volume" ? "the added volume" : "the known leak";
  return [
    `${model.limits.model} and fixture: ${value} +- ${uncertainty} L, by ${what}, from ${evidence.runs} runs.`,
    `  Pressure lost: ${slope(found.lossWithout_Pa_s)} Pa/s without ${what}, ${slope(found.lossWith_Pa_s)} Pa/s with it`,
    ...[...found.budget]
      .filter(({ share }) => share >= LEAST_SHARE)
      .sort((a, b) => b.share - a.share)
      .map(
        ({ component, share, contribution }) =>
          `  ${component.padEnd(44)} ${formatNumber(contribution * L_PER_M3, { significant: 2 })} L  (${(100 * share).toFixed(0)} %)`,
      ),
  ];
}

/** Smaller parts of the variance are in the file. */
const LEAST_SHARE = 0.01;
