import { describe, expect, it } from "vitest";
import {
  fitSeparable,
  type NonlinearColumn,
  type SeparableFit,
  type SeparableOptions,
} from "../../station/measure/fit/variable-projection.ts";

// NIST Statistical Reference Datasets (itl.nist.gov/div898/strd), nonlinear and linear regression: data, starting values
// and certified values. Only the nonlinear parameters need a start here. Norris is in norris.test.ts.

/** Certified as printed by NIST: parameters in the order of its file, their standard deviations, residual sum of squares. */
interface Certified {
  readonly parameters: readonly number[];
  readonly deviations: readonly number[];
  readonly squares: number;
}

/** Agreement in decimal digits. */
function digits(found: number, certified: number): number {
  return found === certified ? 16 : -Math.log10(Math.abs(found - certified) / Math.abs(certified));
}

function fewestDigits(found: readonly number[], certified: readonly number[]): number {
  expect(found.length).toBe(certified.length);
  return Math.min(...found.map((value, i) => digits(value, certified[i] ?? Number.NaN)));
}

/** Of these entries of linear, amplitudes, parameters; scaled by the residuals, as NIST does. */
function deviations(fit: SeparableFit, order: readonly number[], n: number): number[] {
  const scatter = Math.sqrt(fit.squares / (n - order.length));
  return order.map((at) => scatter * Math.sqrt(fit.covariance[at]?.[at] ?? Number.NaN));
}

/** exp(-b x). */
function decaying(x: readonly number[], start: number): NonlinearColumn {
  return {
    start,
    fill(b, column, derivative) {
      for (const [i, at] of x.entries()) {
        column[i] = Math.exp(-b * at);
        derivative[i] = -at * Math.exp(-b * at);
      }
    },
  };
}

/** 1 - exp(-b x). */
function saturating(x: readonly number[], start: number): NonlinearColumn {
  return {
    start,
    fill(b, column, derivative) {
      for (const [i, at] of x.entries()) {
        column[i] = -Math.expm1(-b * at);
        derivative[i] = at * Math.exp(-b * at);
      }
    },
  };
}

function ranked(fit: SeparableFit): number[] {
  return fit.parameters.map((_, j) => j).sort((a, b) => (fit.parameters[a] ?? 0) - (fit.parameters[b] ?? 0));
}

/** The certified values have eleven digits; when all agree, the last one's rounding is left. */
const ALL_DIGITS = 10;
/** As near as double arithmetic goes. */
const CLOSE: SeparableOptions = { tolerance: 1e-12 };

const MISRA1A_X = [
  77.6, 114.9, 141.1, 190.8, 239.9, 289, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760,
];
const MISRA1A_Y = [
  10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.4, 75.47, 81.78,
];
const MISRA1A: Certified = {
  parameters: [2.3894212918e2, 5.5015643181e-4],
  deviations: [2.7070075241, 7.2668688436e-6],
  squares: 1.2455138894e-1,
};

describe("NIST StRD Misra1a, y = b1 (1 - exp(-b2 x))", () => {
  it.each([
    [1, 1e-4],
    [2, 5e-4],
  ])("is met to the certified digits from start %i", (_, start) => {
    const fit = fitSeparable(
      Float64Array.from(MISRA1A_Y),
      { linear: [], nonlinear: [saturating(MISRA1A_X, start)] },
      CLOSE,
    );
    expect(fit.converged).toBe(true);
    expect(fewestDigits([...fit.amplitudes, ...fit.parameters], MISRA1A.parameters)).toBeGreaterThan(
      ALL_DIGITS,
    );
    expect(fewestDigits(deviations(fit, [0, 1], 14), MISRA1A.deviations)).toBeGreaterThan(ALL_DIGITS);
    expect(digits(fit.squares, MISRA1A.squares)).toBeGreaterThan(ALL_DIGITS);
  });
});

const MGH17_Y = [
  0.844, 0.908, 0.932, 0.936, 0.925, 0.908, 0.881, 0.85, 0.818, 0.784, 0.751, 0.718, 0.685, 0.658, 0.628,
  0.603, 0.58, 0.558, 0.538, 0.522, 0.506, 0.49, 0.478, 0.467, 0.457, 0.448, 0.438, 0.431, 0.424, 0.42, 0.414,
  0.411, 0.406,
];
const MGH17: Certified = {
  parameters: [3.7541005211e-1, 1.9358469127, -1.4646871366, 1.286753464e-2, 2.2122699662e-2],
  deviations: [2.0723153551e-3, 2.2031669222e-1, 2.2175707739e-1, 4.4861358114e-4, 8.9471996575e-4],
  squares: 5.4648946975e-5,
};

describe("NIST StRD MGH17, y = b1 + b2 exp(-b4 x) + b3 exp(-b5 x)", () => {
  const x = MGH17_Y.map((_, i) => 10 * i);

  it.each([
    [1, [1, 2]],
    [2, [0.01, 0.02]],
  ])("is met to the certified digits from start %i", (_, starts) => {
    const fit = fitSeparable(
      Float64Array.from(MGH17_Y),
      {
        linear: [new Float64Array(x.length).fill(1)],
        nonlinear: starts.map((start) => decaying(x, start)),
      },
      CLOSE,
    );
    const order = ranked(fit);
    const found = [
      ...fit.linear,
      ...order.map((j) => fit.amplitudes[j] ?? Number.NaN),
      ...order.map((j) => fit.parameters[j] ?? Number.NaN),
    ];
    const places = [0, ...order.map((j) => 1 + j), ...order.map((j) => 3 + j)];
    expect(fit.converged).toBe(true);
    expect(fewestDigits(found, MGH17.parameters)).toBeGreaterThan(ALL_DIGITS);
    expect(fewestDigits(deviations(fit, places, x.length), MGH17.deviations)).toBeGreaterThan(ALL_DIGITS);
    expect(digits(fit.squares, MGH17.squares)).toBeGreaterThan(ALL_DIGITS);
  });
});

const LANCZOS_START = [
  [0.3, 5.5, 7.6],
  [0.7, 4.2, 6.3],
] as const;

// biome-ignore format: a data table
const LANCZOS1_Y = [
  2.5134, 2.044333373291, 1.668404436564, 1.366418021208, 1.123232487372, 9.268897180037e-1, 7.679338563728e-1,
  6.388775523106e-1, 5.337835317402e-1, 4.479363617347e-1, 3.77584788435e-1, 3.197393199326e-1, 2.720130773746e-1,
  2.324965529032e-1, 1.996589546065e-1, 1.722704126914e-1, 1.493405660168e-1, 1.300700206922e-1, 1.138119324644e-1,
  1.000415587559e-1, 8.83320908454e-2, 7.83354401935e-2, 6.976693743449e-2, 6.239312536719e-2,
];

/** The three sets are one curve, generated and rounded to fourteen, six and five digits. */
function rounded(toDigits: (y: number, i: number) => string): number[] {
  return LANCZOS1_Y.map((y, i) => Number(toDigits(y, i)));
}
const LANCZOS2_Y = rounded((y) => y.toPrecision(6));
const LANCZOS3_Y = rounded((y) => y.toFixed(4));

const LANCZOS1: Certified = {
  parameters: [9.5100000027e-2, 1.0000000001, 8.6070000013e-1, 3.0000000002, 1.5575999998, 5.0000000001],
  deviations: [
    5.3347304234e-11, 2.7473038179e-10, 1.3576062225e-10, 3.3308253069e-10, 1.8815731448e-10,
    1.1057500538e-10,
  ],
  squares: 1.4307867721e-25,
};
const LANCZOS2: Certified = {
  parameters: [9.6251029939e-2, 1.0057332849, 8.6424689056e-1, 3.0078283915, 1.5529016879, 5.00287981],
  deviations: [
    6.6770575477e-4, 3.3989646176e-3, 1.7185846685e-3, 4.1707005856e-3, 2.3744381417e-3, 1.3958787284e-3,
  ],
  squares: 2.2299428125e-11,
};
const LANCZOS3: Certified = {
  parameters: [8.6816414977e-2, 9.5498101505e-1, 8.4400777463e-1, 2.9515951832, 1.5825685901, 4.9863565084],
  deviations: [
    1.7197908859e-2, 9.7041624475e-2, 4.1488663282e-2, 1.0766312506e-1, 5.8371576281e-2, 3.4436403035e-2,
  ],
  squares: 1.6117193594e-8,
};

describe("NIST StRD Lanczos, y = b1 exp(-b2 x) + b3 exp(-b4 x) + b5 exp(-b6 x)", () => {
  const x = LANCZOS1_Y.map((_, i) => i * 0.05);

  function fitLanczos(y: readonly number[], starts: readonly number[]) {
    const fit = fitSeparable(
      Float64Array.from(y),
      { linear: [], nonlinear: starts.map((start) => decaying(x, start)) },
      CLOSE,
    );
    const order = ranked(fit);
    return {
      fit,
      found: order.flatMap((j) => [fit.amplitudes[j] ?? Number.NaN, fit.parameters[j] ?? Number.NaN]),
      deviations: deviations(
        fit,
        order.flatMap((j) => [j, 3 + j]),
        x.length,
      ),
    };
  }

  it.each([
    ["Lanczos2", 1, LANCZOS2_Y, LANCZOS2],
    ["Lanczos2", 2, LANCZOS2_Y, LANCZOS2],
    ["Lanczos3", 1, LANCZOS3_Y, LANCZOS3],
    ["Lanczos3", 2, LANCZOS3_Y, LANCZOS3],
  ] as const)("%s is met to the certified digits from start %i", (_, start, y, certified) => {
    const { fit, found, deviations } = fitLanczos(y, LANCZOS_START[start - 1] ?? []);
    expect(fit.converged).toBe(true);
    expect(fewestDigits(found, certified.parameters)).toBeGreaterThan(ALL_DIGITS);
    expect(fewestDigits(deviations, certified.deviations)).toBeGreaterThan(ALL_DIGITS);
    expect(digits(fit.squares, certified.squares)).toBeGreaterThan(ALL_DIGITS);
  });

  // Its residuals are the fourteenth digit of the data: NIST certifies what takes 500 digits of arithmetic to compute.
  it.each([1, 2])(
    "Lanczos1 is met in all parameters' digits, and in as many of its scatter's as doubles hold, from start %i",
    (start) => {
      const { fit, found, deviations } = fitLanczos(LANCZOS1_Y, LANCZOS_START[start - 1] ?? []);
      expect(fit.converged).toBe(true);
      expect(fewestDigits(found, LANCZOS1.parameters)).toBeGreaterThan(ALL_DIGITS);
      expect(fewestDigits(deviations, LANCZOS1.deviations)).toBeGreaterThan(2);
      expect(digits(fit.squares, LANCZOS1.squares)).toBeGreaterThan(2);
    },
  );
});

// biome-ignore format: a data table
const PONTIUS_Y = [
  0.11019, 0.21956, 0.32949, 0.43899, 0.54803, 0.65694, 0.76562, 0.87487, 0.98292, 1.09146, 1.20001, 1.30822, 1.41599,
  1.52399, 1.63194, 1.73947, 1.84646, 1.95392, 2.06128, 2.16844, 0.11052, 0.22018, 0.32939, 0.43886, 0.54798, 0.65739,
  0.76596, 0.87474, 0.983, 1.0915, 1.20004, 1.30818, 1.41613, 1.52408, 1.63159, 1.73965, 1.84696, 1.95445, 2.06177,
  2.16829,
];

describe("NIST StRD Pontius, y = b0 + b1 x + b2 x^2", () => {
  it("is met to ten digits by the same code without nonlinear columns", () => {
    // Load of a cell: twice from 150,000 to 3,000,000 in steps of 150,000.
    const x = PONTIUS_Y.map((_, i) => 150_000 * ((i % 20) + 1));
    const fit = fitSeparable(Float64Array.from(PONTIUS_Y), {
      linear: [0, 1, 2].map((power) => Float64Array.from(x, (at) => at ** power)),
      nonlinear: [],
    });
    expect(fit.converged).toBe(true);
    expect(
      fewestDigits(fit.linear, [0.673565789473684e-3, 0.732059160401003e-6, -0.316081871345029e-14]),
    ).toBeGreaterThan(10);
    expect(
      fewestDigits(
        deviations(fit, [0, 1, 2], x.length),
        [0.107938612033077e-3, 0.157817399981659e-9, 0.486652849992036e-16],
      ),
    ).toBeGreaterThan(10);
    expect(digits(fit.squares, 0.155761768796992e-5)).toBeGreaterThan(10);
  });
});
