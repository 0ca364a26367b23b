import fc from "fast-check";
import { describe, expect, it } from "vitest";
import type { UnitProgress } from "../../station/cycle/unit-progress.ts";
import { isLearned, type TimedPhase, timeLeft_s, typicalPhases } from "../../station/screen/time-left.ts";
import { tub } from "./example-state.ts";

const [leak, airflow] = tub.steps;
if (leak?.kind !== "leak" || airflow?.kind !== "airflow") throw new Error("the demo model has both steps");
const [closed, working, open] = airflow.points;

const UNIT: readonly TimedPhase[] = [
  { step: "leak", phase: "rest", seconds: 0.2 },
  { step: "leak", phase: "fill", seconds: 3 },
  { step: "leak", phase: "settle", seconds: 0.3 },
  { step: "leak", phase: "measure", seconds: 6 },
  { step: "leak", phase: "vent", seconds: 1 },
  { step: "airflow", phase: "run_up", seconds: 2 },
  { step: "airflow", phase: "hold", point: "closed", seconds: 1 },
  { step: "airflow", phase: "hold", point: "working", seconds: 1.5 },
  { step: "airflow", phase: "hold", point: "open", seconds: 2 },
  { step: "airflow", phase: "coast", seconds: 4 },
];

/** The whole way of a unit whose phases take these seconds, looked at ten times a second. */
function* wayOf(unit: readonly TimedPhase[]): Generator<UnitProgress> {
  yield { phase: "opening", step: null, point: null, elapsed_s: null };
  yield { phase: "ambient", step: null, point: null, elapsed_s: null };
  for (const { step, phase, point, seconds } of unit) {
    for (let elapsed_s = 0; elapsed_s <= seconds; elapsed_s += 0.1) {
      yield {
        phase: phase as UnitProgress["phase"],
        step: step === "leak" ? (leak ?? null) : (airflow ?? null),
        point: airflowPoint(phase, point),
        elapsed_s,
      };
    }
  }
  yield { phase: "recording", step: null, point: null, elapsed_s: null };
}

function airflowPoint(phase: string, point: string | undefined) {
  const found = [closed, working, open].find((it) => it?.name === point);
  return found ?? (phase === "run_up" ? (closed ?? null) : null);
}

describe("the time left of a test", () => {
  it("is what recent units took, less what has passed", () => {
    const typical = typicalPhases([UNIT, UNIT, UNIT]);
    const inMeasure = { phase: "measure", step: leak, point: null, elapsed_s: 2 } as const;
    expect(timeLeft_s(tub, inMeasure, typical)).toBeCloseTo(4 + 1 + 2 + 1 + 1.5 + 2 + 4 + 0.5, 6);
    const atWorking = { phase: "hold", step: airflow, point: working ?? null, elapsed_s: 1 } as const;
    expect(timeLeft_s(tub, atWorking, typical)).toBeCloseTo(0.5 + 2 + 4 + 0.5, 6);
  });

  it("is what the limit file allows while no unit of the model is known", () => {
    const inVent = { phase: "vent", step: leak, point: null, elapsed_s: 1 } as const;
    const airflow_s =
      airflow.runUpLongest_s +
      airflow.coastLongest_s +
      airflow.points.reduce((sum, { holdLongest_s }) => sum + holdLongest_s, 0);
    expect(timeLeft_s(tub, inVent, typicalPhases([]))).toBeCloseTo(
      leak.ventLongest_s - 1 + airflow_s + 0.5,
      6,
    );
  });

  it("is not known where nothing runs, nor on the way after a gross leak", () => {
    expect(timeLeft_s(tub, null, new Map())).toBeNull();
    const gross = { phase: "gross", step: leak, point: null, elapsed_s: 1 } as const;
    expect(timeLeft_s(tub, gross, new Map())).toBeNull();
  });

  it("is said to be learned only when units have gone through every phase", () => {
    expect(isLearned(tub, typicalPhases([]))).toBe(false);
    expect(isLearned(tub, typicalPhases([UNIT.slice(0, 5)]))).toBe(false);
    expect(isLearned(tub, typicalPhases([UNIT]))).toBe(true);
  });

  it("is not told while the fixture is made safe, which takes as long as it takes", () => {
    const safing = { phase: "safing", step: null, point: null, elapsed_s: null } as const;
    expect(timeLeft_s(tub, safing, typicalPhases([UNIT]))).toBeNull();
  });

  it("takes one slow unit for what it is", () => {
    const slow = UNIT.map((it) => ({ ...it, seconds: it.seconds * 10 }));
    expect(typicalPhases([slow, UNIT, UNIT])).toEqual(typicalPhases([UNIT]));
  });

  it("never falls below zero and never rises, however long the phases of the unit take", () => {
    const factor = fc.double({ min: 0.1, max: 4, noNaN: true });
    fc.assert(
      fc.property(
        fc.array(factor, { minLength: UNIT.length, maxLength: UNIT.length }),
        fc.boolean(),
        (factors, isKnown) => {
          const unit = UNIT.map((it, i) => ({ ...it, seconds: it.seconds * (factors[i] ?? 1) }));
          const typical = isKnown ? typicalPhases([UNIT]) : new Map();
          let before = Number.POSITIVE_INFINITY;
          for (const progress of wayOf(unit)) {
            if (progress.phase === "recording") continue;
            const left = timeLeft_s(tub, progress, typical) ?? Number.NaN;
            expect(left).toBeGreaterThanOrEqual(0);
            expect(left).toBeLessThanOrEqual(before + 1e-9);
            before = left;
          }
        },
      ),
      { numRuns: 30 },
    );
  });
});
