import { spawnSync } from "node:child_process";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { z } from "zod";
import {
  type PipeOrifice,
  type PlateInPipe,
  pipeExpansibility,
  pipeOrificeFlow,
  readerHarrisGallagher,
} from "../../station/measure/gas/iso-5167.ts";
import { packageRoot } from "../../station/package-root.ts";

// The orifice plate against python3-fluids (another language, other authors) over the whole range of use of ISO 5167-2.

/** Debian's, where python3-fluids is; another Python on the path may not have it. */
const PYTHON = "/usr/bin/python3";

const TAPS = ["corner", "flange", "d-d2"] as const;
const BETAS = [0.1, 0.2, 0.3, 0.4, 0.5, 0.56, 0.6, 0.7, 0.75];

// Pipes from both sides of 71.12 mm, where the coefficient has a term more.
const COEFFICIENTS: readonly PlateInPipe[] = TAPS.flatMap((taps) =>
  [0.05, 0.071, 0.0712, 0.1, 0.25, 1].flatMap((pipe_m) =>
    BETAS.flatMap((beta) =>
      [5e3, 1e4, 3e4, 1e5, 1e6, 1e7].map((reynolds) => ({ taps, pipe_m, beta, reynolds })),
    ),
  ),
);
const EXPANSIBILITIES = BETAS.flatMap((beta) =>
  [0.75, 0.8, 0.9, 0.97, 0.999].flatMap((ratio) =>
    [1.3, 1.4, 1.667].map((heatRatio) => ({ beta, ratio, heatRatio })),
  ),
);
// All inside the standard's limits: below a Reynolds number of 5000 fluids keeps a term of the paper of 1998 that ISO 5167-2
// does not have.
const FLOWS: readonly PipeOrifice[] = TAPS.flatMap((taps) =>
  [0.05, 0.08, 0.15].flatMap((pipe_m) =>
    [0.25, 0.5, 0.7].flatMap((beta) =>
      [1500, 5000, 20_000].map((drop_Pa) => ({
        taps,
        pipe_m,
        bore_m: beta * pipe_m,
        drop_Pa,
        upstream_Pa: 98_000,
        density_kg_m3: 1.15,
        viscosity_Pa_s: 1.82e-5,
      })),
    ),
  ),
);

const Answer = z.strictObject({
  coefficients: z.array(z.number()).length(COEFFICIENTS.length),
  expansibilities: z.array(z.number()).length(EXPANSIBILITIES.length),
  massFlows_kg_s: z.array(z.number()).length(FLOWS.length),
});

function fluidsAnswer(): z.infer<typeof Answer> {
  const script = join(packageRoot(), "test", "published", "fluids_orifice.py");
  const input = JSON.stringify({
    coefficients: COEFFICIENTS,
    expansibilities: EXPANSIBILITIES,
    flows: FLOWS,
  });
  const { status, stdout, stderr, error } = spawnSync(PYTHON, [script], { input, encoding: "utf8" });
  if (error || status !== 0) {
    throw new Error(`fluids gave no answer (Debian package python3-fluids): ${error ?? stderr}`);
  }
  return Answer.parse(JSON.parse(stdout));
}

/** The largest relative difference of two lists, with where it is. */
function worst<T>(
  cases: readonly T[],
  ours: (given: T) => number,
  theirs: readonly number[],
): [number, T | undefined] {
  let [largest, at]: [number, T | undefined] = [0, undefined];
  for (const [i, given] of cases.entries()) {
    const difference = Math.abs(ours(given) / (theirs[i] ?? Number.NaN) - 1);
    // Not "greater than": a difference that is no number is the worst of all.
    if (!(difference <= largest)) [largest, at] = [difference, given];
  }
  return [largest, at];
}

describe("the orifice plate against python3-fluids", () => {
  const theirs = fluidsAnswer();

  it(`has its coefficient at ${COEFFICIENTS.length} plates: taps, pipes, bores and Reynolds numbers`, () => {
    const [difference, at] = worst(COEFFICIENTS, readerHarrisGallagher, theirs.coefficients);
    expect(difference, JSON.stringify(at)).toBeLessThan(1e-12);
  });

  it(`has its expansibility at ${EXPANSIBILITIES.length} plates: bores, pressure ratios and heat capacity ratios`, () => {
    const ours = (given: (typeof EXPANSIBILITIES)[number]) =>
      pipeExpansibility(given.beta, given.ratio, given.heatRatio);
    const [difference, at] = worst(EXPANSIBILITIES, ours, theirs.expansibilities);
    expect(difference, JSON.stringify(at)).toBeLessThan(1e-12);
  });

  it(`finds the same flow at ${FLOWS.length} pressure drops, coefficient and Reynolds number solved together`, () => {
    const [difference, at] = worst(
      FLOWS,
      (given) => pipeOrificeFlow(given).massFlow_kg_s,
      theirs.massFlows_kg_s,
    );
    expect(difference, JSON.stringify(at)).toBeLessThan(1e-9);
  });
});
