import { describe, expect, it } from "vitest";
import { bodyDesign } from "../../../sim/bodies.ts";
import { type DecayKnowledge, fitDecay } from "../../../station/measure/leak/decay-fit.ts";
import { watchBody } from "./leak-plant.ts";

const MODEL = "POD-4";
const KNOWLEDGE: DecayKnowledge = {
  testPressure_Pa: bodyDesign(MODEL).leakPressure_Pa,
  tau_s: 3.15,
  tauSpread_s: 0.25,
  heat_Pa: 810,
  heatSpread_Pa: 50,
  slow_Pa: 2,
  slowSpread_Pa: 2,
  slowTau_s: 12.5,
  noise: { white_Pa: 0.6, wander_Pa: 0.25, wanderTau_s: 0.5 },
};

describe("how a fitted slope hangs on the exponent of the leak's flow", () => {
  it.each([6, 8, 12, 16])("is told at %f s as fits with one exponent and another differ", (watch_s) => {
    const curve = watchBody({ model: MODEL, seed: 5, leak_m3_s: 1e-6, watch_s });
    const withExponent = (pressureExponent: number) => fitDecay(curve, KNOWLEDGE, { pressureExponent });
    const change = Math.log(withExponent(0.76).slope_Pa_s / withExponent(0.74).slope_Pa_s) / 0.02;
    expect(withExponent(0.75).exponentSensitivity / change).toBeCloseTo(1, 1);
    // The mean of ln(p_test / p) over the curve is far less: a late part tells leak from heat.
    const { pressure_Pa } = curve;
    const logs = pressure_Pa.map((p) => Math.log(KNOWLEDGE.testPressure_Pa / p));
    expect(change).toBeGreaterThan(1.15 * (logs.reduce((sum, log) => sum + log, 0) / logs.length));
  });
});
