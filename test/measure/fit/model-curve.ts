import { type RandomStream, randomStream } from "../../../sim/random.ts";
import type { DecayKnowledge } from "../../../station/measure/leak/decay-fit.ts";

/** A calibration as the demo's larger body has it, rounded. */
export const KNOWLEDGE: DecayKnowledge = {
  testPressure_Pa: -8000,
  tau_s: 2,
  tauSpread_s: 0.06,
  heat_Pa: 300,
  heatSpread_Pa: 15,
  slow_Pa: 20,
  slowSpread_Pa: 4,
  slowTau_s: 8,
  noise: { white_Pa: 0.6, wander_Pa: 0.25, wanderTau_s: 0.5 },
};

/** The same, known so little that the curve must say it all. */
export function vague(knowledge: DecayKnowledge, factor: number): DecayKnowledge {
  return {
    ...knowledge,
    tauSpread_s: knowledge.tauSpread_s * factor,
    heatSpread_Pa: knowledge.heatSpread_Pa * factor,
    slowSpread_Pa: knowledge.slowSpread_Pa * factor,
  };
}

export interface ModelTruth {
  readonly slope_Pa_s: number;
  readonly tau_s: number;
  readonly heat_Pa: number;
  readonly slow_Pa: number;
}

/** A body drawn from what is known; the logarithm of its time constant is normal, as the fit's prior is. */
export function drawTruth(knowledge: DecayKnowledge, slope_Pa_s: number, random: RandomStream): ModelTruth {
  return {
    slope_Pa_s,
    tau_s: knowledge.tau_s * Math.exp((knowledge.tauSpread_s / knowledge.tau_s) * random.normal()),
    heat_Pa: knowledge.heat_Pa + knowledge.heatSpread_Pa * random.normal(),
    slow_Pa: knowledge.slow_Pa + knowledge.slowSpread_Pa * random.normal(),
  };
}

/** Times of n samples, 50 a second from 0.03 s on. */
export function evenTimes(n: number): number[] {
  return Array.from({ length: n }, (_, i) => microseconds(0.03 + 0.02 * i));
}

/** Times that wander by up to 40 % of a spacing either way, with a gap of 25 samples in the middle. */
export function unevenTimes(n: number, random: RandomStream): number[] {
  return Array.from({ length: n }, (_, i) => {
    const missed = i < n / 2 ? 0 : 25;
    return microseconds(0.03 + 0.02 * (i + missed + random.between(-0.4, 0.4)));
  });
}

/** The decay model's curve itself at these times, leak at a constant rate, with the gauge's noise on it. */
export function modelCurve(
  t_s: readonly number[],
  truth: ModelTruth,
  knowledge: DecayKnowledge,
  random: RandomStream,
): { readonly t_s: readonly number[]; readonly pressure_Pa: readonly number[] } {
  const noise = gaugeNoise(t_s, knowledge, random);
  return {
    t_s,
    pressure_Pa: t_s.map(
      (t, i) =>
        knowledge.testPressure_Pa +
        truth.slope_Pa_s * t +
        truth.heat_Pa * Math.exp(-t / truth.tau_s) +
        truth.slow_Pa * Math.exp(-t / knowledge.slowTau_s) +
        (noise[i] ?? 0),
    ),
  };
}

/** White noise and a wandering part, drawn step by step from what each keeps of the one before. */
export function gaugeNoise(
  t_s: readonly number[],
  { noise: { white_Pa, wander_Pa, wanderTau_s } }: Pick<DecayKnowledge, "noise">,
  random: RandomStream,
): number[] {
  let wander = wander_Pa * random.normal();
  let before_s = t_s[0] ?? 0;
  return t_s.map((t) => {
    const keeps = Math.exp(-(t - before_s) / wanderTau_s);
    wander = keeps * wander + wander_Pa * Math.sqrt(1 - keeps * keeps) * random.normal();
    before_s = t;
    return wander + white_Pa * random.normal();
  });
}

export function drawnCurve(
  t_s: readonly number[],
  knowledge: DecayKnowledge,
  slope_Pa_s: number,
  seed: number,
) {
  const random = randomStream(seed, "model curve");
  return modelCurve(t_s, drawTruth(knowledge, slope_Pa_s, random), knowledge, random);
}

function microseconds(t_s: number): number {
  return Math.round(t_s * 1e6) / 1e6;
}
