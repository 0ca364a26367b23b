/** A look at a growing measurement that may end it; in the unit of the limit. */
export interface Look {
  /** Of the measuring time. */
  readonly after_s: number;
  /** Mean and standard deviation of the estimate's error. */
  readonly bias: number;
  readonly sd: number;
  /** Estimates up to this one end it with a pass; minus infinity where none does. */
  readonly passesTo: number;
  /** Estimates from this one on end it with a fail; infinity where none does. */
  readonly failsFrom: number;
}

/** The measurement at its longest time. */
export interface LastLook {
  readonly bias: number;
  readonly sd: number;
  /** Largest estimate that is accepted. */
  readonly accepts: number;
}

export interface VerdictChances {
  readonly pass: number;
  readonly fail: number;
  /** Of a verdict at each look, in their order, as far as any is left. */
  readonly early: readonly number[];
}

/** Of Z = (estimate - truth) / sd; beyond are less than 1e-15 of all. */
const REACH = 8;
const STEP = 0.1;
const NODES = 2 * Math.round(REACH / STEP) + 1;
/** Kernels farther out than so many of their widths are nought beside any risk that is asked for. */
const KERNEL_REACH = 6;
/** Of Z from look to look: a kernel must not fall between the nodes. Where nothing new is learned, a little too much is counted. */
const MOST_CORRELATED = 0.995;

/** So small a part of the units is nobody. */
const NOBODY = 1e-14;

/** Passage from the look before: Z' = keep Z + spread N(0, 1). */
interface Passage {
  /** Row i: what node i gets, from node `from[i]` on. */
  readonly from: Int32Array;
  readonly rows: readonly Float64Array[];
}

/**
 * What becomes of a unit that is looked at again and again: prepared once for a setting, then asked for each truth.
 *
 * The estimates of a growing least-squares fit are a Brownian motion seen at information 1/sd^2; the density of those that
 * have not been stopped is carried from look to look by the trapezoidal rule.
 * @see Armitage, McPherson and Rowe, J. R. Statist. Soc. A 132 (1969) 235-244; Jennison and Turnbull, Group Sequential
 * Methods (2000), ch. 19 (from memory)
 * @example chancesWithLooks([], { bias: 0, sd: 3, accepts: 55 })(60).pass // 0.0478: normalCdf(-5 / 3)
 */
export function chancesWithLooks(looks: readonly Look[], last: LastLook): (truth: number) => VerdictChances {
  const all = [
    ...looks.map((look) => ({ ...look })),
    { ...last, passesTo: last.accepts, failsFrom: last.accepts },
  ];
  const passages = all
    .slice(1)
    .map(({ sd }, i) => passage(Math.min(sd / (all[i]?.sd ?? sd), MOST_CORRELATED)));
  return (truth) => {
    let density = standardNormal();
    let [pass, fail] = [0, 0];
    const early: number[] = [];
    for (const [k, { bias, sd, passesTo, failsFrom }] of all.entries()) {
      const low = weightsUpTo((passesTo - truth - bias) / sd);
      const high = weightsUpTo((failsFrom - truth - bias) / sd);
      let [passed, failed, left] = [0, 0, 0];
      const going = new Float64Array(NODES);
      for (let i = 0; i < NODES; i++) {
        const here = density[i] as number;
        passed += here * (low[i] as number);
        failed += here * (STEP - (high[i] as number));
        const goesOn = here * ((high[i] as number) - (low[i] as number));
        going[i] = goesOn;
        left += goesOn;
      }
      pass += passed;
      fail += failed;
      const next = passages[k];
      if (!next) break;
      early.push(passed + failed);
      if (left < NOBODY) break;
      density = carried(next, going);
    }
    return { pass, fail, early };
  };
}

function nodeAt(i: number): number {
  return i * STEP - REACH;
}

function standardNormal(): Float64Array {
  return Float64Array.from({ length: NODES }, (_, i) => normalDensity(nodeAt(i)));
}

function normalDensity(z: number): number {
  return Math.exp(-0.5 * z * z) / Math.sqrt(2 * Math.PI);
}

/**
 * Weights of an integral from the first node to any place: trapezoidal to the node before it, with the first correction of Euler
 * and Maclaurin, and a parabola over the rest.
 */
function weightsUpTo(place: number): Float64Array {
  const weights = new Float64Array(NODES);
  if (place <= STEP - REACH) return weights;
  if (place >= REACH - STEP) return weights.fill(STEP);
  const at = (place + REACH) / STEP;
  const node = Math.floor(at);
  const part = at - node;
  weights.fill(STEP, 0, node);
  const slope = part ** 2 / 4 - 1 / 24;
  const bend = part ** 3 / 6;
  weights[node - 1] = STEP * (1 - slope + bend);
  weights[node] = STEP * (0.5 + part - 2 * bend);
  weights[node + 1] = STEP * (slope + bend);
  return weights;
}

function passage(keep: number): Passage {
  const spread = Math.sqrt(1 - keep ** 2);
  const from = new Int32Array(NODES);
  const rows = Array.from({ length: NODES }, (_, i) => {
    const z = nodeAt(i);
    const place = (value: number) => Math.round((value / keep + REACH) / STEP);
    const first = Math.max(0, place(z - KERNEL_REACH * spread));
    const end = Math.min(NODES - 1, place(z + KERNEL_REACH * spread));
    from[i] = first;
    return Float64Array.from(
      { length: Math.max(0, end - first + 1) },
      (_, j) => normalDensity((z - keep * nodeAt(first + j)) / spread) / spread,
    );
  });
  return { from, rows };
}

function carried({ from, rows }: Passage, mass: Float64Array): Float64Array {
  const density = new Float64Array(NODES);
  for (let i = 0; i < NODES; i++) {
    const row = rows[i] as Float64Array;
    const first = from[i] as number;
    let sum = 0;
    for (let j = 0; j < row.length; j++) sum += (row[j] as number) * (mass[first + j] as number);
    density[i] = sum;
  }
  return density;
}
