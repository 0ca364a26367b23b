import { z } from "zod";
import { FileProblems, readCheckedYaml } from "../limits/checked-yaml.ts";
import type { SettleCalibration, VolumeCalibration } from "./measure/leak/settle-calibration.ts";

export type CalibrationKind = "settle" | "volume";

/** What every calibration says of how it came about. */
export interface CalibrationFacts {
  readonly station: string;
  readonly model: string;
  /** When it was made; it is in force from then on. */
  readonly at: string;
  readonly who: string | null;
  readonly testPressure_Pa: number;
  /** Bodies it was made on, by serial. */
  readonly pieces: readonly string[];
  readonly leakGauge: { readonly name: string; readonly profile: string; readonly identity: string };
  readonly limitFile: { readonly path: string; readonly revision: number; readonly sha256: string };
  readonly software: string;
  readonly simulated: boolean;
}

/** How a volume was found, for whoever doubts it. */
export interface VolumeEvidence {
  readonly method: "calibrated leak" | "added volume";
  /** What was known beforehand, in SI: the leak at the house reference, or the volume that was added. */
  readonly known: { readonly value: number; readonly uncertainty: number; readonly unit: "m3/s" | "m3" };
  readonly runs: number;
  readonly watched_s: number;
  readonly budget: readonly {
    readonly component: string;
    readonly estimate: number;
    readonly uncertainty: number;
    readonly unit: string;
    readonly sensitivity: number;
    readonly contribution_m3: number;
  }[];
}

export type Calibration =
  | { readonly kind: "settle"; readonly facts: CalibrationFacts; readonly values: SettleCalibration }
  | {
      readonly kind: "volume";
      readonly facts: CalibrationFacts;
      readonly values: VolumeCalibration;
      readonly evidence: VolumeEvidence;
    };

/** Values are kept to this many digits: far more than any of them is known to. */
const DIGITS = 8;

const positive = z.number().positive();
const spread = z.number().nonnegative();

const common = {
  drumtight: z.literal("calibration/1"),
  station: z.string().min(1),
  model: z.string().min(1),
  at: z.iso.datetime("a date and time like 2026-01-05T05:55:00.000Z"),
  who: z.string().min(1).nullable(),
  test_pressure_Pa: z.number().refine((value) => value !== 0, { error: () => "a pressure other than zero" }),
  pieces: z.array(z.string().min(1)).min(1),
  leak_gauge: z.strictObject({ name: z.string().min(1), profile: z.string().min(1), identity: z.string() }),
  limit_file: z.strictObject({
    path: z.string().min(1),
    revision: z.int().positive(),
    sha256: z.string().regex(/^[0-9a-f]{64}$/),
  }),
  software: z.string().min(1),
  simulated: z.boolean(),
};

/** A time constant longer than this part of the watching time was not seen to its end. */
const MOST_TAU_OF_WATCH = 1 / 3;

const settleValues = z.strictObject({
  fill_s: positive,
  tau_s: positive,
  tau_spread_s: positive,
  heat_Pa: z.number(),
  heat_spread_Pa: positive,
  slow_Pa: z.number(),
  slow_spread_Pa: positive,
  slow_tau_s: positive,
  background_Pa_s: z.number(),
  background_uncertainty_Pa_s: positive,
  noise: z.strictObject({ white_Pa: positive, wander_Pa: spread, wander_tau_s: positive }),
  mean_curve: z
    .strictObject({ t_s: z.array(spread).min(2), pressure_Pa: z.array(z.number()).min(2) })
    .refine((curve) => curve.t_s.length === curve.pressure_Pa.length, {
      error: () => "as many pressures as times",
    })
    .refine(({ t_s }) => t_s.every((t, i) => i === 0 || t > (t_s[i - 1] ?? t)), {
      error: () => "times that rise",
    }),
  runs: z.int().positive(),
  watched_s: positive,
});

const settle = settleValues
  .refine(({ tau_s, watched_s }) => tau_s < MOST_TAU_OF_WATCH * watched_s, {
    path: ["tau_s"],
    error: () => "less than a third of watched_s",
  })
  .refine(({ tau_s, tau_spread_s }) => tau_spread_s < tau_s, {
    path: ["tau_spread_s"],
    error: () => "less than tau_s",
  });

const volume = z.strictObject({
  volume_m3: positive,
  uncertainty_m3: positive,
  method: z.enum(["calibrated leak", "added volume"]),
  known: z.strictObject({ value: positive, uncertainty: spread, unit: z.enum(["m3/s", "m3"]) }),
  runs: z.int().positive(),
  watched_s: positive,
  budget: z.array(
    z.strictObject({
      component: z.string(),
      estimate: z.number(),
      uncertainty: spread,
      unit: z.string(),
      sensitivity: z.number(),
      contribution_m3: spread,
    }),
  ),
});

const calibrationFileSchema = z.discriminatedUnion("kind", [
  z.strictObject({ ...common, kind: z.literal("settle"), settle }),
  z.strictObject({ ...common, kind: z.literal("volume"), volume }),
]);

type CalibrationFile = z.infer<typeof calibrationFileSchema>;

/**
 * @param path named in every problem
 * @throws FileProblems with every mistake in it
 */
export function readCalibrationFile(path: string, text: string): Calibration {
  requireJson(path, text);
  const file = readCheckedYaml(path, text, calibrationFileSchema);
  const facts = factsOf(file);
  if (file.kind === "volume") {
    const { volume_m3, uncertainty_m3, ...evidence } = file.volume;
    return { kind: "volume", facts, values: { volume_m3, uncertainty_m3 }, evidence };
  }
  const { settle: found } = file;
  return {
    kind: "settle",
    facts,
    values: {
      testPressure_Pa: file.test_pressure_Pa,
      fill_s: found.fill_s,
      tau_s: found.tau_s,
      tauSpread_s: found.tau_spread_s,
      heat_Pa: found.heat_Pa,
      heatSpread_Pa: found.heat_spread_Pa,
      slow_Pa: found.slow_Pa,
      slowSpread_Pa: found.slow_spread_Pa,
      slowTau_s: found.slow_tau_s,
      background_Pa_s: found.background_Pa_s,
      backgroundUncertainty_Pa_s: found.background_uncertainty_Pa_s,
      noise: {
        white_Pa: found.noise.white_Pa,
        wander_Pa: found.noise.wander_Pa,
        wanderTau_s: found.noise.wander_tau_s,
      },
      meanCurve: found.mean_curve,
      runs: found.runs,
      watched_s: found.watched_s,
    },
  };
}

/** YAML would read most of a broken JSON file in its own way, and complain in its own words. */
function requireJson(path: string, text: string): void {
  try {
    JSON.parse(text);
  } catch (error) {
    const why = error instanceof Error ? error.message : String(error);
    const position = Number(/at position (\d+)/.exec(why)?.[1] ?? text.length);
    const before = text.slice(0, position).split("\n");
    const place = { line: before.length, column: (before[before.length - 1] ?? "").length + 1 };
    const found = `broken JSON: ${why.replace(/ (?:in JSON )?at position.*$/s, "")}`;
    throw new FileProblems([
      { file: path, ...place, path: "", found, expected: "the JSON of a calibration" },
    ]);
  }
}

/** @returns the text of the calibration's file, JSON with a list of numbers on one line */
export function calibrationText(calibration: Calibration): string {
  const { facts } = calibration;
  const file: CalibrationFile = {
    drumtight: "calibration/1",
    ...(calibration.kind === "settle"
      ? { kind: "settle", ...commonOf(facts), settle: settleOf(calibration.values) }
      : {
          kind: "volume",
          ...commonOf(facts),
          volume: { ...calibration.values, ...volumeOf(calibration.evidence) },
        }),
  };
  const text = JSON.stringify(file, (_, value) => (typeof value === "number" ? rounded(value) : value), 2);
  return `${text.replace(/\[[\s\d.,eE+-]*\]/g, (list) => list.replace(/\s+/g, " "))}\n`;
}

function factsOf(file: CalibrationFile): CalibrationFacts {
  return {
    station: file.station,
    model: file.model,
    at: file.at,
    who: file.who,
    testPressure_Pa: file.test_pressure_Pa,
    pieces: file.pieces,
    leakGauge: file.leak_gauge,
    limitFile: file.limit_file,
    software: file.software,
    simulated: file.simulated,
  };
}

function commonOf(
  facts: CalibrationFacts,
): Omit<CalibrationFile, "drumtight" | "kind" | "settle" | "volume"> {
  return {
    station: facts.station,
    model: facts.model,
    at: facts.at,
    who: facts.who,
    test_pressure_Pa: facts.testPressure_Pa,
    pieces: [...facts.pieces],
    leak_gauge: { ...facts.leakGauge },
    limit_file: { ...facts.limitFile },
    software: facts.software,
    simulated: facts.simulated,
  };
}

function settleOf(values: SettleCalibration): z.infer<typeof settle> {
  return {
    fill_s: values.fill_s,
    tau_s: values.tau_s,
    tau_spread_s: values.tauSpread_s,
    heat_Pa: values.heat_Pa,
    heat_spread_Pa: values.heatSpread_Pa,
    slow_Pa: values.slow_Pa,
    slow_spread_Pa: values.slowSpread_Pa,
    slow_tau_s: values.slowTau_s,
    background_Pa_s: values.background_Pa_s,
    background_uncertainty_Pa_s: values.backgroundUncertainty_Pa_s,
    noise: {
      white_Pa: values.noise.white_Pa,
      wander_Pa: values.noise.wander_Pa,
      wander_tau_s: values.noise.wanderTau_s,
    },
    mean_curve: { t_s: [...values.meanCurve.t_s], pressure_Pa: [...values.meanCurve.pressure_Pa] },
    runs: values.runs,
    watched_s: values.watched_s,
  };
}

function volumeOf(evidence: VolumeEvidence): Omit<z.infer<typeof volume>, "volume_m3" | "uncertainty_m3"> {
  return {
    method: evidence.method,
    known: { ...evidence.known },
    runs: evidence.runs,
    watched_s: evidence.watched_s,
    budget: evidence.budget.map((line) => ({ ...line })),
  };
}

/** Pressures of a curve to a tenth of a millipascal would be digits without meaning; all else to eight digits. */
function rounded(value: number): number {
  return Number(value.toPrecision(DIGITS));
}
