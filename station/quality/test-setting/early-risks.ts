import { chancesWithLooks, type LastLook, type Look, type VerdictChances } from "./early-stops.ts";
import type { PopulationPart } from "./global-risk.ts";

export interface EarlyRisks {
  /** Chance that a unit of this true value is accepted, by a look or at the end. */
  readonly accepted: (truth: number) => number;
  /** Of the measuring time, to the look at which half of the good units are decided; null where the end comes first. */
  readonly usualAfter_s: number | null;
  /** Part of the good units that a look decides. */
  readonly decided: number;
}

/** Where chances are worked out: by halves of the last error about the acceptance limit, and by parts of the limit. */
const FINE = Array.from({ length: 25 }, (_, i) => (i - 12) / 2);
const COARSE = Array.from({ length: 29 }, (_, i) => (i - 4) / 8);

interface Node {
  readonly truth: number;
  readonly chances: VerdictChances;
}

/** Verdicts with looks over all true values, interpolated between some fifty of them by their logarithms. */
export function earlyRisks(
  looks: readonly Look[],
  last: LastLook,
  population: readonly PopulationPart[],
  limit: number,
): EarlyRisks {
  const chancesAt = chancesWithLooks(looks, last);
  const centre = last.accepts - last.bias;
  const truths = [...FINE.map((sds) => centre + sds * last.sd), ...COARSE.map((part) => part * limit)];
  const nodes = truths.sort((a, b) => a - b).map((truth): Node => ({ truth, chances: chancesAt(truth) }));
  const good = population.filter(({ mean }) => mean <= limit);
  const stops = looks.map(() => 0);
  let all = 0;
  for (const { mean, weight } of good) {
    all += weight;
    const { early } = nearest(nodes, mean).chances;
    for (const [k, stop] of early.entries()) stops[k] = (stops[k] ?? 0) + weight * stop;
  }
  let sum = 0;
  let usualAfter_s: number | null = null;
  for (const [k, stop] of stops.entries()) {
    sum += stop;
    if (usualAfter_s === null && all > 0 && sum >= all / 2) usualAfter_s = looks[k]?.after_s ?? null;
  }
  return {
    accepted: (truth) => acceptedAt(nodes, truth),
    usualAfter_s,
    decided: all > 0 ? Math.min(1, sum / all) : 0,
  };
}

function acceptedAt(nodes: readonly Node[], truth: number): number {
  const above = firstFrom(nodes, truth);
  const a = nodes[Math.max(0, above - 1)];
  const b = nodes[Math.min(nodes.length - 1, above)];
  if (!a || !b) throw new RangeError("There are no chances.");
  const part = b.truth > a.truth ? Math.min(1, Math.max(0, (truth - a.truth) / (b.truth - a.truth))) : 0;
  const pass = mixed(a.chances.pass, b.chances.pass, part);
  const fail = mixed(a.chances.fail, b.chances.fail, part);
  return pass < fail ? pass : 1 - fail;
}

function mixed(a: number, b: number, part: number): number {
  return Math.exp((1 - part) * Math.log(Math.max(a, 1e-300)) + part * Math.log(Math.max(b, 1e-300)));
}

function nearest(nodes: readonly Node[], truth: number): Node {
  const above = firstFrom(nodes, truth);
  const a = nodes[Math.max(0, above - 1)];
  const b = nodes[Math.min(nodes.length - 1, above)];
  if (!a || !b) throw new RangeError("There are no chances.");
  return truth - a.truth < b.truth - truth ? a : b;
}

/** Place of the first node that is not below. */
function firstFrom(nodes: readonly Node[], truth: number): number {
  let [low, high] = [0, nodes.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if ((nodes[middle]?.truth ?? 0) < truth) low = middle + 1;
    else high = middle;
  }
  return low;
}
