import { basename, dirname, resolve } from "node:path";
import type { Calibration, CalibrationFacts, VolumeEvidence } from "../../calibration-file.ts";
import { saveCalibration } from "../../calibrations-in-force.ts";
import type { Reason } from "../../cycle/reason.ts";
import { OutputLost } from "../../lost-output.ts";
import type { SettleCalibration, VolumeCalibration } from "../../measure/leak/settle-calibration.ts";
import { softwareName } from "../../package-root.ts";
import type { DecayRun } from "../../watch-decay.ts";
import type { Stage } from "./stage.ts";

/** Lines as the study goes and at its end; with json one object at the end. */
export class StudyReport {
  readonly #asJson: boolean;

  constructor({ asJson }: { readonly asJson: boolean }) {
    this.#asJson = asJson;
  }

  /** Before anything moves. */
  cautions({ plant, step }: Stage, runs: number): void {
    if (plant) {
      this.#line("This station is simulated: nothing moves.");
      return;
    }
    const does = step.testPressure_Pa < 0 ? "evacuated" : "pressurised";
    process.stderr.write(
      `The body is ${does} ${runs} times by itself: it can collapse or burst. Guard closed, eye protection on, hands out.\n` +
        "Local safety rules come first; this software is not the safety function. Ctrl-C ends the study, outputs safe.\n",
    );
  }

  run(piece: string, { fill_s, t_s }: DecayRun, number: number, of: number): void {
    const watched_s = t_s[t_s.length - 1] ?? 0;
    this.#line(
      `${piece}  run ${number} of ${of}: filled in ${fill_s.toFixed(1)} s, watched for ${watched_s.toFixed(0)} s`,
    );
  }

  /** The answer is no. */
  no(sentence: string): void {
    process.stderr.write(`${sentence}\n`);
  }

  /** What was found, and where it was saved to. */
  found(
    fields: Readonly<Record<string, unknown>>,
    lines: readonly string[],
    stage: Stage,
    path: string,
  ): void {
    if (this.#asJson) {
      process.stdout.write(`${JSON.stringify({ ...fields, file: path })}\n`);
      return;
    }
    for (const line of lines) this.#line(line);
    this.#line(`Saved: ${path}`);
    this.#line(
      isBeside(path, stage)
        ? IN_FORCE
        : `To put it in force, run it again with --out ${dirname(stage.stationPath)}: nothing there is overwritten, as a copy might.`,
    );
  }

  #line(text: string): void {
    if (!this.#asJson) process.stdout.write(`${text}\n`);
  }
}

const IN_FORCE = "The station uses it from its next start; earlier ones are kept.";

/** @returns the exit code of a study that was stopped */
export function sayStopped({ stop }: Stage, reasons: readonly Reason[]): 2 {
  if (stop.reason instanceof OutputLost) {
    throw new OutputLost(stop.reason.cause, "The study was ended, outputs safe. Nothing was saved.");
  }
  const why = reasons.length > 0 ? reasons.map(({ sentence }) => sentence) : ["The program was stopped."];
  process.stderr.write(`The study has ended, and nothing was saved. ${why.join(" ")}\n`);
  return 2;
}

/**
 * Writes what a study found.
 * @returns the path of the new file
 * @throws UsageError, RecordError
 */
export async function saved(
  stage: Stage,
  { who }: { readonly who: string | null },
  pieces: readonly string[],
  found:
    | { readonly kind: "settle"; readonly values: SettleCalibration }
    | { readonly kind: "volume"; readonly values: VolumeCalibration; readonly evidence: VolumeEvidence },
): Promise<string> {
  const { limits } = stage.model;
  const facts: CalibrationFacts = {
    station: stage.file.name,
    model: limits.model,
    at: new Date(stage.clock.wall_ms()).toISOString(),
    who,
    testPressure_Pa: stage.step.testPressure_Pa,
    pieces,
    leakGauge: stage.leakGauge,
    limitFile: {
      path: basename(limits.source.path),
      revision: limits.revision,
      sha256: limits.source.sha256,
    },
    software: softwareName(),
    simulated: stage.isSimulated,
  };
  const calibration: Calibration = { ...found, facts };
  return saveCalibration(calibration, stage.stationPath, stage.folder);
}

function isBeside(path: string, { stationPath }: Stage): boolean {
  return dirname(resolve(path)) === dirname(resolve(stationPath));
}
