import { describe, expect, it } from "vitest";
import type { ModelLimits } from "../../limits/model.ts";
import type { StationKnowledge } from "../../station/cycle/characteristic-result.ts";
import { judgeAttempt } from "../../station/cycle/judging.ts";
import { station } from "../made-traveller.ts";
import { held, type Point, sound, standardAir, step } from "./held-points.ts";
import { attemptOn, pod } from "./unit-bench.ts";

const airflowOnly: ModelLimits = {
  ...pod,
  steps: [step],
  characteristics: pod.characteristics.filter(({ measurand }) => measurand !== "leak_rate"),
};
/** Judged at its points alone. */
const withoutCurve: ModelLimits = {
  ...airflowOnly,
  characteristics: airflowOnly.characteristics.filter(({ point }) => point !== undefined),
};
const withoutBores: StationKnowledge = { ...station.knowledge, openings: new Map() };
const byOrifices: StationKnowledge = {
  ...station.knowledge,
  flowFrom: { kind: "plenum", orifices: station.knowledge.openings },
};

function outcome(points: readonly Point[], limits = airflowOnly, knowledge = station.knowledge) {
  const { verdict, reasons } = judgeAttempt(
    attemptOn(limits),
    {
      startedAt_ms: 0,
      start_s: 0,
      ambient: standardAir,
      leaks: [],
      airflow: held(points),
      phases: [],
      fails: [],
      voids: [],
    },
    knowledge,
  );
  return { verdict, code: reasons[0]?.code, said: reasons.map(({ sentence }) => sentence).join(" ") };
}

const [closed, working, open] = sound as readonly [Point, Point, Point];
const at = (point: Point, change: { suction?: number; flow?: number }): Point => [
  change.suction ?? point[0],
  change.flow ?? point[1],
  point[2],
];

describe("readings that contradict themselves are void, neither pass nor fail", () => {
  it("and a sound unit's do not, wherever its flow comes from", () => {
    for (const knowledge of [station.knowledge, withoutBores, byOrifices]) {
      expect(outcome(sound, airflowOnly, knowledge)).toMatchObject({ verdict: "pass" });
    }
  });

  it("where more power comes out than goes in, though nothing else is known", () => {
    const points = [closed, at(working, { flow: 0.09 }), open];
    for (const limits of [airflowOnly, withoutCurve]) {
      const { verdict, code, said } = outcome(points, limits, withoutBores);
      expect([verdict, code]).toEqual(["void", "NOT_TRUSTED"]);
      expect(said).toContain("At working more suction power comes out than input power goes in.");
    }
  });

  it.each([
    [
      "stands shut",
      at(working, { suction: 13_850, flow: 0 }),
      /At working 0 L\/s flow, where 19\.\d L\/s go/,
    ],
    ["is another one", at(working, { flow: 0.0195 }), /At working 19\.5 L\/s flow, where 16 L\/s go/],
  ])("where a shutter %s than the station file says", (_, point, words) => {
    const { verdict, code, said } = outcome([closed, point, open], withoutCurve);
    expect([verdict, code]).toEqual(["void", "NOT_TRUSTED"]);
    expect(said).toMatch(words);
  });

  it("where air flows through a closed inlet", () => {
    const leaking = at(closed, { suction: 9_100, flow: 0.0155 });
    const { verdict, said } = outcome([leaking, working, open]);
    expect(verdict).toBe("void");
    expect(said).toMatch(/At closed 15\.5 L\/s flow, although the inlet is closed there\./);
  });

  it.each([
    ["a flow gauge", station.knowledge],
    ["a flow gauge, its bores not stated", withoutBores],
    ["orifices", byOrifices],
  ])("where the orifice changed nothing, with flow from %s", (_, knowledge) => {
    // Chance decides which of the two is a little higher.
    for (const suction of [13_905, 13_895]) {
      const stuck = [closed, at(working, { suction, flow: 0 }), at(open, { suction, flow: 0 })];
      expect(outcome(stuck, withoutCurve, knowledge)).toMatchObject({ verdict: "void", code: "NOT_TRUSTED" });
    }
  });

  it("where suction rises with flow and the curve is judged, though a value is out of its limits", () => {
    const rising = [closed, at(working, { suction: 6_000 }), at(open, { suction: 6_500, flow: 0.045 })];
    expect(outcome(rising, airflowOnly, withoutBores)).toMatchObject({
      verdict: "void",
      code: "NOT_TRUSTED",
    });
    // A fan may have such a place; where nobody asks for its curve, its points count.
    expect(outcome(rising, withoutCurve, withoutBores).verdict).toBe("fail");
  });

  it("where suction is read as more than a vacuum", () => {
    const tenfold = sound.map((point) => at(point, { suction: 12 * point[0] }));
    for (const knowledge of [station.knowledge, withoutBores, byOrifices]) {
      expect(outcome(tenfold, airflowOnly, knowledge).verdict).toBe("void");
    }
    const { code, said } = outcome(tenfold);
    expect([code, said]).toEqual(["NOT_TRUSTED", expect.stringContaining("more than the room's pressure")]);
  });

  it("where there is a drop over the plate in the pipe at a closed inlet", () => {
    const plate = {
      pipe_m: 0.08,
      pipeUncertainty_m: 1e-4,
      bore_m: 0.048,
      boreUncertainty_m: 1e-5,
      taps: "d-d2" as const,
      coefficient: { value: 0.6075, uncertainty: 0.003 },
    };
    const channels = new Map(station.knowledge.channels);
    channels.set("flow_drop", { absolute: 0.5, relative: 0.002 });
    const byPlate: StationKnowledge = {
      ...station.knowledge,
      channels,
      flowFrom: { kind: "pipe", plate, closed: new Set(["closed"]) },
    };
    const onlyClosed: ModelLimits = {
      ...withoutCurve,
      steps: [{ ...step, points: step.points.slice(0, 1) }],
      characteristics: withoutCurve.characteristics.filter(({ point }) => point === "closed"),
    };
    const dropOf = (drop_Pa: number) =>
      judgeAttempt(
        attemptOn(onlyClosed),
        {
          startedAt_ms: 0,
          start_s: 0,
          ambient: standardAir,
          leaks: [],
          airflow: held([closed]).map((it) => {
            const { t_s, values } = it.samples.suction_Pa;
            return { ...it, samples: { ...it.samples, drop_Pa: { t_s, values: values.map(() => drop_Pa) } } };
          }),
          phases: [],
          fails: [],
          voids: [],
        },
        byPlate,
      );
    expect(dropOf(0.4).verdict).toBe("pass");
    expect(dropOf(20)).toMatchObject({ verdict: "void", reasons: [{ code: "NOT_TRUSTED" }] });
  });

  it("but not where a pinhole beside a closed inlet changes little, whether flow is measured or not", () => {
    const openings = new Map(station.knowledge.openings);
    openings.set("working", {
      bore_m: 0.002,
      boreUncertainty_m: 1e-5,
      coefficient: 0.62,
      coefficientUncertainty: 0.003,
      isCalibrated: true,
    });
    const pinhole = at(working, { suction: 13_880, flow: 0.00029 });
    const onlySuction = {
      ...withoutCurve,
      characteristics: withoutCurve.characteristics.filter(({ point }) => point === "closed"),
    };
    for (const flowFrom of [{ kind: "gauge" }, { kind: "plenum", orifices: openings }] as const) {
      const knowledge = { ...station.knowledge, openings, flowFrom };
      expect(outcome([closed, pinhole, open], onlySuction, knowledge).verdict).toBe("pass");
    }
  });
});
