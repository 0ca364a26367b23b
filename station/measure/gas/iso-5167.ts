import { AIR_HEAT_RATIO } from "./dry-air.ts";

/** Where the pressures beside the plate are taken: in its corners, one inch away, or at D upstream and D/2 downstream. */
export type PressureTaps = "corner" | "flange" | "d-d2";

/** An orifice plate in a round pipe, and the state of the air upstream of it. */
export interface PipeOrifice {
  readonly pipe_m: number;
  readonly bore_m: number;
  readonly taps: PressureTaps;
  readonly drop_Pa: number;
  /** Absolute. */
  readonly upstream_Pa: number;
  readonly density_kg_m3: number;
  readonly viscosity_Pa_s: number;
  /** Discharge coefficient from a calibration, instead of the standard's. */
  readonly coefficient?: number;
}

export interface PipeOrificeFlow {
  readonly massFlow_kg_s: number;
  /** At the density upstream. */
  readonly volumeFlow_m3_s: number;
  readonly coefficient: number;
  readonly expansibility: number;
  /** In the pipe. */
  readonly reynolds: number;
  /**
   * Relative standard uncertainty of the standard's coefficient, which holds only where nothing is `outside`; null where
   * the coefficient came from a calibration.
   */
  readonly uncertainty: number | null;
  /** Relative standard uncertainty of the expansibility. */
  readonly expansibilityUncertainty: number;
  /** Limits of use of the standard that are not kept, a sentence each. */
  readonly outside: readonly string[];
}

const INCH_m = 0.0254;
/** Below this pipe diameter the coefficient has a term of its own, and more uncertainty. */
const SMALL_PIPE_m = 0.07112;

/**
 * Flow of air through an orifice plate in a pipe, m = C / sqrt(1 - b^4) e (pi/4) d^2 sqrt(2 dp rho1), b = d/D. The
 * coefficient hangs on the Reynolds number and so on the flow itself; both are found together.
 * Without a drop nothing flows, and the coefficient told is that of an endless Reynolds number.
 * @throws RangeError unless sizes, pressure, density, viscosity and coefficient are above zero, the bore is narrower than
 * the pipe, and the drop is at least 0 and below the upstream pressure
 * @example pipeOrificeFlow({ pipe_m: 0.1, bore_m: 0.06, taps: "corner", drop_Pa: 1000, upstream_Pa: 101325,
 *   density_kg_m3: 1.2, viscosity_Pa_s: 1.8134e-5 }).volumeFlow_m3_s // 0.075527, with C 0.61217
 * @see ISO 5167-2:2003, 5.3.2 (equations 4 and 5) and 5.3.3; limits of use in 5.3.1 (from memory)
 */
export function pipeOrificeFlow(orifice: PipeOrifice): PipeOrificeFlow {
  requirePipeOrifice(orifice);
  const { pipe_m, bore_m, taps, drop_Pa, upstream_Pa, density_kg_m3, viscosity_Pa_s } = orifice;
  const beta = bore_m / pipe_m;
  const expansibility = pipeExpansibility(beta, (upstream_Pa - drop_Pa) / upstream_Pa);
  const perCoefficient_kg_s =
    (expansibility / Math.sqrt(1 - beta ** 4)) *
    (Math.PI / 4) *
    bore_m ** 2 *
    Math.sqrt(2 * drop_Pa * density_kg_m3);
  const reynoldsOf = (coefficient: number) =>
    (4 * coefficient * perCoefficient_kg_s) / (Math.PI * pipe_m * viscosity_Pa_s);
  const coefficient =
    orifice.coefficient ??
    (drop_Pa === 0
      ? readerHarrisGallagher({ pipe_m, beta, taps, reynolds: Number.POSITIVE_INFINITY })
      : consistentCoefficient((guess) =>
          readerHarrisGallagher({ pipe_m, beta, taps, reynolds: reynoldsOf(guess) }),
        ));
  const reynolds = reynoldsOf(coefficient);
  const massFlow_kg_s = coefficient * perCoefficient_kg_s;
  return {
    massFlow_kg_s,
    volumeFlow_m3_s: massFlow_kg_s / density_kg_m3,
    coefficient,
    expansibility,
    reynolds,
    uncertainty: orifice.coefficient === undefined ? coefficientUncertainty(pipe_m, beta, reynolds) : null,
    expansibilityUncertainty: (0.035 * drop_Pa) / (AIR_HEAT_RATIO * upstream_Pa) / 2,
    outside: limitsNotKept(orifice, reynolds),
  };
}

export interface PlateInPipe {
  readonly pipe_m: number;
  /** Bore over pipe diameter. */
  readonly beta: number;
  readonly taps: PressureTaps;
  readonly reynolds: number;
}

/**
 * Discharge coefficient by Reader-Harris and Gallagher (1998).
 * @param plate the Reynolds number is the pipe's
 * @example readerHarrisGallagher({ pipe_m: 0.1, beta: 0.5, taps: "corner", reynolds: 1e5 }) // 0.606873
 * @see ISO 5167-2:2003 equation 4
 */
export function readerHarrisGallagher({ pipe_m, beta, taps, reynolds }: PlateInPipe): number {
  const [l1, l2] = tapDistances(taps, pipe_m);
  const dam = (2 * l2) / (1 - beta);
  const a = ((19_000 * beta) / reynolds) ** 0.8;
  const b4 = beta ** 4;
  return (
    0.5961 +
    0.0261 * beta ** 2 -
    0.216 * beta ** 8 +
    0.000521 * ((1e6 * beta) / reynolds) ** 0.7 +
    (0.0188 + 0.0063 * a) * beta ** 3.5 * (1e6 / reynolds) ** 0.3 +
    ((0.043 + 0.08 * Math.exp(-10 * l1) - 0.123 * Math.exp(-7 * l1)) * (1 - 0.11 * a) * b4) / (1 - b4) -
    0.031 * (dam - 0.8 * dam ** 1.1) * beta ** 1.3 +
    (pipe_m < SMALL_PIPE_m ? 0.011 * (0.75 - beta) * (2.8 - pipe_m / INCH_m) : 0)
  );
}

/** Distances of the taps from the plate's upstream and downstream face, in pipe diameters. */
function tapDistances(taps: PressureTaps, pipe_m: number): readonly [upstream: number, downstream: number] {
  if (taps === "corner") return [0, 0];
  if (taps === "flange") return [INCH_m / pipe_m, INCH_m / pipe_m];
  return [1, 0.47];
}

/**
 * How much less air passes the plate than an incompressible fluid would: 1 - (0.351 + 0.256 b^4 + 0.93 b^8)
 * (1 - (p2/p1)^(1/k)).
 * @param ratio downstream over upstream pressure, absolute; the standard means at least 0.75
 * @example pipeExpansibility(0.5, 0.98) // 0.99469
 * @see ISO 5167-2:2003 equation 5
 */
export function pipeExpansibility(beta: number, ratio: number, heatRatio = AIR_HEAT_RATIO): number {
  return 1 - (0.351 + 0.256 * beta ** 4 + 0.93 * beta ** 8) * (1 - ratio ** (1 / heatRatio));
}

/**
 * The coefficient that gives the flow it was taken at. It falls with the flow, at the slowest flows faster than in
 * proportion, where plain substitution would swing ever wider: half-way steps of its logarithm settle everywhere.
 */
function consistentCoefficient(coefficientAt: (guess: number) => number): number {
  let guess = 0.6;
  for (let i = 0; i < 200; i++) {
    const next = Math.sqrt(guess * coefficientAt(guess));
    if (Math.abs(next / guess - 1) < 1e-14) return next;
    guess = next;
  }
  return guess;
}

/** Relative standard uncertainty: half of what the standard gives. @see ISO 5167-2:2003, 5.3.3.1 (from memory) */
function coefficientUncertainty(pipe_m: number, beta: number, reynolds: number): number {
  let expanded_percent = 0.5;
  if (beta < 0.2) expanded_percent = 0.7 - beta;
  else if (beta > 0.6) expanded_percent = 1.667 * beta - 0.5;
  if (pipe_m < SMALL_PIPE_m) expanded_percent += 0.9 * (0.75 - beta) * (2.8 - pipe_m / INCH_m);
  if (beta > 0.5 && reynolds < 10_000) expanded_percent += 0.5;
  return expanded_percent / 100 / 2;
}

/**
 * What of the standard's limits of use the sizes of a plate do not keep, a sentence each.
 * @example plateLimitsNotKept({ pipe_m: 0.04, bore_m: 0.02 }) // ["ISO 5167-2 holds for pipes of 50 mm to 1 m, ..."]
 * @see ISO 5167-2:2003, 5.3.1 (from memory)
 */
export function plateLimitsNotKept({ pipe_m, bore_m }: Pick<PipeOrifice, "pipe_m" | "bore_m">): string[] {
  const beta = bore_m / pipe_m;
  const outside: string[] = [];
  if (bore_m < 0.0125)
    outside.push(`ISO 5167-2 needs a bore of at least 12.5 mm, this one has ${mm(bore_m)}.`);
  if (pipe_m < 0.05 || pipe_m > 1)
    outside.push(`ISO 5167-2 holds for pipes of 50 mm to 1 m, this one has ${mm(pipe_m)}.`);
  if (beta < 0.1 || beta > 0.75) {
    outside.push(`ISO 5167-2 holds for a bore of 0.10 to 0.75 of the pipe, this one has ${beta.toFixed(3)}.`);
  }
  return outside;
}

function limitsNotKept(orifice: PipeOrifice, reynolds: number): string[] {
  const { pipe_m, bore_m, taps, drop_Pa, upstream_Pa } = orifice;
  const least = leastReynolds(pipe_m, bore_m / pipe_m, taps);
  const ratio = (upstream_Pa - drop_Pa) / upstream_Pa;
  const outside = plateLimitsNotKept(orifice);
  if (reynolds < least) {
    outside.push(
      `ISO 5167-2 needs a Reynolds number of at least ${least.toFixed(0)} in the pipe, there is ${reynolds.toFixed(0)}.`,
    );
  }
  if (ratio < 0.75) {
    outside.push(
      `ISO 5167-2 needs at least 0.75 of the upstream pressure behind the plate, there is ${ratio.toFixed(3)}.`,
    );
  }
  return outside;
}

function leastReynolds(pipe_m: number, beta: number, taps: PressureTaps): number {
  if (taps === "flange") return Math.max(5000, 170 * beta ** 2 * (pipe_m * 1000));
  return beta > 0.56 ? 16_000 * beta ** 2 : 5000;
}

function mm(length_m: number): string {
  return `${Number((length_m * 1000).toPrecision(4))} mm`;
}

function requirePipeOrifice(orifice: PipeOrifice): void {
  const { pipe_m, bore_m, drop_Pa, upstream_Pa, density_kg_m3, viscosity_Pa_s, coefficient = 1 } = orifice;
  if (!(upstream_Pa > 0 && density_kg_m3 > 0 && viscosity_Pa_s > 0 && coefficient > 0)) {
    throw new RangeError("An orifice plate needs a pressure, density, viscosity and coefficient above zero.");
  }
  if (!(bore_m > 0 && bore_m < pipe_m)) {
    throw new RangeError(`A bore of ${bore_m} m can't be in a pipe of ${pipe_m} m.`);
  }
  if (!(drop_Pa >= 0 && drop_Pa < upstream_Pa)) {
    throw new RangeError(`Air of ${upstream_Pa} Pa absolute can't flow by a pressure drop of ${drop_Pa} Pa.`);
  }
}
