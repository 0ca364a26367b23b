import { estimateNoise, type GaugeNoise } from "../measure/fit/gauge-noise.ts";
import { fitLine } from "../measure/fit/line-fit.ts";
import type { Series } from "./watch-figures.ts";

const WINDOW_s = 5;
const LEAST_IN_WINDOW = 10;
const LEAST = 100;

/**
 * White and wandering noise of a gauge at rest: what is left about a straight line in each window of five seconds.
 * @returns null for less than a hundred readings, or where it never moved
 */
export function restingNoise({ t_s, value }: Series): GaugeNoise | null {
  const samples: { t_s: number[]; residual_Pa: number[] }[] = [];
  for (let from = 0; from < t_s.length; ) {
    const end_s = (t_s[from] ?? 0) + WINDOW_s;
    let to = from;
    while (to < t_s.length && (t_s[to] ?? 0) < end_s) to++;
    const times = t_s.slice(from, to);
    const values = value.slice(from, to);
    from = to;
    if (times.length < LEAST_IN_WINDOW) continue;
    const origin_s = times[0] ?? 0;
    const x = times.map((t) => t - origin_s);
    const line = fitLine(x, values);
    samples.push({
      t_s: times,
      residual_Pa: values.map((y, i) => y - line.intercept - line.slope * (x[i] ?? 0)),
    });
  }
  const residuals = samples.flatMap(({ residual_Pa }) => residual_Pa);
  if (residuals.length < LEAST || residuals.every((residual) => residual === 0)) return null;
  return estimateNoise(samples);
}
